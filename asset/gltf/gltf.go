// Package gltf reads and writes glTF 2.0 files, binary (.glb) and JSON (.gltf), as welded meshes with
// region labels, named materials and base colour pictures.
//
// Source: glTF 2.0 Specification, The Khronos Group, version 2.0.1 (ISO/IEC 12113:2022), with
// KHR_mesh_quantization and KHR_texture_transform.
package gltf

import (
	"fmt"

	"mien/asset/mesh"
)

// RegionAttribute is the application-specific vertex attribute that holds asset/terms.Region.
const RegionAttribute = "_REGION"

// File is one decoded glTF file.
type File struct {
	Mesh   *mesh.Mesh
	Images []*Image // base colour by material index, at least one entry; nil where a material has none
	Tints  []Tint   // base colour factor by material index, same length as Images
	Beside []string // slash-separated names of the files read beside it, sorted, each once
	Lost   []string // pictures that the file names and that are not there, in order of use
	Notes  []string // what a reader of the result should know; no faults
}

// Image is the encoded base colour picture of a material.
type Image struct {
	Name string
	Mime string // image/png or image/jpeg
	Data []byte
	File string // the file beside the glTF file that holds it, "" when embedded
}

// Tint is a base colour factor in linear light, which multiplies the picture. White is {1, 1, 1}.
type Tint [3]float64

// FormatError says that a file breaks its format.
type FormatError struct {
	Name string
	Byte int64 // offset in the file, or -1 when the fault has no single place
	Text string
}

func (e *FormatError) Error() string {
	if e.Byte < 0 {
		return fmt.Sprintf("%s: %s", e.Name, e.Text)
	}
	return fmt.Sprintf("%s: byte %d: %s", e.Name, e.Byte, e.Text)
}

// UnsupportedError says that a file is valid and uses something that this program does not read.
type UnsupportedError struct {
	Name string
	What string
}

func (e *UnsupportedError) Error() string {
	return fmt.Sprintf("%s: unsupported: %s", e.Name, e.What)
}
