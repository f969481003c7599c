package scan

import (
	"cmp"
	"slices"
	"strings"

	"mien/asset"
)

// Member is one file of a take by what it is for: "mesh", "mesh/data" (a buffer beside the mesh), "mesh/material"
// (an OBJ material library) or "texture/" and a channel. File names do not count: a renamed file is the same file.
type Member struct {
	Role string
	Hash asset.Hash
}

// HashOf returns the hash of a take: BLAKE3 over one line a file, `<role> <64 hex digits>\n`, sorted
// by role and then by hash.
func HashOf(members []Member) asset.Hash {
	m := slices.Clone(members)
	slices.SortFunc(m, func(a, b Member) int {
		return cmp.Or(strings.Compare(a.Role, b.Role), strings.Compare(a.Hash.String(), b.Hash.String()))
	})
	var text strings.Builder
	for _, f := range m {
		text.WriteString(f.Role + " " + f.Hash.String() + "\n")
	}
	return asset.HashBytes([]byte(text.String()))
}
