package gltf

import (
	"cmp"
	"slices"

	"mien/asset/mesh"
	"mien/asset/soup"
)

type vector interface{ [2]float32 | [3]float32 }

// numbered holds an accessor's vectors and the place that each has in the mesh.
type numbered[V vector] struct {
	v []V

	// Where all are in use their places follow one another from base on. Else each has its own, which
	// holds when its turn is that of the user.
	whole  bool
	base   uint32
	turn   []uint32
	place  []uint32
	wanted []wanted

	now uint32 // the turn in which places were given
}

// wanted is a vertex that needs a place.
type wanted struct {
	vertex uint32
	region uint8
}

// places writes to out the places of the corners in tri, which may be the same slice.
func (n *numbered[V]) places(tri, out [][3]uint32) {
	switch {
	case n.whole && n.base == 0:
		copy(out, tri)
	case n.whole:
		for t, c := range tri {
			out[t] = [3]uint32{c[0] + n.base, c[1] + n.base, c[2] + n.base}
		}
	default:
		for t, c := range tri {
			out[t] = [3]uint32{n.place[c[0]], n.place[c[1]], n.place[c[2]]}
		}
	}
}

// want remembers the vertices of triangles that have no place in this turn.
func (n *numbered[V]) want(tri [][3]uint32, turn uint32, region []float32) {
	if n.turn == nil {
		n.turn, n.place = make([]uint32, len(n.v)), make([]uint32, len(n.v))
	}
	for _, t := range tri {
		for _, c := range t {
			if n.turn[c] == turn {
				continue
			}
			n.turn[c] = turn
			w := wanted{vertex: c}
			if region != nil {
				w.region = uint8(region[c])
			}
			n.wanted = append(n.wanted, w)
		}
	}
}

// takeWanted returns the remembered vertices in rising order and forgets them.
func (n *numbered[V]) takeWanted() []wanted {
	w := n.wanted
	n.wanted = nil
	slices.SortFunc(w, func(a, b wanted) int { return cmp.Compare(a.vertex, b.vertex) })
	return w
}

// usesAll reports whether the triangles have corners at all of n vertices.
func usesAll(n int, lists ...[][3]uint32) bool {
	corners := 0
	for _, l := range lists {
		corners += 3 * len(l)
	}
	if corners < n {
		return false
	}
	used := make([]bool, n)
	for _, l := range lists {
		for _, t := range l {
			used[t[0]], used[t[1]], used[t[2]] = true, true, true
		}
	}
	return !slices.Contains(used, false)
}

// number gives every vertex and texture coordinate that parts use a place in the mesh: accessor by
// accessor, and within one in the file's order. No node moves a texture coordinate, so that these
// keep their places from one instance of a mesh to the next.
func (b *builder) number(in instance, parts []*part) error {
	for i, p := range parts {
		if p.pos.now != b.turn {
			p.pos.now = b.turn
			if err := b.numberPositions(in, parts[i:], p.pos); err != nil {
				return err
			}
		}
		if p.uv != nil && p.uv.now != b.turn {
			p.uv.now = b.turn
			b.numberCoordinates(parts[i:], p.uv)
		}
	}
	return nil
}

func (b *builder) numberPositions(in instance, parts []*part, n *numbered[[3]float32]) error {
	var users []*part
	var lists [][][3]uint32
	alike := true
	for _, p := range parts {
		if p.pos == n {
			users, lists = append(users, p), append(lists, p.tri)
			alike = alike && len(p.region) == len(users[0].region) && (p.region == nil || &p.region[0] == &users[0].region[0])
		}
	}
	first := len(b.soup.Pos)
	if n.whole = alike && usesAll(len(n.v), lists...); n.whole {
		n.base = uint32(first)
		if first == 0 {
			b.soup.Pos = n.v
		} else {
			b.soup.Pos = append(b.soup.Pos, n.v...)
		}
		if region := users[0].region; region != nil {
			b.startLabels(first)
			for _, r := range region {
				b.soup.Label = append(b.soup.Label, uint8(r))
			}
		}
	} else {
		for _, p := range users {
			n.want(p.tri, b.turn, p.region)
			if p.region != nil {
				b.startLabels(first)
			}
		}
		for _, w := range n.takeWanted() {
			n.place[w.vertex] = uint32(len(b.soup.Pos))
			b.soup.Pos = append(b.soup.Pos, n.v[w.vertex])
			if b.soup.Label != nil {
				b.soup.Label = append(b.soup.Label, w.region)
			}
		}
	}
	if b.soup.Label != nil {
		b.startLabels(len(b.soup.Pos))
	}
	return b.move(in, first)
}

// startLabels says that positions up to n without a label have none.
func (b *builder) startLabels(n int) {
	if short := n - len(b.soup.Label); short > 0 {
		b.soup.Label = append(b.soup.Label, make([]uint8, short)...)
	}
}

// move places positions from first on in the world.
func (b *builder) move(in instance, first int) error {
	if in.matrix == identity {
		return nil
	}
	if first == 0 {
		b.soup.Pos = slices.Clone(b.soup.Pos)
	}
	for i := first; i < len(b.soup.Pos); i++ {
		p := b.soup.Pos[i]
		q := mesh.Apply(in.matrix, mesh.Vec{float64(p[0]), float64(p[1]), float64(p[2])})
		p = [3]float32{float32(q[0]), float32(q[1]), float32(q[2])}
		if p[0]-p[0] != 0 || p[1]-p[1] != 0 || p[2]-p[2] != 0 {
			return b.d.fault("vertex %d lies beyond the range of numbers once its node is applied", i)
		}
		b.soup.Pos[i] = p
	}
	return nil
}

func (b *builder) numberCoordinates(parts []*part, n *numbered[[2]float32]) {
	if n.whole {
		return
	}
	var lists [][][3]uint32
	for _, p := range parts {
		if p.uv == n {
			lists = append(lists, p.tri)
		}
	}
	if n.turn == nil && usesAll(len(n.v), lists...) {
		n.whole, n.base = true, uint32(len(b.soup.UV))
		if n.base == 0 {
			b.soup.UV = n.v
		} else {
			b.soup.UV = append(b.soup.UV, n.v...)
		}
		return
	}
	for _, tri := range lists {
		n.want(tri, 1, nil)
	}
	for _, w := range n.takeWanted() {
		n.place[w.vertex] = uint32(len(b.soup.UV))
		b.soup.UV = append(soup.Room(b.soup.UV), n.v[w.vertex])
	}
}
