package posture

import (
	"context"
	"math"

	"mien/asset/mesh"
	"mien/asset/near"
)

// The loss scale falls from wide to narrow over the rounds of the fit, metres.
const (
	wideScaleM   = 0.030
	narrowScaleM = 0.006
	restScaleM   = 0.006
	wideReachM   = 0.120
	narrowReachM = 0.030
	leastPaired  = 0.5   // of a limb that turned must find a partner
	mostRestM    = 0.002 // may remain on it, root mean square
	coarseStride = 3     // every third sample takes part in the first steps
	leastBlend   = 1.0   // degrees from which on a joint's blend is fitted
)

// newFitter samples newer about evenly, one vertex per cell of the given spacing.
func newFitter(f *figure, old, newer *mesh.Mesh, ix *near.Index, spacingM float64) *fitter {
	s := &fitter{f: f, old: old, index: ix, normals: slopes(old),
		growth: make([]float64, len(f.limbs)+2), active: make([]bool, len(f.limbs)), frozen: make([]bool, len(f.limbs))}
	s.facing = slopes(newer)
	area := make([]float64, len(newer.Pos))
	trust := make([]float64, len(newer.Pos))
	class := make([]uint8, len(newer.Pos))
	for t, tri := range newer.Tri {
		a := newer.TriangleArea(t) / 3
		c := newer.ClassOf(t)
		w := sampleWeight(c)
		for _, v := range tri {
			class[v] = max(class[v], c)
			area[v] += a
			trust[v] += a * w
		}
	}
	cells := map[[3]int32]int{}
	for v, p := range newer.Pos {
		var c [3]int32
		for k := range c {
			c[k] = int32(math.Floor(float64(p[k]) / spacingM))
		}
		k, ok := cells[c]
		if !ok {
			k = len(s.samples)
			cells[c] = k
			s.samples = append(s.samples, sample{at: newer.At(uint32(v)), normal: s.facing[v], class: class[v]})
			s.vertex = append(s.vertex, uint32(v))
		}
		s.samples[k].weight += trust[v] / (spacingM * spacingM)
	}
	for _, p := range s.samples {
		s.middle = s.middle.Add(p.at.Scale(1 / float64(len(s.samples))))
	}
	s.pairs = make([]pair, len(s.samples))
	return s
}

// slopes returns the area-weighted unit normal of every position, which is all the accuracy that the fit
// needs and half the cost of weighing by angle.
func slopes(m *mesh.Mesh) []mesh.Vec {
	out := make([]mesh.Vec, len(m.Pos))
	for t, tri := range m.Tri {
		a, b, c := m.Corner(t)
		n := b.Sub(a).Cross(c.Sub(a))
		for _, v := range tri {
			out[v] = out[v].Add(n)
		}
	}
	for i := range out {
		out[i] = out[i].Unit()
	}
	return out
}

// hang recomputes which limbs hold the samples, from the joints as they now lie in the new scan.
func (s *fitter) hang(newer *mesh.Mesh) {
	pivots := s.f.pivotsNew()
	r := s.f.newRibs(pivots)
	for k := range s.samples {
		p := &s.samples[k]
		p.hold = s.f.holdAt(newer, int(s.vertex[k]), pivots)
		p.zone, p.share = [2]int{0, 1}, [2]float64{1, 0}
		if r.ok {
			p.zone, p.share = trunkZone(r.height(p.at))
		}
		if i := mainLimb(&p.hold); i > 0 {
			p.zone[0], p.share = i+2, [2]float64{1, 0}
		}
		p.breath = r.shape(p.at, p.hold.of(0))
	}
}

// trunkZone returns the two of three zones of growth, hips, ribs and shoulders, that a height of the
// trunk lies between, and their shares.
func trunkZone(u float64) (zone [2]int, share [2]float64) {
	if u < 0.55 {
		h := smoothStep((u - 0.15) / 0.40)
		return [2]int{0, 1}, [2]float64{1 - h, h}
	}
	h := smoothStep((u - 0.65) / 0.30)
	return [2]int{1, 2}, [2]float64{1 - h, h}
}

func mainLimb(h *hold) int {
	best := uint8(0)
	for k := uint8(1); k < h.n; k++ {
		if h.share[k] > h.share[best] {
			best = k
		}
	}
	return int(h.limb[best])
}

