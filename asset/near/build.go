package near

import (
	"context"
	"fmt"
	"math"

	"mien/asset/mesh"
)

// maxTriangles is what the sorting keys have room for.
const maxTriangles = 1 << indexBits

// Build indexes every triangle of m. It returns [ErrNoSurface] for a mesh without triangles and an
// error naming the vertex for a coordinate that is not finite. Later changes of m are not seen.
//
// Cost: O(n) time, shared among GOMAXPROCS goroutines; 44 bytes a triangle are kept.
func Build(ctx context.Context, m *mesh.Mesh) (*Index, error) {
	return BuildSome(ctx, m, func(int) bool { return true })
}

// BuildSome is [Build] over the triangles that keep accepts. Hits still name triangles of m.
func BuildSome(ctx context.Context, m *mesh.Mesh, keep func(t int) bool) (*Index, error) {
	c, err := newCells(m.Pos)
	if err != nil {
		return nil, err
	}
	if len(m.Tri) > maxTriangles {
		return nil, fmt.Errorf("mesh has %d triangles, allowed are %d", len(m.Tri), maxTriangles)
	}
	key := make([]uint64, 0, len(m.Tri))
	for t := range m.Tri {
		if keep(t) {
			key = append(key, uint64(t))
		}
	}
	if len(key) == 0 {
		return nil, ErrNoSurface
	}
	Share(ctx, len(key), 1<<15, func(from, to int) {
		part := key[from:to]
		c.code(part, func(i int) (x, y, z float64) {
			t := &m.Tri[part[i]]
			p, q, r := &m.Pos[t[0]], &m.Pos[t[1]], &m.Pos[t[2]]
			return middle(p[0], q[0], r[0]), middle(p[1], q[1], r[1]), middle(p[2], q[2], r[2])
		})
	})
	key = radixSort(ctx, key)

	ix := &Index{reachM: c.reachM, tri: make([]uint32, len(key)), vectors: hasVectors}
	leaves := (len(key) + fan - 1) / fan
	ix.leaf, ix.slack = make([]leaf, leaves), make([]float32, leaves)
	base := emptyNodes((leaves + fan - 1) / fan)
	Share(ctx, leaves, fan<<9, func(from, to int) {
		for l := from; l < to; l++ {
			ix.fillLeaf(m, key, l)
			var b bounds
			ix.boundLeaf(&ix.leaf[l], &b)
			base[l/fan].set(l%fan, &b)
			ix.slack[l] = b.slack
		}
	})
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	ix.buildLevels(base)
	return ix, nil
}

// middle returns the middle between the least and the greatest of three numbers.
func middle(a, b, c float32) float64 {
	if a > b {
		a, b = b, a
	}
	if c < a {
		a = c
	} else if c > b {
		b = c
	}
	return (float64(a) + float64(b)) / 2
}

// fillLeaf copies the corners of the triangles at places fan*l and on.
func (ix *Index) fillLeaf(m *mesh.Mesh, key []uint64, l int) {
	out := &ix.leaf[l]
	for k := 0; k < fan; k++ {
		place := min(l*fan+k, len(key)-1)
		t := uint32(key[place] & (maxTriangles - 1))
		ix.tri[place] = t
		c := &m.Tri[t]
		p, q, r := &m.Pos[c[0]], &m.Pos[c[1]], &m.Pos[c[2]]
		out.corner[0][k], out.corner[1][k], out.corner[2][k] = p[0], p[1], p[2]
		out.corner[3][k], out.corner[4][k], out.corner[5][k] = q[0], q[1], q[2]
		out.corner[6][k], out.corner[7][k], out.corner[8][k] = r[0], r[1], r[2]
	}
}

// buildLevels bounds eight boxes at a time, from those of the leaves up to a single node.
func (ix *Index) buildLevels(base []node) {
	var size float64
	for i := range ix.leaf {
		n, k := &base[i/fan], i%fan
		size += float64(max(n.hi[0][k]-n.lo[0][k], n.hi[1][k]-n.lo[1][k], n.hi[2][k]-n.lo[2][k]))
	}
	ix.edgeM = size / float64(len(ix.leaf))
	ix.level = [][]node{base}
	for len(base) > 1 {
		up := emptyNodes((len(base) + fan - 1) / fan)
		for i := range base {
			b := base[i].bounds()
			up[i/fan].set(i%fan, &b)
		}
		ix.level = append(ix.level, up)
		base = up
	}
}

// bounds is one box, and for a leaf the slack of its distances.
type bounds struct {
	lo, hi [3]float32
	slack  float32
}

func (n *node) set(k int, b *bounds) {
	for a := 0; a < 3; a++ {
		n.lo[a][k], n.hi[a][k] = b.lo[a], b.hi[a]
	}
}

// bounds returns the box about all children.
func (n *node) bounds() (b bounds) {
	for a := 0; a < 3; a++ {
		b.lo[a], b.hi[a] = n.lo[a][0], n.hi[a][0]
		for k := 1; k < fan; k++ {
			b.lo[a] = min(b.lo[a], n.lo[a][k])
			b.hi[a] = max(b.hi[a], n.hi[a][k])
		}
	}
	return b
}

func emptyNodes(n int) []node {
	out := make([]node, n)
	inf := float32(math.Inf(1))
	last := &out[n-1] // the others will be full
	for a := 0; a < 3; a++ {
		for k := 0; k < fan; k++ {
			last.lo[a][k], last.hi[a][k] = inf, -inf
		}
	}
	return out
}
