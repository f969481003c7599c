package gltf

import (
	"math"

	"mien/asset/mesh"
)

// finish welds positions and drops what no triangle needs.
func (b *builder) finish() (*mesh.Mesh, error) {
	for i, p := range b.pos {
		if f := float64(p[0]) + float64(p[1]) + float64(p[2]); math.IsNaN(f) || math.IsInf(f, 0) {
			return nil, b.d.fault("vertex %d lies beyond the range of numbers once its node is applied", i)
		}
	}
	unique, index, err := mesh.Weld(b.d.ctx, b.pos)
	if err != nil {
		return nil, err
	}
	label := make([]uint8, len(unique))
	for i := len(index) - 1; i >= 0; i-- {
		if b.label[i] != 0 {
			label[index[i]] = b.label[i]
		}
	}
	kept := 0
	for t, c := range b.tri {
		c = [3]uint32{index[c[0]], index[c[1]], index[c[2]]}
		if c[0] == c[1] || c[1] == c[2] || c[2] == c[0] {
			continue
		}
		b.tri[kept], b.triUV[kept], b.mat[kept] = c, b.triUV[t], b.mat[t]
		kept++
	}
	if n := len(b.tri) - kept; n > 0 {
		b.d.note("%d triangles with two corners at one position left out", n)
	}
	b.tri, b.triUV, b.mat = b.tri[:kept], b.triUV[:kept], b.mat[:kept]
	if kept == 0 {
		return nil, b.d.fault("no triangles")
	}
	m := &mesh.Mesh{Pos: unique, Tri: b.tri}
	if b.anyReg {
		m.Label = label
	}
	compact(m)
	b.finishUV(m)
	return m, b.finishMaterials(m)
}

// compact drops positions that no triangle uses.
func compact(m *mesh.Mesh) {
	place := make([]uint32, len(m.Pos))
	for _, t := range m.Tri {
		place[t[0]], place[t[1]], place[t[2]] = 1, 1, 1
	}
	n := uint32(0)
	for i, use := range place {
		if use == 0 {
			continue
		}
		place[i] = n
		m.Pos[n] = m.Pos[i]
		if m.Label != nil {
			m.Label[n] = m.Label[i]
		}
		n++
	}
	m.Pos = m.Pos[:n]
	if m.Label != nil {
		m.Label = m.Label[:n]
	}
	for t := range m.Tri {
		for k := range m.Tri[t] {
			m.Tri[t][k] = place[m.Tri[t][k]]
		}
	}
}

// finishUV sets texture coordinates; triangles without any share one more at the origin.
func (b *builder) finishUV(m *mesh.Mesh) {
	if !b.anyUV {
		return
	}
	none, bare := uint32(len(b.uv)), 0
	for t := range b.triUV {
		if b.triUV[t][0] == noUV {
			b.triUV[t] = [3]uint32{none, none, none}
			bare++
		}
	}
	if bare > 0 {
		b.uv = append(b.uv, [2]float32{})
		b.d.note("%d triangles have no texture coordinates", bare)
	}
	m.UV, m.TriUV = b.uv, b.triUV
}

// finishMaterials numbers the materials in use.
func (b *builder) finishMaterials(m *mesh.Mesh) error {
	count := len(b.d.doc.Materials)
	inUse := make([]bool, count+1)
	for _, k := range b.mat {
		if k < 0 {
			k = int32(count)
		}
		inUse[k] = true
	}
	place := make([]uint16, count+1)
	for k, use := range inUse {
		if !use {
			continue
		}
		if len(b.used) > math.MaxUint16 {
			return b.d.unsupported("%d materials, read are up to %d", count, math.MaxUint16+1)
		}
		place[k] = uint16(len(b.used))
		id := int32(k)
		if k == count {
			id = -1
		}
		b.used = append(b.used, id)
	}
	if len(b.used) < 2 {
		return nil
	}
	m.Material = make([]uint16, len(b.mat))
	for t, k := range b.mat {
		if k < 0 {
			k = int32(count)
		}
		m.Material[t] = place[k]
	}
	return nil
}
