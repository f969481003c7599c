package near

import (
	"math"

	"mien/asset/mesh"
)

const (
	// batch is the number of lowest nodes that are searched between two looks at the bound.
	batch = 64 // also in kernel_amd64.s, as the offsets of a crate

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
	leaf  [crateRoom]int32
	d2    [batch * fan][fan]float32
	place [(batch*fan + 1) * fan]int32
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
	q, soft := narrow(p), 2*blur(p)
	bound := s.bound(&q, maxM, 0)
	r := bound*relative + soft
	s.gather(&q, &q, r)
	b := best{place: -1}
	for from := 0; from < len(s.nodes); from += batch {
		s.count = s.ix.collect(s.nodes[from:min(from+batch, len(s.nodes))], &q, &q, r*r, &s.boxes)
		s.improve(p, &q, bound, soft, &b)
	}
	return s.hit(b, maxM)
}

// inRange reports whether the kernels can work on p.
func (s *searcher) inRange(p mesh.Vec) bool { return s.ix.reachM <= maxReachM && inReach(p) }

func inReach(p mesh.Vec) bool {
	return p[0] <= maxReachM && p[0] >= -maxReachM && p[1] <= maxReachM && p[1] >= -maxReachM && p[2] <= maxReachM && p[2] >= -maxReachM
}

// bound returns about the distance from q to the surface, at most maxM: never less, and at most an
// eighth or, when that is more, enoughM too much.
func (s *searcher) bound(q *point, maxM float64, enoughM float32) float32 {
	s.leaf[0] = s.last
	if s.count > 0 {
		s.leaf[0] = s.ix.nearestBox(&s.boxes, s.count, q)
	}
	least := s.ix.leavesDist2(s.leaf[:1], q, s.d2[:])
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
			s.leaf[0] = e.index
			if d := s.ix.leavesDist2(s.leaf[:1], q, s.d2[:]); d < least {
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

// improve looks for a point closer to p in the collected boxes.
//
// Every triangle whose float32 distance, less what that may be too large by, is at most the least one,
// plus what that may be too small by, is measured in float64. The answer is therefore that of
// measuring all triangles so.
func (s *searcher) improve(p mesh.Vec, q *point, boundM, soft float32, b *best) {
	if s.count == 0 {
		return
	}
	// The leaf with the nearest middle is likely to hold the answer and spares most others.
	first := s.ix.nearestBox(&s.boxes, s.count, q)
	s.leaf[0] = first
	least := s.ix.leavesDist2(s.leaf[:1], q, s.d2[:])
	if m := sqrt32(least); m < boundM {
		boundM = m
	}
	r := boundM*relative + soft
	n := s.ix.boxesWithin(&s.boxes, s.count, q, r*r, &s.leaf)
	if n == 0 {
		return
	}
	list := s.leaf[:n]
	at := 0
	for i, l := range list {
		if l == first {
			at = i
		}
	}
	done := 0
	if list[at] == first {
		list[0], list[at] = first, list[0]
		done = 1
	}
	if n > done {
		if d := s.ix.leavesDist2(list[done:], q, s.d2[done:]); d < least {
			least = d
		}
	}
	if m := sqrt32(least); m < boundM {
		boundM = m
	}
	n = s.ix.within(s.d2[:], list, boundM*relative+soft, s.place[:])
	pv := vec{p[0], p[1], p[2]}
	for _, place := range s.place[:n] {
		b.take(s.ix, s.ix.leaf[place/fan].footOn(int(place%fan), pv), place)
	}
}

func sqrt32(x float32) float32 { return float32(math.Sqrt(float64(x))) }

// everyTriangle is the search where float32 does not reach.
func (s *searcher) everyTriangle(p mesh.Vec, maxM float64) (Hit, bool) {
	b := best{place: -1}
	at := vec{p[0], p[1], p[2]}
	for i := range s.ix.tri {
		if f := s.ix.leaf[i/fan].footOn(i%fan, at); f.d2 < math.Inf(1) {
			b.take(s.ix, f, int32(i))
		}
	}
	return s.hit(b, maxM)
}

func (s *searcher) hit(b best, maxM float64) (Hit, bool) {
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
