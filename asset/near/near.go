// Package near finds the exact closest point of a triangle mesh: an implicit eight-way tree of boxes
// over triangles sorted along a Hilbert curve. An index is read-only after Build and may be shared by
// any number of goroutines. Answers depend on the mesh and the point only, never on search order.
package near

import (
	"context"
	"errors"
	"fmt"
	"math"

	"mien/asset/mesh"
)

// ErrNoSurface is returned by [Build] for a mesh without a triangle.
var ErrNoSurface = errors.New("mesh has no triangles")

// Feature is the part of a triangle that a closest point lies on.
type Feature uint8

// Features. Edges and corners count from the triangle's first corner.
const (
	Face Feature = iota
	Edge01
	Edge12
	Edge20
	Corner0
	Corner1
	Corner2
)

// Hit is the closest point of a mesh. The point is (1-Bary[0]-Bary[1])*a + Bary[0]*b + Bary[1]*c for
// the corners a, b, c of triangle Tri; weights lie in 0..1.
type Hit struct {
	Tri   uint32
	On    Feature
	Bary  [2]float64
	Pos   mesh.Vec // metres
	DistM float64  // never negative
}

const (
	fan  = 8 // boxes a node holds
	leaf = 4 // triangles a leaf box holds
)

// node holds the bounds of up to eight children, one array per bound so that all eight can be tested
// at once. A missing child has an empty box.
type node struct {
	lo, hi [3][fan]float64
}

// Index answers closest-point queries on one mesh.
type Index struct {
	tri    []uint32     // triangle number by place along the curve
	place  []uint32     // place along the curve by triangle number
	corner [][9]float32 // its three corners
	level  [][]node     // level[0] bounds the leaves; the last level is one node
}

// Build indexes every triangle of m. It returns [ErrNoSurface] for a mesh without triangles and an
// error naming the vertex for a coordinate that is not finite. Later changes of m are not seen.
//
// Cost: O(n) time; about 60 bytes a triangle are kept.
func Build(ctx context.Context, m *mesh.Mesh) (*Index, error) {
	return BuildSome(ctx, m, func(int) bool { return true })
}

// BuildSome is [Build] over the triangles that keep accepts. Hits still name triangles of m.
func BuildSome(ctx context.Context, m *mesh.Mesh, keep func(t int) bool) (*Index, error) {
	for i, p := range m.Pos {
		// A difference with itself is 0 for finite numbers only.
		if s := p[0] - p[0] + p[1] - p[1] + p[2] - p[2]; s != 0 {
			return nil, fmt.Errorf("vertex %d: coordinates %v, allowed are finite numbers", i, p)
		}
	}
	ix := &Index{tri: make([]uint32, 0, len(m.Tri))}
	for t := range m.Tri {
		if keep(t) {
			ix.tri = append(ix.tri, uint32(t))
		}
	}
	if len(ix.tri) == 0 {
		return nil, ErrNoSurface
	}
	if err := sortAlongCurve(ctx, m, ix.tri); err != nil {
		return nil, err
	}
	ix.place = make([]uint32, len(m.Tri))
	for i, t := range ix.tri {
		ix.place[t] = uint32(i)
	}
	ix.corner = make([][9]float32, len(ix.tri))
	for i, t := range ix.tri {
		c := m.Tri[t]
		a, b, d := m.Pos[c[0]], m.Pos[c[1]], m.Pos[c[2]]
		ix.corner[i] = [9]float32{a[0], a[1], a[2], b[0], b[1], b[2], d[0], d[1], d[2]}
	}
	ix.buildLevels()
	return ix, ctx.Err()
}

// buildLevels bounds the leaves, then eight boxes at a time up to a single node.
func (ix *Index) buildLevels() {
	leaves := (len(ix.tri) + leaf - 1) / leaf
	base := emptyNodes((leaves + fan - 1) / fan)
	for i := range ix.corner {
		n, k := &base[i/leaf/fan], i/leaf%fan
		c := &ix.corner[i]
		for a := 0; a < 3; a++ {
			x, y, z := float64(c[a]), float64(c[a+3]), float64(c[a+6])
			n.lo[a][k] = min(n.lo[a][k], x, y, z)
			n.hi[a][k] = max(n.hi[a][k], x, y, z)
		}
	}
	ix.level = [][]node{base}
	for len(base) > 1 {
		up := emptyNodes((len(base) + fan - 1) / fan)
		for i := range base {
			n, k := &up[i/fan], i%fan
			for a := 0; a < 3; a++ {
				for _, v := range base[i].lo[a] {
					n.lo[a][k] = min(n.lo[a][k], v)
				}
				for _, v := range base[i].hi[a] {
					n.hi[a][k] = max(n.hi[a][k], v)
				}
			}
		}
		ix.level = append(ix.level, up)
		base = up
	}
}

