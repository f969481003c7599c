package mesh

import "math"

// TriangleArea returns the area of triangle t in m2.
func (m *Mesh) TriangleArea(t int) float64 {
	a, b, c := m.Corner(t)
	return b.Sub(a).Cross(c.Sub(a)).Len() / 2
}

// Area returns the total area in m2.
func (m *Mesh) Area() float64 {
	var s float64
	for t := range m.Tri {
		s += m.TriangleArea(t)
	}
	return s
}

// Volume returns the signed volume in m3: positive when a closed mesh winds outward. For an open
// mesh the value depends on the origin and means nothing.
func (m *Mesh) Volume() float64 {
	var s float64
	for t := range m.Tri {
		a, b, c := m.Corner(t)
		s += a.Dot(b.Cross(c))
	}
	return s / 6
}

// FaceNormal returns the unit normal of triangle t, zero for a degenerate one.
func (m *Mesh) FaceNormal(t int) Vec {
	a, b, c := m.Corner(t)
	return b.Sub(a).Cross(c.Sub(a)).Unit()
}

// VertexNormals returns the angle-weighted unit normal of every position.
//
// Source: Baerentzen and Aanaes, Signed distance computation using the angle weighted
// pseudonormal, IEEE TVCG 11(3), 2005.
func (m *Mesh) VertexNormals() []Vec {
	out := make([]Vec, len(m.Pos))
	for _, tri := range m.Tri {
		a, b, c := m.At(tri[0]), m.At(tri[1]), m.At(tri[2])
		ab, bc, ca := b.Sub(a).Unit(), c.Sub(b).Unit(), a.Sub(c).Unit()
		n := ab.Cross(ca)
		sin := n.Len()
		if sin == 0 {
			continue
		}
		n = n.Scale(-1 / sin)
		atA := math.Atan2(sin, -ab.Dot(ca))
		atB := angleBetween(ab.Scale(-1), bc)
		out[tri[0]] = out[tri[0]].Add(n.Scale(atA))
		out[tri[1]] = out[tri[1]].Add(n.Scale(atB))
		out[tri[2]] = out[tri[2]].Add(n.Scale(max(0, math.Pi-atA-atB)))
	}
	for i := range out {
		out[i] = out[i].Unit()
	}
	return out
}
