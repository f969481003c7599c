package invent

import "mien/asset/mesh"

// trim moves the rim of a part along the surface onto the line where the part is cut off, so that the
// rim is smooth. A vertex that would have to move by more than two edge lengths stays.
func (k *casting) trim(step float64) {
	edge := k.cut.edge
	if edge == nil {
		return
	}
	f := k.cut.field
	for i, open := range k.rim() {
		if !open {
			continue
		}
		p, n := k.rest[i], k.normal[i]
		for round := 0; round < 3; round++ {
			e := edge(p)
			const h = .5
			g := mesh.Vec{edge(mesh.Vec{p[0] + h, p[1], p[2]}) - e, edge(mesh.Vec{p[0], p[1] + h, p[2]}) - e, edge(mesh.Vec{p[0], p[1], p[2] + h}) - e}.Scale(1 / h)
			g = g.Sub(n.Scale(g.Dot(n)))
			if q := g.Dot(g); q > .05 {
				p, n = f.project(p.Sub(g.Scale(e/q)), 2)
			}
		}
		if p.Sub(k.rest[i]).Len() < 2*step {
			k.rest[i], k.normal[i] = p, n
		}
	}
}

// rim reports for every vertex whether the surface is open there.
func (k *casting) rim() []bool {
	turn := make([]int, len(k.rest))
	for _, t := range k.tri {
		for c := range t {
			a, b := t[c], t[(c+1)%3]
			turn[a] += int(b) + 1
			turn[b] -= int(a) + 1
		}
	}
	open := make([]bool, len(turn))
	for i, v := range turn {
		open[i] = v != 0
	}
	return open
}
