//go:build page

package site

import (
	"embed"
	"io/fs"
)

//go:embed built
var builtFiles embed.FS

// built holds what .ci/build-page.sh made: the compressed program, and what starts it.
var built fs.FS = builtFiles
