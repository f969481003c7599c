package mesh

import (
	"math/rand/v2"
	"slices"
	"testing"
)

// TestEdgesAgainstCounting compares with a map on random triangles, degenerate ones among them.
func TestEdgesAgainstCounting(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for range 50 {
		m := &Mesh{Pos: make([][3]float32, 12)}
		for range 30 {
			m.Tri = append(m.Tri, [3]uint32{uint32(r.IntN(12)), uint32(r.IntN(12)), uint32(r.IntN(12))})
		}
		count := map[[2]uint32]int{}
		for _, tri := range m.Tri {
			for k := range 3 {
				a, b := tri[k], tri[(k+1)%3]
				if a != b {
					count[[2]uint32{min(a, b), max(a, b)}]++
				}
			}
		}
		got := m.Edges()
		if len(got) != len(count) {
			t.Fatalf("%d edges, want %d", len(got), len(count))
		}
		for i, e := range got {
			if e.Count != count[[2]uint32{e.A, e.B}] {
				t.Errorf("edge %v, want count %d", e, count[[2]uint32{e.A, e.B}])
			}
			if i > 0 && slices.Compare([]uint32{got[i-1].A, got[i-1].B}, []uint32{e.A, e.B}) >= 0 {
				t.Errorf("edge %v out of order", e)
			}
		}
	}
}