// solve fits the pose: from the root outward, then all joints together, then the blends around the
// joints that turned, then all again under a narrow loss.
func (s *fitter) solve(ctx context.Context, newer *mesh.Mesh) error {
	s.hang(newer)
	s.stride = coarseStride
	deepest := 0
	for i := range s.f.limbs {
		deepest = max(deepest, s.f.depth(i))
	}
	for d := 0; d <= deepest; d++ {
		for i := range s.f.limbs {
			s.active[i] = s.f.depth(i) <= d
		}
		for range 2 {
			if err := s.step(ctx, wideScaleM, wideReachM, false, false); err != nil {
				return err
			}
		}
	}
	s.stride = 1
	scale := wideScaleM / 2
	for range 4 {
		if err := s.step(ctx, scale, max(narrowReachM, 3*scale), true, scale < 0.015); err != nil {
			return err
		}
		scale = max(scale*0.6, narrowScaleM)
	}
	for range 2 {
		s.hang(newer)
		s.fitBlends(newer)
		s.hang(newer)
		for range 2 {
			if err := s.step(ctx, narrowScaleM, narrowReachM, true, true); err != nil {
				return err
			}
		}
	}
	if err := s.pairUp(ctx, s.f.motions(), narrowReachM); err != nil || !s.freeze() {
		return err
	}
	s.hang(newer)
	for range 2 {
		if err := s.step(ctx, narrowScaleM, narrowReachM, true, true); err != nil {
			return err
		}
	}
	return s.pairUp(ctx, s.f.motions(), narrowReachM)
}

// freeze gives up the turn of every limb that does not fit once turned: most of it finds no partner, or
// what remains is no noise. A shoe of another model is such a limb. It reports whether there were any.
func (s *fitter) freeze() (any bool) {
	m := s.f.motions()
	sum, weight := make([]float64, len(s.f.limbs)), make([]float64, len(s.f.limbs))
	paired, all := make([]float64, len(s.f.limbs)), make([]float64, len(s.f.limbs))
	for k := range s.samples {
		i, w := mainLimb(&s.samples[k].hold), s.samples[k].weight
		all[i] += w
		if s.pairs[k].ok {
			paired[i] += w
			r := s.residual(k, m)
			w *= s.pairs[k].trust * robust(r, 2*restScaleM)
			sum[i] += w * r * r
			weight[i] += w
		}
	}
	for i := 1; i < len(s.f.limbs); i++ {
		l := &s.f.limbs[i]
		if l.turned == unturned || paired[i] >= leastPaired*all[i] && sum[i] <= mostRestM*mostRestM*weight[i] {
			continue
		}
		l.turned, l.shift = unturned, mesh.Vec{}
		s.frozen[i], any = true, true
	}
	return any
}

// fitBlends chooses, for every joint that turned, where the skin passes from the parent's motion to the
// child's, out of a small fixed set, by what is left around the joint.
func (s *fitter) fitBlends(newer *mesh.Mesh) {
	m := s.f.motions()
	pivots := s.f.pivotsNew()
	for i := 1; i < len(s.f.limbs); i++ {
		l := &s.f.limbs[i]
		if l.turned.vector().Len()*180/math.Pi < leastBlend {
			continue
		}
		var around []int
		var kept []hold
		for k := range s.samples {
			if s.pairs[k].ok && s.samples[k].at.Sub(pivots[i]).Len() < 3.2*l.radiusM {
				around = append(around, k)
				kept = append(kept, s.samples[k].hold)
			}
		}
		if len(around) < 30 {
			continue
		}
		cost := func(b blend) (c float64) {
			l.blend = b
			for _, k := range around {
				s.samples[k].hold = s.f.holdAt(newer, int(s.vertex[k]), pivots)
				r := s.residual(k, m)
				c += s.samples[k].weight * r * r / (r*r + restScaleM*restScaleM)
			}
			return c
		}
		best := l.blend
		least := cost(best)
		for sweep := range 3 {
			for _, b := range s.f.choices(i, best, sweep) {
				if c := cost(b); c < least*0.995 {
					best, least = b, c
				}
			}
		}
		l.blend = best
		for n, k := range around {
			s.samples[k].hold = kept[n]
		}
	}
}
