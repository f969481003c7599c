package surface

import (
	"context"

	"mien/asset/mesh"
	"mien/asset/near"
	"mien/asset/terms"
)

// Side is one surface made ready for measuring: indexed for closest points, with normals for the sign
// and its boundary known. Floor and stand are left out. A Side is read-only and may be shared.
type Side struct {
	Mesh  *mesh.Mesh
	Index *near.Index

	normal   []mesh.Vec // angle-weighted unit normal of each position
	across   [][3]int32 // triangle over edge k (corner k to k+1), -1 at a boundary
	boundary []bool     // positions on a boundary edge
	areaM2   float64    // of the indexed triangles
	region   []uint8    // by triangle
	class    []uint8    // by triangle
}

// NewSide prepares m. It returns [near.ErrNoSurface] when m has no triangles besides floor and stand.
// m must not change while the Side is in use.
func NewSide(ctx context.Context, m *mesh.Mesh) (*Side, error) {
	ix, err := near.BuildSome(ctx, m, func(t int) bool { return m.ClassOf(t) != uint8(terms.Stand) })
	if err != nil {
		return nil, err
	}
	s := &Side{Mesh: m, Index: ix, normal: m.VertexNormals(), across: across(m), boundary: make([]bool, len(m.Pos))}
	for t, n := range s.across {
		for k := 0; k < 3; k++ {
			if n[k] < 0 {
				s.boundary[m.Tri[t][k]] = true
				s.boundary[m.Tri[t][(k+1)%3]] = true
			}
		}
	}
	s.region, s.class = make([]uint8, len(m.Tri)), make([]uint8, len(m.Tri))
	for t := range m.Tri {
		s.region[t], s.class[t] = m.LabelOf(t), m.ClassOf(t)
	}
	for _, t := range ix.Order() {
		s.areaM2 += m.TriangleArea(int(t))
	}
	return s, nil
}

// SagMm returns for every position how far, in millimetres, flat triangles about it may lie from the
// curved surface they stand for: the greatest edge*turn/8 of its triangles, turn being the angle
// between the normals at the edge's ends. On features finer than the mesh it is a lower bound.
func (s *Side) SagMm() []float32 {
	m := s.Mesh
	out := make([]float32, len(m.Pos))
	for _, t := range m.Tri {
		var sag float64
		for k := 0; k < 3; k++ {
			a, b := t[k], t[(k+1)%3]
			turn := s.normal[a].Sub(s.normal[b]).Len()
			sag = max(sag, m.At(a).Sub(m.At(b)).Len()*1000*turn/8)
		}
		for _, v := range t {
			out[v] = max(out[v], float32(sag))
		}
	}
	return out
}

// AreaM2 returns the area of the surface without floor and stand.
func (s *Side) AreaM2() float64 { return s.areaM2 }

// across finds for every edge of every triangle the triangle on its other side: -1 at a boundary. Where
// more than two triangles share an edge the first two are paired.
func across(m *mesh.Mesh) [][3]int32 {
	out := make([][3]int32, len(m.Tri))
	start := make([]uint32, len(m.Pos)+1)
	for _, t := range m.Tri {
		for k := 0; k < 3; k++ {
			start[min(t[k], t[(k+1)%3])+1]++
		}
	}
	for i := 1; i < len(start); i++ {
		start[i] += start[i-1]
	}
	half := make([]uint32, 3*len(m.Tri)) // 3*triangle + edge, grouped by the edge's lower end
	fill := append([]uint32(nil), start...)
	for t, tri := range m.Tri {
		out[t] = [3]int32{-1, -1, -1}
		for k := 0; k < 3; k++ {
			lo := min(tri[k], tri[(k+1)%3])
			half[fill[lo]] = uint32(3*t + k)
			fill[lo]++
		}
	}
	upper := func(h uint32) uint32 {
		t := m.Tri[h/3]
		return max(t[h%3], t[(h%3+1)%3])
	}
	for v := range m.Pos {
		group := half[start[v]:start[v+1]]
		for i, h := range group {
			if out[h/3][h%3] >= 0 {
				continue
			}
			for _, g := range group[i+1:] {
				if g/3 != h/3 && out[g/3][g%3] < 0 && upper(g) == upper(h) {
					out[h/3][h%3], out[g/3][g%3] = int32(g/3), int32(h/3)
					break
				}
			}
		}
	}
	return out
}

// pseudonormal returns the direction that decides inside from outside at a closest point: of the face,
// the sum of two faces at an edge, the angle-weighted normal at a corner.
//
// Source: Baerentzen and Aanaes, Signed distance computation using the angle weighted pseudonormal,
// IEEE TVCG 11(3), 2005.
func (s *Side) pseudonormal(h near.Hit) mesh.Vec {
	t := s.Mesh.Tri[h.Tri]
	switch h.On {
	case near.Corner0, near.Corner1, near.Corner2:
		return s.normal[t[h.On-near.Corner0]]
	case near.Edge01, near.Edge12, near.Edge20:
		n := s.Mesh.FaceNormal(int(h.Tri))
		if o := s.across[h.Tri][h.On-near.Edge01]; o >= 0 {
			n = n.Add(s.Mesh.FaceNormal(int(o)))
		}
		return n
	}
	return s.Mesh.FaceNormal(int(h.Tri))
}

// onBoundary reports whether a closest point lies on the rim of an open surface.
func (s *Side) onBoundary(h near.Hit) bool {
	switch h.On {
	case near.Corner0, near.Corner1, near.Corner2:
		return s.boundary[s.Mesh.Tri[h.Tri][h.On-near.Corner0]]
	case near.Edge01, near.Edge12, near.Edge20:
		return s.across[h.Tri][h.On-near.Edge01] < 0
	}
	return false
}

// smoothNormal returns the unit normal interpolated from the corners of triangle t.
func (s *Side) smoothNormal(t uint32, v, w float64) mesh.Vec {
	i := s.Mesh.Tri[t]
	return s.normal[i[0]].Scale(1 - v - w).Add(s.normal[i[1]].Scale(v)).Add(s.normal[i[2]].Scale(w)).Unit()
}
