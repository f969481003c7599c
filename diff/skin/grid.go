// Package skin separates detail of the skin (ink, scars, marks) from its tint: it looks at each sample
// of a surface against the robust colour of the skin around it, so that light and tan cancel.
package skin

import (
	"context"

	"mien/asset/near"
)

// Grid finds the samples near a sample on one surface. Cells are cubes; samples of one cell lie
// together in order. It is read-only after [NewGrid] and safe for concurrent readers.
type Grid struct {
	pos, normal [][3]float32
	cellM       float64
	keys        []uint64 // by slot, +1; 0 is an empty slot
	slot        []int32  // slot -> cell
	cellKey     []uint64
	start       []int32 // cell -> first entry of order; one more than cells
	order       []uint32
}

// coordBits is the width of one packed cell coordinate: 2^21 cells of 1 mm are 2 km.
const coordBits = 21

const coordBias = 1 << (coordBits - 1)

func pack(x, y, z int) uint64 {
	return uint64(x+coordBias)<<(2*coordBits) | uint64(y+coordBias)<<coordBits | uint64(z+coordBias)
}

func unpack(k uint64) (x, y, z int) {
	const m = 1<<coordBits - 1
	return int(k>>(2*coordBits)&m) - coordBias, int(k>>coordBits&m) - coordBias, int(k&m) - coordBias
}

// NewGrid returns a grid of cells with edges of cellM metres over pos. Normals are unit and as many
// as positions; both are kept, not copied. Cost: O(n).
func NewGrid(pos, normal [][3]float32, cellM float64) *Grid {
	g := &Grid{pos: pos, normal: normal, cellM: cellM}
	size := 64
	for size < 2*len(pos) {
		size *= 2
	}
	g.keys, g.slot = make([]uint64, size), make([]int32, size)
	cellOf := make([]int32, len(pos))
	var count []int32
	for i, p := range pos {
		x, y, z := g.coord(p)
		k := pack(x, y, z)
		s := g.find(k)
		if g.keys[s] == 0 {
			g.keys[s] = k + 1
			g.slot[s] = int32(len(g.cellKey))
			g.cellKey = append(g.cellKey, k)
			count = append(count, 0)
		}
		c := g.slot[s]
		cellOf[i] = c
		count[c]++
	}
	g.start = make([]int32, len(count)+1)
	for c, n := range count {
		g.start[c+1] = g.start[c] + n
	}
	g.order = make([]uint32, len(pos))
	next := append([]int32(nil), g.start...)
	for i, c := range cellOf {
		g.order[next[c]] = uint32(i)
		next[c]++
	}
	return g
}

func (g *Grid) coord(p [3]float32) (x, y, z int) {
	f := func(v float32) int {
		q := float64(v) / g.cellM
		n := int(q)
		if q < float64(n) {
			n--
		}
		return n
	}
	return f(p[0]), f(p[1]), f(p[2])
}

// find returns the slot that holds k or the empty one where it belongs.
func (g *Grid) find(k uint64) int {
	mask := uint64(len(g.keys) - 1)
	s := (k * 0x9e3779b97f4a7c15) >> 20 & mask
	for g.keys[s] != 0 && g.keys[s] != k+1 {
		s = (s + 1) & mask
	}
	return int(s)
}

// cell returns the samples of cell (x, y, z), nil when it is empty.
func (g *Grid) cell(x, y, z int) []uint32 {
	s := g.find(pack(x, y, z))
	if g.keys[s] == 0 {
		return nil
	}
	c := g.slot[s]
	return g.order[g.start[c]:g.start[c+1]]
}

// Near appends to out the samples within radiusM metres of p whose normals turn away from n by less
// than about 70 degrees, in a fixed order.
func (g *Grid) Near(p, n [3]float32, radiusM float64, out []uint32) []uint32 {
	reach := int(radiusM/g.cellM) + 1
	x, y, z := g.coord(p)
	r2 := float32(radiusM * radiusM)
	for dx := -reach; dx <= reach; dx++ {
		for dy := -reach; dy <= reach; dy++ {
			for dz := -reach; dz <= reach; dz++ {
				for _, j := range g.cell(x+dx, y+dy, z+dz) {
					if g.joined(p, n, j, r2) {
						out = append(out, j)
					}
				}
			}
		}
	}
	return out
}

func (g *Grid) joined(p, n [3]float32, j uint32, r2 float32) bool {
	q := &g.pos[j]
	a, b, c := q[0]-p[0], q[1]-p[1], q[2]-p[2]
	if a*a+b*b+c*c > r2 {
		return false
	}
	m := &g.normal[j]
	return n[0]*m[0]+n[1]*m[1]+n[2]*m[2] > 0.35
}

// Each calls visit for every sample with its neighbours within radiusM (itself among them), on all
// processors. The neighbours are valid during the call only. radiusM must not exceed the cell's edge.
func (g *Grid) Each(ctx context.Context, radiusM float64, visit func(i uint32, list []uint32)) error {
	r2 := float32(radiusM * radiusM)
	near.Share(ctx, len(g.cellKey), 512, func(lo, hi int) {
		var around, list []uint32
		for c := lo; c < hi; c++ {
			x, y, z := unpack(g.cellKey[c])
			around = around[:0]
			for dx := -1; dx <= 1; dx++ {
				for dy := -1; dy <= 1; dy++ {
					for dz := -1; dz <= 1; dz++ {
						around = append(around, g.cell(x+dx, y+dy, z+dz)...)
					}
				}
			}
			for _, i := range g.order[g.start[c]:g.start[c+1]] {
				list = list[:0]
				for _, j := range around {
					if g.joined(g.pos[i], g.normal[i], j, r2) {
						list = append(list, j)
					}
				}
				visit(i, list)
			}
		}
	})
	return ctx.Err()
}
