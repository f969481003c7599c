package ply

import (
	"bufio"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"strings"

	"mien/asset/mesh"
)

// Options says what [Encode] writes besides the mesh.
type Options struct {
	Color    [][3]uint8 // of each position, or nil
	Pictures []string   // names of base colour files by material index, "" for none
}

// Encode writes m as binary little-endian PLY: positions, colours where given, faces, and with them the
// texture coordinates of their corners and the number of their picture where m has those. Decoding
// gives positions and triangles back as they are, v of a texture coordinate to 6e-8. Same arguments
// give the same bytes.
//
// It returns an error for a mesh that [mesh.Mesh.Check] refuses, one that has no triangles, and a name
// that PLY cannot hold.
func Encode(w io.Writer, m *mesh.Mesh, o Options) error {
	if err := m.Check(); err != nil {
		return fmt.Errorf("encode PLY: %w", err)
	}
	if len(m.Tri) == 0 {
		return fmt.Errorf("encode PLY: no triangles")
	}
	if o.Color != nil && len(o.Color) != len(m.Pos) {
		return fmt.Errorf("encode PLY: %d colours for %d vertices", len(o.Color), len(m.Pos))
	}
	b := bufio.NewWriterSize(w, 256<<10)
	b.WriteString("ply\nformat binary_little_endian 1.0\n")
	for _, n := range o.Pictures {
		if n != strings.TrimSpace(n) || strings.ContainsAny(n, "\n\r") {
			return fmt.Errorf("encode PLY: name %q, allowed are names on one line", n)
		}
		fmt.Fprintf(b, "comment TextureFile %s\n", n)
	}
	fmt.Fprintf(b, "element vertex %d\nproperty float x\nproperty float y\nproperty float z\n", len(m.Pos))
	if o.Color != nil {
		b.WriteString("property uchar red\nproperty uchar green\nproperty uchar blue\n")
	}
	fmt.Fprintf(b, "element face %d\nproperty list uchar int vertex_indices\n", len(m.Tri))
	if m.TriUV != nil {
		b.WriteString("property list uchar float texcoord\n")
	}
	if m.Material != nil {
		b.WriteString("property int texnumber\n")
	}
	b.WriteString("end_header\n")
	var row []byte
	float := func(x float32) { row = binary.LittleEndian.AppendUint32(row, math.Float32bits(x)) }
	for i, p := range m.Pos {
		row = row[:0]
		for _, x := range p {
			float(x)
		}
		if o.Color != nil {
			row = append(row, o.Color[i][0], o.Color[i][1], o.Color[i][2])
		}
		b.Write(row)
	}
	for t, tri := range m.Tri {
		row = append(row[:0], 3)
		for _, i := range tri {
			row = binary.LittleEndian.AppendUint32(row, i)
		}
		if m.TriUV != nil {
			row = append(row, 6)
			for _, i := range m.TriUV[t] {
				float(m.UV[i][0])
				float(float32(1 - float64(m.UV[i][1])))
			}
		}
		if m.Material != nil {
			row = binary.LittleEndian.AppendUint32(row, uint32(m.Material[t]))
		}
		b.Write(row)
	}
	return b.Flush()
}
