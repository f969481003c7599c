// Package ply reads and writes PLY files (.ply), text and binary of either byte order, as welded meshes
// with vertex colours, texture coordinates and the names of base colour pictures.
//
// A PLY file states no unit; positions are in whatever the file's numbers are.
//
// Source: The PLY Polygon File Format, Greg Turk, 1994, from memory. Names of properties beyond its
// examples (texture coordinates, "TextureFile") are common practice, no source.
package ply

import (
	"fmt"

	"mien/asset/mesh"
)

// File is one decoded PLY file.
type File struct {
	Mesh     *mesh.Mesh
	Color    [][3]uint8 // of each position as written, or nil
	Pictures []string   // base colour file by material index, "" for none, at least one entry
	Lost     []string   // pictures that the file names and that are not there
	Notes    []string   // what a reader of the result should know; no faults
}

// FormatError says that a file breaks its format.
type FormatError struct {
	Name string
	Line int   // of a text, from 1; 0 in binary data
	Byte int64 // of binary data, or -1 when the fault has no single place
	Text string
}

func (e *FormatError) Error() string {
	switch {
	case e.Line > 0:
		return fmt.Sprintf("%s:%d: %s", e.Name, e.Line, e.Text)
	case e.Byte >= 0:
		return fmt.Sprintf("%s: byte %d: %s", e.Name, e.Byte, e.Text)
	}
	return fmt.Sprintf("%s: %s", e.Name, e.Text)
}

// UnsupportedError says that a file is valid and uses something that this program does not read.
type UnsupportedError struct {
	Name string
	What string
}

func (e *UnsupportedError) Error() string { return fmt.Sprintf("%s: unsupported: %s", e.Name, e.What) }
