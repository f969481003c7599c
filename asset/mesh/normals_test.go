package mesh

import (
	"math"
	"math/rand/v2"
	"testing"
)

// TestNormalsAreAngleWeighted compares with the definition, angle by angle, on random triangles.
func TestNormalsAreAngleWeighted(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	m := &Mesh{Tri: [][3]uint32{{0, 1, 2}, {0, 2, 3}, {3, 1, 0}, {4, 4, 1}}}
	for round := 0; round < 200; round++ {
		m.Pos = nil
		for range 5 {
			m.Pos = append(m.Pos, [3]float32{r.Float32(), r.Float32(), r.Float32()})
		}
		want := make([]Vec, len(m.Pos))
		for f, tri := range m.Tri {
			n := m.FaceNormal(f)
			for k := range 3 {
				p, u, v := m.At(tri[k]), m.At(tri[(k+1)%3]), m.At(tri[(k+2)%3])
				want[tri[k]] = want[tri[k]].Add(n.Scale(angleBetween(u.Sub(p).Unit(), v.Sub(p).Unit())))
			}
		}
		for i, n := range m.VertexNormals() {
			if d := n.Sub(want[i].Unit()).Len(); d > 1e-9 || math.IsNaN(d) {
				t.Fatalf("round %d vertex %d: %v, want %v", round, i, n, want[i].Unit())
			}
		}
	}
}
