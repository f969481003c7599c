package ply

import (
	"bufio"
	"io"
	"io/fs"
	"slices"

	"mien/asset/beside"
)

// References returns the pictures inside dir that the PLY file of r names, in order of first mention,
// each once. One that is not there is left out. A file whose header cannot be read refers to nothing.
func References(r io.Reader, dir fs.FS) []string {
	h, err := readHeader("", bufio.NewReaderSize(r, 64<<10))
	if err != nil {
		return nil
	}
	var out []string
	for _, n := range h.textures {
		if found, ok := beside.Find(dir, ".", n); ok && !slices.Contains(out, found) {
			out = append(out, found)
		}
	}
	return out
}
