package invent

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"mien/asset/mesh"
)

// grid finds the surface of a field by dual cells: one vertex for each patch of surface in a cell,
// one quadrilateral for each grid edge that the surface crosses. It follows the surface from cell to
// cell, so that its cost grows with the area and the result is one piece.
//
// No two inside corners of a cell's face meet only across its diagonal: where the field says so, an
// outside corner is taken as inside. With that every edge of the result belongs to two triangles, or
// to one on the rim that keep leaves.
//
// Source: Gibson, Constrained elastic surface nets, MICCAI 1998; patches after Nielson, Dual marching
// cubes, IEEE Visualization 2004.
type grid struct {
	field *field
	keep  func(mesh.Vec) bool // nil keeps all cells

	step float64
	axis [3]mesh.Vec // of the grid, unit
	org  mesh.Vec
	n    [3]int // blocks

	block []*block
	cells []int32 // active cells as packed corner numbers, in order of discovery
}

const (
	blockBits = 3
	blockSide = 1 << blockBits
	blockLen  = blockSide * blockSide * blockSide

	leastStepMm, mostStepMm = 0.5, 20.0
)

type block struct {
	value [blockLen]float32 // NaN where not yet known
	seen  [blockLen]bool    // cell already visited
	first [blockLen]int32   // first vertex of a cell
}

// errNoSurface says that no surface was met on the way out from the seed.
var errNoSurface = errors.New("invented shape: no surface around the seed point")

// newGrid lays a grid of the given step over the field, turned and shifted. It returns an error for a
// step too fine to number the corners.
func newGrid(f *field, stepMm, turnDeg float64, shift mesh.Vec, keep func(mesh.Vec) bool) (*grid, error) {
	if !(stepMm >= leastStepMm) || !(stepMm <= mostStepMm) {
		return nil, fmt.Errorf("grid of %g mm: allowed are %g to %g", stepMm, leastStepMm, mostStepMm)
	}
	g := &grid{field: f, keep: keep, step: stepMm}
	a, b := turnDeg*math.Pi/180, .37*turnDeg*math.Pi/180
	ca, sa, cb, sb := math.Cos(a), math.Sin(a), math.Cos(b), math.Sin(b)
	g.axis = [3]mesh.Vec{{ca, sa * sb, -sa * cb}, {0, cb, sb}, {sa, -ca * sb, ca * cb}}
	lo, hi := mesh.Vec{1e9, 1e9, 1e9}, mesh.Vec{-1e9, -1e9, -1e9}
	for c := 0; c < 8; c++ {
		p := f.lo
		for k := range p {
			if c>>k&1 == 1 {
				p[k] += float64(f.n[k]) * cullCell
			}
		}
		for k := range lo {
			v := p.Dot(g.axis[k])
			lo[k], hi[k] = min(lo[k], v), max(hi[k], v)
		}
	}
	total := 1
	for k := range lo {
		v := (math.Floor(lo[k]/stepMm) - 2 + shift[k] - math.Floor(shift[k])) * stepMm
		g.org = g.org.Add(g.axis[k].Scale(v))
		g.n[k] = int((hi[k]-v)/stepMm)/blockSide + 1
		total *= g.n[k]
	}
	if total > math.MaxInt32/blockLen {
		return nil, fmt.Errorf("grid of %g mm: %d corners, allowed are %d", stepMm, total*blockLen, math.MaxInt32)
	}
	g.block = make([]*block, total)
	return g, nil
}

// pack numbers the corner i, j, k: block number above, place in the block below.
func (g *grid) pack(i, j, k int) int32 {
	const m = blockSide - 1
	b := (k>>blockBits*g.n[1]+j>>blockBits)*g.n[0] + i>>blockBits
	return int32(b<<(3*blockBits) | (k&m)<<(2*blockBits) | (j&m)<<blockBits | i&m)
}

func (g *grid) unpack(c int32) (i, j, k int) {
	const m = blockSide - 1
	b, l := int(c)>>(3*blockBits), int(c)
	bi, bj, bk := b%g.n[0], b/g.n[0]%g.n[1], b/g.n[0]/g.n[1]
	return bi<<blockBits | l&m, bj<<blockBits | l>>blockBits&m, bk<<blockBits | l>>(2*blockBits)&m
}

func (g *grid) inside(i, j, k int) bool {
	return i >= 0 && j >= 0 && k >= 0 && i < g.n[0]<<blockBits && j < g.n[1]<<blockBits && k < g.n[2]<<blockBits
}

func (g *grid) blockOf(c int32) *block {
	b := g.block[c>>(3*blockBits)]
	if b == nil {
		b = new(block)
		nan := float32(math.NaN())
		for i := range b.value {
			b.value[i] = nan
		}
		g.block[c>>(3*blockBits)] = b
	}
	return b
}

