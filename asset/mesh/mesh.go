// Package mesh holds triangle meshes on welded positions. Corner attributes (texture coordinates)
// have their own indices, so that topology is decided on connectivity of positions and a seam of the
// atlas is not a boundary of the surface. The package imports nothing of ours.
package mesh

import (
	"fmt"
	"math"
)

// Vec is a point or direction in float64, metres.
type Vec [3]float64

// Mesh is a triangle mesh in metres, right-handed, +Y up, +Z front (the subject's left is +X).
// Positions are welded: no two entries of Pos have equal bits. Triangles wind counter-clockwise
// seen from outside. Slices that a mesh lacks are nil; otherwise lengths are as stated.
type Mesh struct {
	Pos   [][3]float32 // welded positions, n of them
	Tri   [][3]uint32  // m triangles, indices into Pos
	UV    [][2]float32 // texture coordinates, origin at the top left of the image
	TriUV [][3]uint32  // m triples, indices into UV, or nil

	Label []uint8 // region of each position (asset/terms.Region), n of them, or nil

	Material    []uint16 // m material indices into MaterialNames, or nil when there is one or none
	MaterialSet []Material
}

// Material is a named part of a mesh.
type Material struct {
	Name  string
	Class uint8 // asset/terms.Class
}

// At returns position i in float64.
func (m *Mesh) At(i uint32) Vec {
	p := m.Pos[i]
	return Vec{float64(p[0]), float64(p[1]), float64(p[2])}
}

// Corner returns the three corners of triangle t.
func (m *Mesh) Corner(t int) (a, b, c Vec) {
	i := m.Tri[t]
	return m.At(i[0]), m.At(i[1]), m.At(i[2])
}

// MaterialOf returns the material index of triangle t, 0 when the mesh has no per-triangle material.
func (m *Mesh) MaterialOf(t int) int {
	if m.Material == nil {
		return 0
	}
	return int(m.Material[t])
}

// ClassOf returns the surface class (asset/terms.Class) of triangle t, 0 when unknown.
func (m *Mesh) ClassOf(t int) uint8 {
	k := m.MaterialOf(t)
	if k >= len(m.MaterialSet) {
		return 0
	}
	return m.MaterialSet[k].Class
}

// LabelOf returns the region of triangle t: the label that two corners share, else the first corner's.
func (m *Mesh) LabelOf(t int) uint8 {
	if m.Label == nil {
		return 0
	}
	i := m.Tri[t]
	a, b, c := m.Label[i[0]], m.Label[i[1]], m.Label[i[2]]
	if b == c {
		return b
	}
	return a
}

// Clone returns a deep copy.
func (m *Mesh) Clone() *Mesh {
	c := *m
	c.Pos = append([][3]float32(nil), m.Pos...)
	c.Tri = append([][3]uint32(nil), m.Tri...)
	c.UV = append([][2]float32(nil), m.UV...)
	c.TriUV = append([][3]uint32(nil), m.TriUV...)
	c.Label = append([]uint8(nil), m.Label...)
	c.Material = append([]uint16(nil), m.Material...)
	c.MaterialSet = append([]Material(nil), m.MaterialSet...)
	return &c
}

// Check reports the first fault that would make later work meaningless: an index out of range, a
// slice of the wrong length, a NaN or infinite coordinate.
func (m *Mesh) Check() error {
	n := uint32(len(m.Pos))
	for i, p := range m.Pos {
		for k := 0; k < 3; k++ {
			if v := float64(p[k]); math.IsNaN(v) || math.IsInf(v, 0) {
				return fmt.Errorf("vertex %d: coordinate %c is %v, allowed are finite numbers", i, 'x'+rune(k), v)
			}
		}
	}
	for t, tri := range m.Tri {
		for _, i := range tri {
			if i >= n {
				return fmt.Errorf("triangle %d: vertex index %d out of range 0 to %d", t, i, int(n)-1)
			}
		}
	}
	if m.TriUV != nil {
		if len(m.TriUV) != len(m.Tri) {
			return fmt.Errorf("texture coordinates for %d triangles, mesh has %d", len(m.TriUV), len(m.Tri))
		}
		for t, tri := range m.TriUV {
			for _, i := range tri {
				if int(i) >= len(m.UV) {
					return fmt.Errorf("triangle %d: texture coordinate index %d out of range 0 to %d", t, i, len(m.UV)-1)
				}
			}
		}
		for i, u := range m.UV {
			if f := float64(u[0]) + float64(u[1]); math.IsNaN(f) || math.IsInf(f, 0) {
				return fmt.Errorf("texture coordinate %d is not a finite number", i)
			}
		}
	}
	if m.Label != nil && len(m.Label) != len(m.Pos) {
		return fmt.Errorf("region labels for %d vertices, mesh has %d", len(m.Label), len(m.Pos))
	}
	if m.Material != nil {
		if len(m.Material) != len(m.Tri) {
			return fmt.Errorf("materials for %d triangles, mesh has %d", len(m.Material), len(m.Tri))
		}
		for t, k := range m.Material {
			if int(k) >= len(m.MaterialSet) {
				return fmt.Errorf("triangle %d: material %d out of range 0 to %d", t, k, len(m.MaterialSet)-1)
			}
		}
	}
	return nil
}

// Bounds returns the least and greatest coordinates; ok is false for a mesh without positions.
func (m *Mesh) Bounds() (lo, hi Vec, ok bool) {
	if len(m.Pos) == 0 {
		return lo, hi, false
	}
	for k := 0; k < 3; k++ {
		lo[k], hi[k] = math.Inf(1), math.Inf(-1)
	}
	for _, p := range m.Pos {
		for k := 0; k < 3; k++ {
			lo[k] = min(lo[k], float64(p[k]))
			hi[k] = max(hi[k], float64(p[k]))
		}
	}
	return lo, hi, true
}

// Transform maps every position by the column-major affine matrix a (metres) in place. A reflection
// flips the winding, so that triangles keep facing outside.
func (m *Mesh) Transform(a [16]float64) {
	for i := range m.Pos {
		q := Apply(a, m.At(uint32(i)))
		m.Pos[i] = [3]float32{float32(q[0]), float32(q[1]), float32(q[2])}
	}
	det := a[0]*(a[5]*a[10]-a[9]*a[6]) - a[4]*(a[1]*a[10]-a[9]*a[2]) + a[8]*(a[1]*a[6]-a[5]*a[2])
	if det < 0 {
		m.Flip()
	}
}

// Flip reverses the winding of every triangle in place.
func (m *Mesh) Flip() {
	for t := range m.Tri {
		m.Tri[t][1], m.Tri[t][2] = m.Tri[t][2], m.Tri[t][1]
	}
	for t := range m.TriUV {
		m.TriUV[t][1], m.TriUV[t][2] = m.TriUV[t][2], m.TriUV[t][1]
	}
}

// Apply returns a*p for a column-major affine 4x4 matrix.
func Apply(a [16]float64, p Vec) Vec {
	return Vec{
		a[0]*p[0] + a[4]*p[1] + a[8]*p[2] + a[12],
		a[1]*p[0] + a[5]*p[1] + a[9]*p[2] + a[13],
		a[2]*p[0] + a[6]*p[1] + a[10]*p[2] + a[14],
	}
}
