// Messages lists every text of the program, to be read in one sitting: the strings of two
// or more words in its code, in order, each with its line. Run it with: go run
// .ci/messages.go
package main

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"log"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
)

// worded matches two words with a space between them.
var worded = regexp.MustCompile(`\pL[^ ]* [^ ]*\pL`)

func main() {
	err := filepath.WalkDir(".", func(path string, d fs.DirEntry, err error) error {
		if err == nil && d.IsDir() && strings.HasPrefix(d.Name(), ".") && path != "." {
			return fs.SkipDir
		}
		if err != nil || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return err
		}
		return list(path)
	})
	if err != nil {
		log.Fatal(err)
	}
}

func list(path string) error {
	files := token.NewFileSet()
	file, err := parser.ParseFile(files, path, nil, 0)
	if err != nil {
		return err
	}
	ast.Inspect(file, func(n ast.Node) bool {
		if field, ok := n.(*ast.Field); ok && field.Tag != nil {
			return false
		}
		text, ok := n.(*ast.BasicLit)
		if !ok || text.Kind != token.STRING {
			return true
		}
		if s, err := strconv.Unquote(text.Value); err == nil && worded.MatchString(s) {
			fmt.Printf("%s:%d: %s\n", path, files.Position(text.Pos()).Line, s)
		}
		return true
	})
	return nil
}
