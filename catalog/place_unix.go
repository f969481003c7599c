//go:build unix

package catalog

import (
	"io/fs"
	"syscall"
)

// fileNumber returns the number by which the disk knows a file.
func fileNumber(info fs.FileInfo) (uint64, bool) {
	stat, ok := info.Sys().(*syscall.Stat_t)
	if !ok {
		return 0, false
	}
	return uint64(stat.Ino), true
}
