package mesh

import "sort"

// Edge is an undirected edge of welded positions, A < B, with the number of triangles that use it.
type Edge struct {
	A, B  uint32
	Count int
}

// Edges returns all edges sorted by (A, B).
func (m *Mesh) Edges() []Edge {
	type half struct{ a, b uint32 }
	h := make([]half, 0, 3*len(m.Tri))
	for _, t := range m.Tri {
		for k := 0; k < 3; k++ {
			a, b := t[k], t[(k+1)%3]
			if a == b {
				continue
			}
			if a > b {
				a, b = b, a
			}
			h = append(h, half{a, b})
		}
	}
	sort.Slice(h, func(i, j int) bool {
		if h[i].a != h[j].a {
			return h[i].a < h[j].a
		}
		return h[i].b < h[j].b
	})
	var out []Edge
	for _, e := range h {
		if n := len(out); n > 0 && out[n-1].A == e.a && out[n-1].B == e.b {
			out[n-1].Count++
			continue
		}
		out = append(out, Edge{e.a, e.b, 1})
	}
	return out
}

// BoundaryVertices reports for every position whether it lies on an edge used by one triangle only.
func (m *Mesh) BoundaryVertices() []bool {
	out := make([]bool, len(m.Pos))
	for _, e := range m.Edges() {
		if e.Count == 1 {
			out[e.A], out[e.B] = true, true
		}
	}
	return out
}

// Components returns for every triangle the number of its connected component (through shared
// positions), numbered in order of first appearance, and the count of components.
func (m *Mesh) Components() (of []int, count int) {
	parent := make([]uint32, len(m.Pos))
	for i := range parent {
		parent[i] = uint32(i)
	}
	find := func(i uint32) uint32 {
		for parent[i] != i {
			parent[i] = parent[parent[i]]
			i = parent[i]
		}
		return i
	}
	for _, t := range m.Tri {
		a := find(t[0])
		for k := 1; k < 3; k++ {
			if b := find(t[k]); b != a {
				if b < a {
					a, b = b, a
				}
				parent[b] = a
			}
		}
	}
	number := make(map[uint32]int)
	of = make([]int, len(m.Tri))
	for i, t := range m.Tri {
		r := find(t[0])
		n, ok := number[r]
		if !ok {
			n = len(number)
			number[r] = n
		}
		of[i] = n
	}
	return of, len(number)
}
