//go:build !unix

package catalog

import "io/fs"

// fileNumber returns false: the number of a file is not to be had from its listing here.
func fileNumber(fs.FileInfo) (uint64, bool) { return 0, false }
