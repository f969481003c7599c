package near

import (
	"context"
	"math"

	"mien/asset/mesh"
)

const (
	// block bounds the memory of a batch of points: about 50 bytes each.
	block = 1 << 20

	// A group holds at most this many points in a box of at most this many leaf sizes.
	groupPoints = 32
	groupSize   = 1.5
)

// ClosestAll answers [Index.Closest] for every point: hits[i] belongs to point(i), and ok[i] is false
// where nothing lies within maxM metres (0 = no limit). The points may come in any order. The work is
// shared among GOMAXPROCS goroutines; the answers are the same for any number of them. point must be
// safe to call from several goroutines.
//
// It returns ctx's error when cancelled.
//
// Method: the points are sorted along the curve and cut into small groups; one walk down the tree lists
// the boxes that can matter to a group, and each of its points is held against that list.
func (ix *Index) ClosestAll(ctx context.Context, n int, point func(i int) mesh.Vec, maxM float64) (hits []Hit, ok []bool, err error) {
	hits, ok = make([]Hit, n), make([]bool, n)
	at, key := make([]mesh.Vec, min(n, block)), make([]uint64, min(n, block))
	for from := 0; from < n && ctx.Err() == nil; from += block {
		m := min(block, n-from)
		Share(ctx, m, pieceOf(m, 1<<13), func(lo, hi int) {
			for i := lo; i < hi; i++ {
				at[i] = point(from + i)
			}
		})
		r := run{ix: ix, at: at[:m], hits: hits[from:], ok: ok[from:], maxM: limit(maxM)}
		r.key = sortAlongCurve(ctx, r.at, key[:m])
		Share(ctx, m, min(4096, pieceOf(m, 64)), r.answer)
	}
	return hits, ok, ctx.Err()
}

// sortAlongCurve returns the numbers of the points along the curve, where those out of range stand first.
func sortAlongCurve(ctx context.Context, at []mesh.Vec, key []uint64) []uint64 {
	inf := math.Inf(1)
	lo, hi := mesh.Vec{inf, inf, inf}, mesh.Vec{-inf, -inf, -inf}
	for _, p := range at {
		if inReach(p) {
			for k, v := range p {
				if v < lo[k] {
					lo[k] = v
				}
				if v > hi[k] {
					hi[k] = v
				}
			}
		}
	}
	if lo[0] > hi[0] {
		lo, hi = mesh.Vec{}, mesh.Vec{}
	}
	c := cellsOver(lo, hi)
	Share(ctx, len(at), pieceOf(len(at), 1<<13), func(from, to int) {
		part := key[from:to]
		for i := range part {
			part[i] = uint64(from + i)
		}
		c.code(part, func(i int) (x, y, z float64) {
			if p := at[from+i]; inReach(p) {
				return p[0], p[1], p[2]
			}
			return c.lo[0], c.lo[1], c.lo[2]
		})
	})
	return radixSort(ctx, key)
}

// run is one block of points.
type run struct {
	ix   *Index
	at   []mesh.Vec
	key  []uint64 // numbers of the points along the curve, in the low bits
	hits []Hit
	ok   []bool
	maxM float64
}

// answer cuts the points from..to-1 along the curve into groups and answers each.
func (r *run) answer(from, to int) {
	s := r.ix.searcher()
	defer r.ix.idle.Put(s)
	s.count = 0
	var g group
	for from < to {
		n := r.cut(&g, from, to)
		if n < 2 || !r.together(s, &g, n) {
			n = max(n, 1)
			for i := from; i < from+n; i++ {
				k := r.index(i)
				r.hits[k], r.ok[k] = s.single(r.at[k], r.maxM)
			}
		}
		from += n
	}
}

func (r *run) index(i int) int { return int(r.key[i] & (1<<indexBits - 1)) }

// group is points that lie close together, with the box about them.
type group struct {
	at     [groupPoints]mesh.Vec
	q      [groupPoints]point
	index  [groupPoints]int
	lo, hi point
}

// cut fills g from point i along the curve and returns how many points it took; none when the first
// one is out of range.
func (r *run) cut(g *group, i, to int) int {
	if r.ix.reachM > maxReachM {
		return 0
	}
	side := float32(groupSize * r.ix.edgeM)
	inf := float32(math.Inf(1))
	lx, ly, lz, hx, hy, hz := inf, inf, inf, -inf, -inf, -inf
	n := 0
	for ; n < groupPoints && i+n < to; n++ {
		k := r.index(i + n)
		p := r.at[k]
		if !inReach(p) {
			break
		}
		q := narrow(p)
		ax, bx := widened(lx, hx, q[0])
		ay, by := widened(ly, hy, q[1])
		az, bz := widened(lz, hz, q[2])
		if bx-ax > side || by-ay > side || bz-az > side {
			break
		}
		lx, ly, lz, hx, hy, hz = ax, ay, az, bx, by, bz
		g.at[n], g.q[n], g.index[n] = p, q, k
	}
	g.lo, g.hi = point{lx, ly, lz}, point{hx, hy, hz}
	return n
}

func widened(lo, hi, v float32) (float32, float32) {
	if v < lo {
		lo = v
	}
	if v > hi {
		hi = v
	}
	return lo, hi
}

// together answers the n points of g. It does nothing and returns false where too much of the surface
// is in reach.
func (r *run) together(s *searcher, g *group, n int) bool {
	var mid point
	var half2 float64
	for k := range mid {
		mid[k] = g.lo[k] + (g.hi[k]-g.lo[k])/2
		h := float64(max(g.hi[k]-mid[k], mid[k]-g.lo[k]))
		half2 += h * h
	}
	half := math.Sqrt(half2)
	// No point of the box is farther from the surface than its middle and the way there.
	bound := float32(min(float64(s.bound(&mid, r.maxM+half, float32(half)/8))+half, r.maxM))
	soft := 2 * max(blur(widen(g.lo)), blur(widen(g.hi)))
	reach := bound*relative + 2*soft
	s.gather(&g.lo, &g.hi, reach)
	if len(s.nodes) > batch {
		return false
	}
	s.count = 0
	if len(s.nodes) > 0 {
		s.count = s.ix.collect(s.nodes, &g.lo, &g.hi, reach*reach, &s.boxes)
	}
	for i := range s.best[:n] {
		s.best[i].place = -1
	}
	s.improve(g.at[:n], g.q[:n], bound, soft)
	for i, k := range g.index[:n] {
		r.hits[k], r.ok[k] = s.hit(&s.best[i], r.maxM)
	}
	return true
}
