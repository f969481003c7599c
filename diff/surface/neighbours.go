package surface

import (
	"context"
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
	g := newGrid(f.Pos, 1, radiusMm/1000)
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
	var at [27]span
	for _, s := range g.about(p, &at) {
		for k := s.from; k < s.to; k++ {
			q := g.pos[k]
			x, y, z := q[0]-p[0], q[1]-p[1], q[2]-p[2]
			if g.key[k] != s.key || x*x+y*y+z*z > r2 {
				continue
			}
			j := g.item[k]
			m := f.Normal[j]
			if uint32(i) != j && nrm[0]*m[0]+nrm[1]*m[1]+nrm[2]*m[2] < sheetCosine {
				continue
			}
			list = append(list, j)
		}
	}
	return list
}
