package mesh

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
	for t, tri := range m.Tri {
		p := [3]Vec{m.At(tri[0]), m.At(tri[1]), m.At(tri[2])}
		n := m.FaceNormal(t)
		for k := 0; k < 3; k++ {
			u, v := p[(k+1)%3].Sub(p[k]).Unit(), p[(k+2)%3].Sub(p[k]).Unit()
			out[tri[k]] = out[tri[k]].Add(n.Scale(angleBetween(u, v)))
		}
	}
	for i := range out {
		out[i] = out[i].Unit()
	}
	return out
}
