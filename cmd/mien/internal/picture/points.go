package picture

import (
	"cmp"
	"math"
	"slices"
	"sort"

	"mien/asset/mesh"
)

// Points are measured values scattered over a surface.
type Points struct {
	radius   float64 // metres
	greatest float64

	cell   []uint64 // sorted
	pos    [][3]float32
	normal [][3]float32 // or nil
	value  []float32
}

// NewPoints makes values at positions (metres) ready for lookup. The value shown at a place is the mean
// of those within spacingM times 2.2, nearer ones weighing more, on surface that faces the same way
// where normals are given. A value that is not a number was not measured. Arguments are not kept.
func NewPoints(pos, normal [][3]float32, value []float32, spacingM float64) *Points {
	p := &Points{radius: 2.2 * max(spacingM, 1e-6)}
	type entry struct {
		cell uint64
		i    int
	}
	order := make([]entry, len(pos))
	for i, q := range pos {
		order[i] = entry{p.cellOf(float64(q[0]), float64(q[1]), float64(q[2])), i}
		if v := math.Abs(float64(value[i])); v > p.greatest {
			p.greatest = v
		}
	}
	slices.SortFunc(order, func(a, b entry) int { return cmp.Or(cmp.Compare(a.cell, b.cell), cmp.Compare(a.i, b.i)) })
	for _, e := range order {
		p.cell = append(p.cell, e.cell)
		p.pos = append(p.pos, pos[e.i])
		p.value = append(p.value, value[e.i])
		if normal != nil {
			p.normal = append(p.normal, normal[e.i])
		}
	}
	return p
}

const cellBits, cellBias = 21, 1 << 20

func (p *Points) cellOf(x, y, z float64) uint64 {
	n := func(v float64) uint64 {
		return uint64(min(max(int64(math.Floor(v/p.radius))+cellBias, 1), 1<<cellBits-2))
	}
	return n(z)<<(2*cellBits) | n(y)<<cellBits | n(x)
}

// At returns the value at place q with normal n, NaN where most of what is near was not measured or
// nothing is near.
func (p *Points) At(q, n mesh.Vec) float64 {
	centre := p.cellOf(q[0], q[1], q[2])
	var sum, seen, unseen float64
	for dz := -1; dz <= 1; dz++ {
		for dy := -1; dy <= 1; dy++ {
			row := uint64(int64(centre) + int64(dz)<<(2*cellBits) + int64(dy)<<cellBits)
			lo := sort.Search(len(p.cell), func(i int) bool { return p.cell[i] >= row-1 })
			for i := lo; i < len(p.cell) && p.cell[i] <= row+1; i++ {
				d := mesh.Vec{float64(p.pos[i][0]), float64(p.pos[i][1]), float64(p.pos[i][2])}.Sub(q)
				r := d.Dot(d) / (p.radius * p.radius)
				if r >= 1 {
					continue
				}
				if p.normal != nil && float64(p.normal[i][0])*n[0]+float64(p.normal[i][1])*n[1]+float64(p.normal[i][2])*n[2] < 0.3 {
					continue
				}
				w := (1 - r) * (1 - r)
				if v := float64(p.value[i]); v == v {
					sum += w * v
					seen += w
				} else {
					unseen += w
				}
			}
		}
	}
	if seen <= unseen {
		return math.NaN()
	}
	return sum / seen
}
