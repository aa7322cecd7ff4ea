//go:build page

package site

import (
	"embed"
	"io/fs"
)

//go:embed built
var builtFiles embed.FS

// built is what .ci/build-page.sh made: the program, packed, and what starts it.
var built fs.FS = builtFiles
