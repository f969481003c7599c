package gltf

import (
	doc "github.com/qmuntal/gltf"
)

// corners returns the vertex indices of a primitive's triangles, three a triangle, all below vertices.
func (d *decoder) corners(p *doc.Primitive, vertices int, what string) ([]uint32, error) {
	var index []uint32
	if p.Indices == nil {
		index = make([]uint32, vertices)
		for i := range index {
			index[i] = uint32(i)
		}
	} else {
		var err error
		if index, err = d.integers(*p.Indices, what+": indices"); err != nil {
			return nil, err
		}
		for k, i := range index {
			if int64(i) >= int64(vertices) {
				return nil, d.fault("%s: vertex index %d at corner %d out of range 0 to %d", what, i, k, vertices-1)
			}
		}
	}
	switch p.Mode {
	case doc.PrimitiveTriangleStrip:
		return strip(index), nil
	case doc.PrimitiveTriangleFan:
		return fan(index), nil
	}
	if len(index)%3 != 0 {
		return nil, d.fault("%s: %d corners, allowed are multiples of 3", what, len(index))
	}
	return index, nil
}

// strip returns the triangles of a strip; every second one is turned, as glTF 2.0 section 3.7.2.1 says.
func strip(index []uint32) []uint32 {
	var out []uint32
	for i := 0; i+2 < len(index); i++ {
		a, b, c := index[i], index[i+1+i%2], index[i+2-i%2]
		if a != b && b != c && c != a {
			out = append(out, a, b, c)
		}
	}
	return out
}

func fan(index []uint32) []uint32 {
	var out []uint32
	for i := 1; i+1 < len(index); i++ {
		out = append(out, index[i], index[i+1], index[0])
	}
	return out
}
