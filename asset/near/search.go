package near

import (
	"math"

	"mien/asset/mesh"
)

const (
	// batch is the number of lowest nodes that are searched between two looks at the bound.
	batch = 64 // also in kernel_amd64.s, as the offsets of a crate

	// maxPairs is what a group's points and leaves are worked through in at a time, above the leaves of
	// batch nodes.
	maxPairs = 1024

	// Two parts in 2^20 cover the roundings of a float32 distance that grow with it.
	relative = 1 + 1.0/(1<<19)

	// nanoM covers products of edges too short for float32.
	nanoM = 1e-9
)

// searcher is the working memory of one goroutine.
type searcher struct {
	ix    *Index
	nodes []int32   // lowest nodes that can hold the closest triangle
	stack []pending // boxes still to be opened
	last  int32     // leaf of an answer before, where the next one may be

	boxes crate
	count int // of boxes

	// Pairs of a leaf and a point of the group, and the squared distances to their triangles.
	leaf, owner [maxPairs + fan]int32
	d2          [maxPairs][fan]float32

	// Triangles to be measured exactly, and for which point.
	place, who [(maxPairs + 1) * fan]int32

	// By point of the group: squared distances, the least one, its root, and the limits made of it.
	least    [groupPoints][fan]float32
	near     [groupPoints]float32
	r2, root [groupPoints]float32
	best     [groupPoints]best
	groupOf1 struct {
		at [1]mesh.Vec
		q  [1]point
	}
}

// pending is a box still to be opened: a node of a level, or a leaf when level is -1.
type pending struct {
	d2    float32
	index int32
	level int32
}

func (ix *Index) searcher() *searcher {
	if s, ok := ix.idle.Get().(*searcher); ok {
		return s
	}
	return &searcher{ix: ix}
}

// blur bounds the error of a float32 distance from p that does not grow with the distance.
func blur(p mesh.Vec) float32 {
	return float32(max(math.Abs(p[0]), math.Abs(p[1]), math.Abs(p[2]))*(1.0/(1<<23)) + nanoM)
}

// single finds the closest point for a point on its own.
func (s *searcher) single(p mesh.Vec, maxM float64) (Hit, bool) {
	if !s.inRange(p) {
		return s.everyTriangle(p, maxM)
	}
	g := &s.groupOf1
	g.at[0], g.q[0] = p, narrow(p)
	q, soft := &g.q[0], 2*blur(p)
	bound := s.bound(q, maxM, 0)
	r := bound*relative + soft
	s.gather(q, q, r)
	s.best[0].place = -1
	for from := 0; from < len(s.nodes); from += batch {
		s.count = s.ix.collect(s.nodes[from:min(from+batch, len(s.nodes))], q, q, r*r, &s.boxes)
		s.improve(g.at[:], g.q[:], bound, soft)
	}
	return s.hit(&s.best[0], maxM)
}

// inRange reports whether the kernels can work on p.
func (s *searcher) inRange(p mesh.Vec) bool { return s.ix.reachM <= maxReachM && inReach(p) }

func inReach(p mesh.Vec) bool {
	return p[0] <= maxReachM && p[0] >= -maxReachM && p[1] <= maxReachM && p[1] >= -maxReachM && p[2] <= maxReachM && p[2] >= -maxReachM
}

// bound returns about the distance from q to the surface, at most maxM: never less, and at most an
// eighth or, when that is more, enoughM too much.
func (s *searcher) bound(q *point, maxM float64, enoughM float32) float32 {
	first := [1]int32{s.last}
	if s.count > 0 {
		q1 := [1]point{*q}
		s.ix.nearestBoxes(&s.boxes, s.count, q1[:], first[:])
	}
	least := s.leafDist2(first[0], q)
	if m := float32(maxM * maxM); m < least {
		least = m
	}
	const part = 0.8 // of the squared distance; its root is 8/9
	enough := enoughM * enoughM
	stack := append(s.stack[:0], pending{0, 0, int32(len(s.ix.level) - 1)})
	for len(stack) > 0 && least > enough {
		e := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		if e.d2 >= least*part {
			continue
		}
		if e.level < 0 {
			if d := s.leafDist2(e.index, q); d < least {
				least, s.last = d, e.index
			}
			continue
		}
		s.ix.nodeDist2(&s.ix.level[e.level][e.index], q, &s.d2[0])
		from := len(stack)
		for k, d := range s.d2[0] {
			if d >= least*part {
				continue
			}
			// Insertion keeps the nearest on top.
			stack = append(stack, pending{})
			j := len(stack) - 1
			for j > from && stack[j-1].d2 < d {
				stack[j] = stack[j-1]
				j--
			}
			stack[j] = pending{d, e.index*fan + int32(k), e.level - 1}
		}
	}
	s.stack = stack
	return float32(math.Sqrt(float64(least)))
}

// leafDist2 returns the squared distance from q to the triangles of one leaf.
func (s *searcher) leafDist2(l int32, q *point) float32 {
	q1 := [1]point{*q}
	s.leaf[0], s.owner[0] = l, 0
	s.least[0] = far
	s.ix.pairsDist2(s.leaf[:1], s.owner[:1], q1[:], s.d2[:1], s.least[:1])
	s.ix.least(s.least[:1], s.near[:1])
	return s.near[0] * s.near[0]
}