func (g *grid) at(i, j, k float64) mesh.Vec {
	return g.org.Add(g.axis[0].Scale(i * g.step)).Add(g.axis[1].Scale(j * g.step)).Add(g.axis[2].Scale(k * g.step))
}

// corner returns the field at a corner, far outside beyond the grid.
func (g *grid) corner(i, j, k int) float32 {
	if !g.inside(i, j, k) {
		return farAway
	}
	c := g.pack(i, j, k)
	b := g.blockOf(c)
	v := &b.value[c&(blockLen-1)]
	if *v != *v {
		*v = float32(g.field.value(g.at(float64(i), float64(j), float64(k))))
		if *v == 0 {
			*v = 1e-6
		}
	}
	return *v
}

// corners returns the values at the corners of a cell, corner number x + 2y + 4z, and the set of
// those inside.
func (g *grid) corners(i, j, k int) (v [8]float32, mask uint8) {
	for c := range v {
		v[c] = g.corner(i+c&1, j+c>>1&1, k+c>>2)
		if v[c] < 0 {
			mask |= 1 << c
		}
	}
	return v, mask
}

// follow collects all cells that the surface passes, starting outward from a point inside.
func (g *grid) follow(ctx context.Context, seed mesh.Vec) error {
	var at [3]int
	for k := range at {
		at[k] = int(seed.Sub(g.org).Dot(g.axis[k]) / g.step)
	}
	for {
		if !g.inside(at[0], at[1], at[2]) {
			return errNoSurface
		}
		if _, m := g.corners(at[0], at[1], at[2]); m != 0 && m != 255 {
			break
		}
		at[2]++
	}
	ahead := []int32{g.pack(at[0], at[1], at[2])}
	for {
		if _, err := g.flood(ctx, ahead); err != nil {
			return err
		}
		if ahead = g.separate(); len(ahead) == 0 {
			break
		}
	}
	kept := g.cells[:0]
	for _, c := range g.cells {
		if _, m := g.corners(g.unpack(c)); m != 0 && m != 255 {
			kept = append(kept, c)
		}
	}
	g.cells = kept
	slices.Sort(g.cells)
	return nil
}

// faceCorners lists the corners around each face of a cell; faces are -x, +x, -y, +y, -z, +z.
var faceCorners = [6][4]int{{0, 2, 6, 4}, {1, 3, 7, 5}, {0, 1, 5, 4}, {2, 3, 7, 6}, {0, 1, 3, 2}, {4, 5, 7, 6}}

func (g *grid) flood(ctx context.Context, ahead []int32) ([]int32, error) {
	for n := 0; len(ahead) > 0; n++ {
		if n&0xfff == 0 && ctx.Err() != nil {
			return nil, ctx.Err()
		}
		c := ahead[len(ahead)-1]
		ahead = ahead[:len(ahead)-1]
		b := g.blockOf(c)
		if b.seen[c&(blockLen-1)] {
			continue
		}
		i, j, k := g.unpack(c)
		if g.keep != nil && !g.keep(g.at(float64(i)+.5, float64(j)+.5, float64(k)+.5)) {
			continue
		}
		_, m := g.corners(i, j, k)
		if m == 0 || m == 255 {
			continue
		}
		b.seen[c&(blockLen-1)] = true
		g.cells = append(g.cells, c)
		for face, fc := range faceCorners {
			in := m>>fc[0]&1 + m>>fc[1]&1 + m>>fc[2]&1 + m>>fc[3]&1
			if in == 0 || in == 4 {
				continue
			}
			p := [3]int{i, j, k}
			p[face>>1] += face&1*2 - 1
			if g.inside(p[0], p[1], p[2]) {
				ahead = append(ahead, g.pack(p[0], p[1], p[2]))
			}
		}
	}
	return ahead, nil
}

// separate takes away faces whose inside corners meet only across a diagonal, and returns the cells
// to look at again.
func (g *grid) separate() []int32 {
	var again []int32
	for _, cell := range g.cells {
		i, j, k := g.unpack(cell)
		v, m := g.corners(i, j, k)
		for _, fc := range faceCorners {
			a, b, c, d := m>>fc[0]&1, m>>fc[1]&1, m>>fc[2]&1, m>>fc[3]&1
			if a != c || b != d || a == b {
				continue
			}
			o := [2]int{fc[0], fc[2]}
			if a == 1 {
				o = [2]int{fc[1], fc[3]}
			}
			pick := o[0]
			if v[o[1]] < v[o[0]] {
				pick = o[1]
			}
			ci, cj, ck := i+pick&1, j+pick>>1&1, k+pick>>2
			at := g.pack(ci, cj, ck)
			g.blockOf(at).value[at&(blockLen-1)] = -1e-6
			for n := 0; n < 8; n++ {
				if x, y, z := ci-n&1, cj-n>>1&1, ck-n>>2; g.inside(x, y, z) {
					again = append(again, g.pack(x, y, z))
				}
			}
			break
		}
	}
	return again
}
