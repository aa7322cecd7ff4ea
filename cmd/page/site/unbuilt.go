//go:build !page

package site

import "io/fs"

// built is nil: the page's program was not built.
var built fs.FS
