package gltf

import (
	"encoding/binary"

	doc "github.com/qmuntal/gltf"
)

// triangles returns the vertex indices of a primitive's triangles, all below vertices.
func (d *decoder) triangles(p *doc.Primitive, vertices int, what string) ([][3]uint32, error) {
	if p.Indices != nil && p.Mode == doc.PrimitiveTriangles {
		if out, ok, err := d.plainTriangles(*p.Indices, vertices, what+": indices"); ok || err != nil {
			return out, err
		}
	}
	corners, err := d.corners(p, vertices, what)
	if err != nil {
		return nil, err
	}
	out := make([][3]uint32, len(corners)/3)
	for t := range out {
		out[t] = [3]uint32(corners[3*t:])
	}
	return out, nil
}

// plainTriangles reads accessor i when it holds packed 32-bit indices of whole triangles in range.
func (d *decoder) plainTriangles(i, vertices int, what string) (out [][3]uint32, ok bool, err error) {
	e, err := d.accessor(i, what)
	if err != nil || e.comps != 1 || e.kind != doc.ComponentUint || e.stride != 4 || e.data == nil || e.sparse != nil || e.count%3 != 0 {
		return nil, false, err
	}
	if err := d.spend(e.count); err != nil {
		return nil, false, err
	}
	out = make([][3]uint32, e.count/3)
	top := uint32(0)
	for t := range out {
		b := e.data[12*t : 12*t+12]
		c := [3]uint32{binary.LittleEndian.Uint32(b), binary.LittleEndian.Uint32(b[4:]), binary.LittleEndian.Uint32(b[8:])}
		out[t], top = c, max(top, c[0], c[1], c[2])
	}
	if int64(top) >= int64(vertices) {
		d.numbers -= e.count
		return nil, false, d.ctx.Err()
	}
	return out, true, d.ctx.Err()
}

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
