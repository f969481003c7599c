package surface

import (
	"context"
	"math"
	"slices"

	"mien/asset/near"
)

// Neighbours lists for every sample those within a radius on the same sheet of surface. Two samples
// are on one sheet when their normals are less than about 70 degrees apart, which keeps the two sides
// of an ear or of touching fingers from each other.
type Neighbours struct {
	start []uint32
	list  []uint32
}

// Of returns the neighbours of sample i in ascending order, i itself among them. The caller must not
// change the slice.
func (n *Neighbours) Of(i int) []uint32 { return n.list[n.start[i]:n.start[i+1]] }

const sheetCosine = 0.35

// Neighbours finds all neighbours within radiusMm. Memory grows with the square of radius over spacing:
// about pi*(radius/spacing)^2 entries of four bytes a sample.
func (f *Field) Neighbours(ctx context.Context, radiusMm float64) (*Neighbours, error) {
	n := f.Len()
	out := &Neighbours{start: make([]uint32, n+1)}
	if n == 0 {
		return out, nil
	}
	g := newGrid(f.Pos, radiusMm/1000)
	const chunk = 1024
	parts := make([][]uint32, (n+chunk-1)/chunk)
	near.Share(ctx, n, chunk, func(lo, hi int) {
		var list []uint32
		for i := lo; i < hi; i++ {
			from := len(list)
			list = f.appendNear(list, g, i)
			slices.Sort(list[from:])
			out.start[i+1] = uint32(len(list) - from)
		}
		parts[lo/chunk] = list
	})
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	for i := 0; i < n; i++ {
		out.start[i+1] += out.start[i]
	}
	out.list = make([]uint32, 0, out.start[n])
	for _, p := range parts {
		out.list = append(out.list, p...)
	}
	return out, nil
}

func (f *Field) appendNear(list []uint32, g *grid, i int) []uint32 {
	p, nrm := f.Pos[i], f.Normal[i]
	r2 := float32(g.cellM * g.cellM)
	g.around(p, func(j uint32) {
		q := f.Pos[j]
		x, y, z := q[0]-p[0], q[1]-p[1], q[2]-p[2]
		if x*x+y*y+z*z > r2 {
			return
		}
		m := f.Normal[j]
		if uint32(i) != j && nrm[0]*m[0]+nrm[1]*m[1]+nrm[2]*m[2] < sheetCosine {
			return
		}
		list = append(list, j)
	})
	return list
}

// grid sorts points into cubes of one size. Cubes are hashed into a table of buckets; a bucket may hold
// points of several cubes.
type grid struct {
	pos   [][3]float32
	cellM float64
	mask  uint32
	start []uint32
	item  []uint32
}

func newGrid(pos [][3]float32, cellM float64) *grid {
	size := uint32(1)
	for int(size) < 2*len(pos) {
		size <<= 1
	}
	g := &grid{pos: pos, cellM: cellM, mask: size - 1, start: make([]uint32, size+1), item: make([]uint32, len(pos))}
	bucket := make([]uint32, len(pos))
	for i, p := range pos {
		bucket[i] = g.bucket(g.cell(p))
		g.start[bucket[i]+1]++
	}
	for i := uint32(0); i < size; i++ {
		g.start[i+1] += g.start[i]
	}
	fill := append([]uint32(nil), g.start...)
	for i, b := range bucket {
		g.item[fill[b]] = uint32(i)
		fill[b]++
	}
	return g
}

func (g *grid) cell(p [3]float32) [3]int32 {
	var c [3]int32
	for k := 0; k < 3; k++ {
		c[k] = int32(math.Floor(float64(p[k]) / g.cellM))
	}
	return c
}

func (g *grid) bucket(c [3]int32) uint32 {
	h := uint32(c[0])*0x9e3779b1 ^ uint32(c[1])*0x85ebca77 ^ uint32(c[2])*0xc2b2ae3d
	h ^= h >> 15
	return h & g.mask
}

// around visits every point of the 27 cubes about p once.
func (g *grid) around(p [3]float32, visit func(j uint32)) {
	c := g.cell(p)
	for x := c[0] - 1; x <= c[0]+1; x++ {
		for y := c[1] - 1; y <= c[1]+1; y++ {
			for z := c[2] - 1; z <= c[2]+1; z++ {
				at := [3]int32{x, y, z}
				b := g.bucket(at)
				for _, j := range g.item[g.start[b]:g.start[b+1]] {
					if g.cell(g.pos[j]) == at {
						visit(j)
					}
				}
			}
		}
	}
}
