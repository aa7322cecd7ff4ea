// Package site holds the page as files: what a browser loads, including the program if
// that was built. It writes them to a folder and serves them.
package site

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"mime"
	"net/http"
	"path"
	"slices"
	"strings"
)

//go:embed static
var static embed.FS

// ErrNoProgram is the error of [Files] if the page's program was not built in.
var ErrNoProgram = errors.New("this tallywink was built without the page")

// File is a file that is put into the page: its kind (lineup, amps or sheet), its name,
// and its text; the demo has no text.
type File struct {
	Kind string `json:"kind"`
	Name string `json:"name"`
	Text string `json:"text,omitempty"`
}

// Files returns all files of the page by name, with a system put in. The error is
// [ErrNoProgram] if the page's program was not built in.
func Files(system []File) (map[string][]byte, error) {
	all := map[string][]byte{}
	for _, from := range []fs.FS{static, built} {
		if from == nil {
			return nil, ErrNoProgram
		}
		err := fs.WalkDir(from, ".", func(name string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() {
				return err
			}
			data, err := fs.ReadFile(from, name)
			all[path.Base(name)] = data
			return err
		})
		if err != nil {
			return nil, err
		}
	}
	if system == nil {
		system = []File{}
	}
	text, err := json.Marshal(map[string]any{"files": system})
	if err != nil {
		return nil, err
	}
	all["system.json"] = text
	// A browser recognizes a newer page by its version.
	sum := sha256.New()
	for _, name := range slices.Sorted(maps.Keys(all)) {
		fmt.Fprintf(sum, "%s %d\n", name, len(all[name]))
		sum.Write(all[name])
	}
	version := "tallywink-" + hex.EncodeToString(sum.Sum(nil))[:16]
	all["sw.js"] = bytes.Replace(all["sw.js"], []byte("'unwritten'"), []byte("'"+version+"'"), 1)
	return all, nil
}

// policy limits the page to its own files.
const policy = "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self'; img-src 'self' blob:; media-src 'self' blob:; connect-src 'self'; worker-src 'self'; manifest-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

// Handler serves the files, and nothing else.
func Handler(files map[string][]byte) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		name := strings.TrimPrefix(path.Clean("/"+r.URL.Path), "/")
		if name == "" {
			name = "index.html"
		}
		data, ok := files[name]
		switch {
		case r.Method != http.MethodGet && r.Method != http.MethodHead:
			http.Error(w, "only GET", http.StatusMethodNotAllowed)
			return
		case !ok:
			http.NotFound(w, r)
			return
		}
		kind := mime.TypeByExtension(path.Ext(name))
		switch path.Ext(name) {
		case ".webmanifest":
			kind = "application/manifest+json"
		case ".gz":
			kind = "application/gzip"
		case ".js":
			kind = "text/javascript; charset=utf-8"
		}
		h := w.Header()
		h.Set("Content-Type", kind)
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cache-Control", "no-cache")
		w.Write(data)
	})
}
