//go:build !page

package site

import "io/fs"

// built is nothing: the page's program was not built.
var built fs.FS
