// Package obj reads and writes OBJ files (.obj) with their material libraries (.mtl) as welded meshes
// with named materials and the names of base colour pictures.
//
// An OBJ file states no unit; positions are in whatever the file's numbers are.
//
// Source: the appendices "Object Files (.obj)" and "MTL material format" of the format's own
// specification, version 3.0 and 4.2, from memory; vertex colours behind the position are common
// practice, no source.
package obj

import (
	"fmt"

	"mien/asset/mesh"
)

// File is one decoded OBJ file.
type File struct {
	Mesh      *mesh.Mesh
	Color     [][3]uint8 // of each position as written, or nil
	Pictures  []string   // base colour file by material index, "" for none, at least one entry
	Libraries []string   // material libraries read, slash-separated, in order of mention
	Lost      []string   // pictures that a material names and that are not there
	Notes     []string   // what a reader of the result should know; no faults
}

// FormatError says that a file breaks its format.
type FormatError struct {
	Name string
	Line int // from 1, or 0 when the fault has no single place
	Text string
}

func (e *FormatError) Error() string {
	if e.Line < 1 {
		return fmt.Sprintf("%s: %s", e.Name, e.Text)
	}
	return fmt.Sprintf("%s:%d: %s", e.Name, e.Line, e.Text)
}

// UnsupportedError says that a file is valid and uses something that this program does not read.
type UnsupportedError struct {
	Name string
	What string
}

func (e *UnsupportedError) Error() string { return fmt.Sprintf("%s: unsupported: %s", e.Name, e.What) }