// gather lists the lowest nodes that reach within reachM of the box lo, hi.
func (s *searcher) gather(lo, hi *point, reachM float32) {
	r2 := reachM * reachM
	s.nodes = s.nodes[:0]
	stack := append(s.stack[:0], pending{0, 0, int32(len(s.ix.level) - 1)})
	for len(stack) > 0 {
		e := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		mask := s.ix.nodeReach(&s.ix.level[e.level][e.index], lo, hi, r2)
		if e.level == 0 {
			if mask != 0 {
				s.nodes = append(s.nodes, e.index)
			}
			continue
		}
		for k := int32(0); mask != 0; k, mask = k+1, mask>>1 {
			if mask&1 != 0 {
				stack = append(stack, pending{0, e.index*fan + k, e.level - 1})
			}
		}
	}
	s.stack = stack
}

// best is the closest point so far.
type best struct {
	foot
	place int32 // of the triangle, -1 for none
}

func (b *best) take(ix *Index, f foot, place int32) {
	if b.place < 0 || f.d2 < b.d2 || f.d2 == b.d2 && ix.triAt(place) < ix.triAt(b.place) {
		b.foot, b.place = f, place
	}
}

// improve looks for points closer to those of a group in the collected boxes; boundM is about how far
// these are at most.
//
// Every triangle whose float32 distance, less what that may be too large by, is at most the least one,
// plus what that may be too small by, is measured in float64. The answer is therefore that of
// measuring all triangles so.
func (s *searcher) improve(at []mesh.Vec, q []point, boundM, soft float32) {
	for from := 0; from < len(q) && s.count > 0; {
		from += s.improveSome(at[from:], q[from:], boundM, soft, s.best[from:])
	}
}

// far is farther than anything.
var far = [fan]float32{
	math.MaxFloat32, math.MaxFloat32, math.MaxFloat32, math.MaxFloat32,
	math.MaxFloat32, math.MaxFloat32, math.MaxFloat32, math.MaxFloat32,
}

// improveSome does what [searcher.improve] does for as many of the first points as there is room for,
// and returns their number. All points take each step together, which keeps the vector units busy.
func (s *searcher) improveSome(at []mesh.Vec, q []point, boundM, soft float32, b []best) int {
	m := len(q)
	least, near, r2, root := s.least[:m], s.near[:m], s.r2[:m], s.root[:m]
	// The leaf with the nearest middle is likely to hold the answer and spares most others.
	first := s.leaf[:m]
	s.ix.nearestBoxes(&s.boxes, s.count, q, first)
	for i := range least {
		s.owner[i], least[i] = int32(i), far
	}
	s.ix.pairsDist2(first, s.owner[:m], q, s.d2[:m], least)
	s.ix.least(least, near)
	for i, d := range near {
		r := smaller(d, boundM)*relative + soft
		r2[i] = r * r
	}
	pairs, done := s.ix.boxesWithin(&s.boxes, s.count, q, r2, first, s.leaf[m:], s.owner[m:])
	pairs += m
	s.ix.pairsDist2(s.leaf[m:pairs], s.owner[m:pairs], q, s.d2[m:pairs], least)
	s.ix.least(least, near)
	for i, d := range near {
		root[i] = smaller(d, boundM)*relative + soft
	}
	n := s.ix.within(s.d2[:pairs], s.leaf[:pairs], s.owner[:pairs], root, s.place[:], s.who[:])
	for i, place := range s.place[:n] {
		w := s.who[i]
		p := &at[w]
		b[w].take(s.ix, s.ix.leaf[place/fan].footOn(int(place%fan), vec{p[0], p[1], p[2]}), place)
	}
	return done
}

// everyTriangle is the search where float32 does not reach.
func (s *searcher) everyTriangle(p mesh.Vec, maxM float64) (Hit, bool) {
	b := best{place: -1}
	at := vec{p[0], p[1], p[2]}
	for i := range s.ix.tri {
		if f := s.ix.leaf[i/fan].footOn(i%fan, at); f.d2 < math.Inf(1) {
			b.take(s.ix, f, int32(i))
		}
	}
	return s.hit(&b, maxM)
}

func (s *searcher) hit(b *best, maxM float64) (Hit, bool) {
	if b.place < 0 || !(b.d2 <= maxM*maxM) {
		return Hit{}, false
	}
	s.last = b.place / fan
	q := s.ix.leaf[s.last].at(int(b.place%fan), b.v, b.w)
	return Hit{Tri: s.ix.triAt(b.place), On: b.on, Bary: [2]float64{b.v, b.w}, Pos: q, DistM: math.Sqrt(b.d2)}, true
}

// triAt returns the triangle at a place of a leaf; the last leaf repeats the last one.
func (ix *Index) triAt(place int32) uint32 {
	return ix.tri[min(int(place), len(ix.tri)-1)]
}

func narrow(p mesh.Vec) point { return point{float32(p[0]), float32(p[1]), float32(p[2])} }

func widen(p [3]float32) mesh.Vec { return mesh.Vec{float64(p[0]), float64(p[1]), float64(p[2])} }
