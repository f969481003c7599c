package mesh

import "slices"

// Edge is an undirected edge of welded positions, A < B, with the number of triangles that use it.
type Edge struct {
	A, B  uint32
	Count int
}

// Edges returns all edges sorted by (A, B).
func (m *Mesh) Edges() []Edge {
	// Half edges in buckets by their lower end: first counted, then filled in, then each bucket sorted.
	start := make([]uint32, len(m.Pos)+1)
	each := func(f func(a, b uint32)) {
		for _, t := range m.Tri {
			for k := 0; k < 3; k++ {
				if a, b := t[k], t[(k+1)%3]; a < b {
					f(a, b)
				} else if a > b {
					f(b, a)
				}
			}
		}
	}
	each(func(a, _ uint32) { start[a+1]++ })
	for i := 1; i < len(start); i++ {
		start[i] += start[i-1]
	}
	ends := make([]uint32, start[len(m.Pos)])
	next := slices.Clone(start)
	each(func(a, b uint32) {
		ends[next[a]] = b
		next[a]++
	})
	out := make([]Edge, 0, len(ends)/2+1)
	for a := range m.Pos {
		list := ends[start[a]:start[a+1]]
		slices.Sort(list)
		for k, b := range list {
			if k > 0 && b == list[k-1] {
				out[len(out)-1].Count++
				continue
			}
			out = append(out, Edge{uint32(a), b, 1})
		}
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
