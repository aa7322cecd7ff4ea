package input

import (
	"fmt"

	"github.com/spf13/pflag"

	"tallywink.example/blink"
	"tallywink.example/blink/sheet"
	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/wording"
)

// DeclareSheet declares the flag that gives the code that a lamp uses.
func DeclareSheet(flags *pflag.FlagSet, into *string) {
	flags.StringVar(into, "sheet", sheet.TallyName,
		"the lamp's code, a code sheet `FILE`, or tally (default) or curlew")
}

// LoadSheet loads a code sheet that must be usable.
func LoadSheet(path string) (*blink.Code, error) {
	if path == "-" {
		return nil, Misuse("save it to a file, and name the file",
			"a code sheet must be a file, but - is standard input")
	}
	code, problems, err := sheet.Open(path)
	if err != nil || len(problems) == 0 {
		return code, err
	}
	p := problems[0]
	hint := HintOf(&p)
	if n := len(problems); n > 1 {
		hint += fmt.Sprintf("; and %s: 'tallywink sheet %s' shows all",
			wording.Counted(n-1, "more problem", "more problems"), path)
	}
	p.File, p.Hint, p.Act = path, hint, fault.NoAct
	return nil, &p
}