func emptyNodes(n int) []node {
	out := make([]node, n)
	for i := range out {
		for a := 0; a < 3; a++ {
			for k := 0; k < fan; k++ {
				out[i].lo[a][k], out[i].hi[a][k] = math.Inf(1), math.Inf(-1)
			}
		}
	}
	return out
}

// Closest returns the closest point of the mesh within maxM metres of p; maxM 0 means no limit. ok is
// false when there is none. Of triangles at equal distance the one with the lowest number is taken,
// and of equal features of one triangle the first of edge 01, edge 12, edge 20, face.
//
// Accuracy: the distance is that to a real point of the triangle and never too small but for float64
// rounding; needle-thin triangles included.
func (ix *Index) Closest(p mesh.Vec, maxM float64) (Hit, bool) {
	return ix.closest(p, maxM, -1)
}

// closest is Closest with the place of a triangle that is likely near, or -1. The guess speeds the
// search and does not change the answer.
func (ix *Index) closest(p mesh.Vec, maxM float64, guess int) (Hit, bool) {
	s := search{ix: ix, p: p, best: math.Inf(1), place: -1}
	if maxM > 0 {
		s.best = maxM * maxM
	}
	if guess >= 0 {
		s.test(guess)
	}
	s.descend()
	if s.place < 0 {
		return Hit{}, false
	}
	return s.hit(), true
}

// search is the state of one query.
type search struct {
	ix    *Index
	p     mesh.Vec
	best  float64 // squared distance of the best point so far
	place int     // its triangle's place along the curve, -1 for none
}

// pending is a box still to be opened.
type pending struct {
	d2    float64
	index int32 // of the node, or of the leaf when level is -1
	level int32
}

// descend opens boxes nearest first and prunes those farther than the best point.
func (s *search) descend() {
	var stack [fan * 12]pending
	stack[0] = pending{0, 0, int32(len(s.ix.level) - 1)}
	for top := 1; top > 0; {
		top--
		e := stack[top]
		if e.d2 > s.best {
			continue
		}
		if e.level < 0 {
			first := int(e.index) * leaf
			last := min(first+leaf, len(s.ix.tri))
			for i := first; i < last; i++ {
				s.test(i)
			}
			continue
		}
		n := &s.ix.level[e.level][e.index]
		from := top
		for k := 0; k < fan; k++ {
			dx := max(n.lo[0][k]-s.p[0], s.p[0]-n.hi[0][k], 0)
			dy := max(n.lo[1][k]-s.p[1], s.p[1]-n.hi[1][k], 0)
			dz := max(n.lo[2][k]-s.p[2], s.p[2]-n.hi[2][k], 0)
			// A hair less than the true distance, so that rounding never hides an equal triangle.
			d2 := (dx*dx + dy*dy + dz*dz) * (1 - 1e-14)
			if !(d2 <= s.best) || d2 == math.Inf(1) { // also leaves out a point that is not a number
				continue
			}
			// Insertion keeps the nearest on top.
			j := top
			for j > from && stack[j-1].d2 < d2 {
				stack[j] = stack[j-1]
				j--
			}
			stack[j] = pending{d2, e.index*fan + int32(k), e.level - 1}
			top++
		}
	}
}

// test takes the triangle at place i if it is nearer, or as near with a lower number.
func (s *search) test(i int) {
	d2 := triangleDist2(&s.ix.corner[i], s.p)
	if !(d2 <= s.best) {
		return
	}
	if d2 == s.best && s.place >= 0 && s.ix.tri[i] > s.ix.tri[s.place] {
		return
	}
	s.best, s.place = d2, i
}

// hit works out weights and feature of the best triangle.
func (s *search) hit() Hit {
	c := &s.ix.corner[s.place]
	on, v, w := triangleWeights(c, s.p)
	var q mesh.Vec
	for k := 0; k < 3; k++ {
		a, b, d := float64(c[k]), float64(c[k+3]), float64(c[k+6])
		q[k] = a + v*(b-a) + w*(d-a)
	}
	return Hit{Tri: s.ix.tri[s.place], On: on, Bary: [2]float64{v, w}, Pos: q, DistM: math.Sqrt(s.best)}
}
