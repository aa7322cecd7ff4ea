package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"maps"
	"net"
	"net/http"
	"os"
	"os/signal"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"tallywink.example/blink/sheet"
	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/plant"
	"tallywink.example/channelplan/plant/demo"
	"tallywink.example/channelplan/table"
	"tallywink.example/cmd/page/site"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/cmd/tallywink/input"
	"tallywink.example/cmd/tallywink/screen"
)

var pageCommand = command{
	name:    "page",
	summary: "write the page for phones, or serve it to try it out",
	help: `  tallywink page www --lineup demo --amps demo   the folder for a web server
  tallywink page --serve localhost:8080          a try, on this machine only

The page reads lamps through a phone's camera. Once opened, it needs no network.
Put the folder on a web server with https: without it, phones block the camera.
What you give with --lineup, --amps and --sheet goes into the page, and whoever
can open the page can read it. Readings stay on the phone.

--serve is for this machine only. To let others in, name the address they use:
--serve 0.0.0.0:8080. Over plain http, only this machine can use the camera.
`,
	setup: func(flags *pflag.FlagSet) func(*console.Console, []string) (int, error) {
		p := &paging{}
		flags.StringVar(&p.serve, "serve", "", "serve the page at this `ADDRESS`, such as localhost:8080, until Ctrl-C")
		flags.StringVar(&p.lineup, "lineup", "", "put this lineup in, a CSV `FILE`, or demo")
		flags.StringVar(&p.amps, "amps", "", "put this inventory of amplifiers in, a CSV `FILE`, or demo")
		flags.StringVar(&p.sheet, "sheet", "", "put this code sheet in, a `FILE`, or curlew")
		return p.run
	},
}

type paging struct{ serve, lineup, amps, sheet string }

func (p *paging) run(out *console.Console, args []string) (int, error) {
	if (len(args) == 1) == (p.serve != "") || len(args) > 1 {
		return 0, misuse("for instance: tallywink page www, or tallywink page --serve localhost:8080",
			"name one folder for the page, or an address to serve it at")
	}
	system, err := p.system(out)
	if err != nil {
		return 0, err
	}
	files, err := site.Files(system)
	if errors.Is(err, site.ErrNoProgram) {
		return 0, misuse("in the checkout run .ci/build-page.sh, then: go build -tags page ./cmd/tallywink", "%v", err)
	}
	if err != nil {
		return 0, err
	}
	if p.serve != "" {
		return exitWell, servePage(out, p.serve, files)
	}
	return exitWell, writePage(out, args[0], files)
}

// system reads the files that are put into the page. Files that can't be used there are
// reported here.
func (p *paging) system(out *console.Console) ([]site.File, error) {
	var files []site.File
	for _, path := range []string{p.lineup, p.amps} {
		if path == "-" || path != demo.Name && slices.Contains(demo.Lineups(), path) {
			return nil, misuse("name a file, or demo", "you can't put %s in the page", path)
		}
	}
	if p.lineup != "" {
		if _, err := input.LoadLineup(out, p.lineup); err != nil {
			return nil, err
		}
		f, err := putIn("lineup", p.lineup)
		if err != nil {
			return nil, err
		}
		files = append(files, f)
	}
	if p.amps != "" {
		f, err := putIn("amps", p.amps)
		if err != nil {
			return nil, err
		}
		if f.Text != "" {
			if _, err := plant.Read(strings.NewReader(f.Text), p.amps); err != nil {
				return nil, err
			}
		}
		files = append(files, f)
	}
	if p.sheet != "" && p.sheet != sheet.TallyName {
		if _, err := input.LoadSheet(p.sheet); err != nil {
			return nil, err
		}
		if text, builtIn := sheet.Text(p.sheet); builtIn {
			return append(files, site.File{Kind: "sheet", Name: p.sheet, Text: text}), nil
		}
		f, err := putIn("sheet", p.sheet)
		if err != nil {
			return nil, err
		}
		files = append(files, f)
	}
	return files, nil
}

// putIn reads a file to put into the page; the demo is in every page.
func putIn(kind, path string) (site.File, error) {
	if path == demo.Name {
		return site.File{Kind: kind, Name: path}, nil
	}
	in, err := table.OpenSteady(path)
	if err != nil {
		return site.File{}, err
	}
	defer in.Close()
	const most = 64 << 20 // the same limit as in the page itself
	text, err := io.ReadAll(table.Limit(in, most, "a file in the page"))
	if err != nil {
		return site.File{}, fault.In(path, err, "is this the right file?")
	}
	return site.File{Kind: kind, Name: filepath.Base(path), Text: string(text)}, nil
}

// writePage writes the page's files to a folder of its own.
func writePage(out *console.Console, folder string, files map[string][]byte) error {
	entries, err := os.ReadDir(folder)
	switch {
	case errors.Is(err, os.ErrNotExist):
		err = os.MkdirAll(folder, 0o777)
	case err == nil:
		for _, e := range entries {
			if _, own := files[e.Name()]; !own {
				return misuse("name a folder that is new, empty or holds an older page",
					"%s has something in it that is not part of the page: %s", folder, e.Name())
			}
		}
	}
	if err != nil {
		return &fault.Error{File: folder, Text: "the folder can't be made or read: " + err.Error(),
			Hint: "name another"}
	}
	total := 0
	for _, name := range slices.Sorted(maps.Keys(files)) {
		if err := (console.File{Path: filepath.Join(folder, name), Data: files[name]}).Write(); err != nil {
			return err
		}
		total += len(files[name])
	}
	out.Line("%s: %d files, %.1f MB. Put the folder on a web server that has https, open", console.Shown(folder),
		len(files), float64(total)/(1<<20))
	out.Line("it on the phone once, and add it to the home screen. From then on it needs no network.")
	return nil
}

// servePage serves the page until it is stopped.
func servePage(out *console.Console, address string, files map[string][]byte) error {
	host, port, err := net.SplitHostPort(address)
	if err != nil {
		return misuse("write it like localhost:8080", "--serve %s is not an address: %v", address, err)
	}
	if host == "" {
		host = "localhost" // other machines get access only on request
	}
	listener, err := net.Listen("tcp", net.JoinHostPort(host, port))
	if err != nil {
		return misuse("try another port", "--serve %s: %v", address, err)
	}
	ctx, stop := signal.NotifyContext(context.Background(), screen.StopSignals...)
	defer stop()
	out.Line("Open http://%s in a browser. Ctrl-C ends it.", listener.Addr())
	if ip := listener.Addr().(*net.TCPAddr).IP; !ip.IsLoopback() {
		out.Line("Other machines can open it too. Their browsers block the camera without https.")
	}
	if err := out.Flush(); err != nil {
		return err
	}
	server := &http.Server{Handler: site.Handler(files), ReadHeaderTimeout: 10 * time.Second}
	go func() {
		<-ctx.Done()
		server.Close()
	}()
	if err := server.Serve(listener); !errors.Is(err, http.ErrServerClosed) {
		return fmt.Errorf("the page can't be served any more: %w", err)
	}
	return nil
}
