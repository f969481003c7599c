package posture

import (
	"context"

	"mien/asset/mesh"
	"mien/asset/near"
	"mien/asset/terms"
)

// The terms of the fit are weighed as if each sample had this error, and each unknown this spread
// around zero. They only matter for what the surface hardly shows, such as a forearm's roll.
// Common practice, no source.
const (
	sampleSpreadM  = 0.008 // growth uneven by 1 mm over some 60 neighbouring samples
	turnSpread     = 0.35  // radians, about an axis across the bone
	rollSpread     = 0.05  // radians, about the bone
	pivotSpreadM   = 0.010
	growthSpreadM  = 0.010
	breathSpreadM  = 0.004
	maxPivotShiftM = 0.040
	leastCosine    = 0.5 // between the normals of a sample and its partner
)

// sample is one point of the new surface that takes part in the fit.
type sample struct {
	at     mesh.Vec
	normal mesh.Vec
	weight float64
	hold   hold
	zone   [2]int // unknowns of local growth that bear on it
	share  [2]float64
	breath float64 // shape of the breathing mode here
	class  uint8   // asset/terms.Class of the surface around
}

// fitter solves for the pose of one figure.
type fitter struct {
	f       *figure
	old     *mesh.Mesh
	index   *near.Index
	normals []mesh.Vec // of old's vertices
	facing  []mesh.Vec // of the new mesh's vertices
	samples []sample
	vertex  []uint32 // of the new mesh, by sample
	middle  mesh.Vec // that the root turns about

	growth []float64 // per zone, metres; never taken out
	breath float64   // metres
	active []bool    // limbs that take part
	stride int       // every so many samples take part
	frozen []bool    // limbs that keep the parent's pose
	pairs  []pair
	seen   []bool // by unknown, scratch of row
}

// pair is a sample's partner on the old surface.
type pair struct {
	q, n  mesh.Vec
	trust float64 // 0..1, below 1 for cloth over skin
	ok    bool
}

func (s *fitter) unknowns() int { return 6 + 6*(len(s.f.limbs)-1) + len(s.growth) + 1 }

func limbAt(i int) int { return 6 * i }

// posed returns sample k's place in the old frame under the motions m, before breathing.
func posed(h *hold, p mesh.Vec, m []rigid) (out mesh.Vec) {
	for k := uint8(0); k < h.n; k++ {
		out = out.Add(m[h.limb[k]].apply(p).Scale(float64(h.share[k])))
	}
	return out
}

// turnedNormal returns normal n under the blended rotation.
func turnedNormal(h *hold, n mesh.Vec, m []rigid) (out mesh.Vec) {
	for k := uint8(0); k < h.n; k++ {
		out = out.Add(m[h.limb[k]].R.apply(n).Scale(float64(h.share[k])))
	}
	return out.Unit()
}

// offset is what growth and breathing add along the normal at sample k.
func (s *fitter) offset(k int) float64 {
	p := &s.samples[k]
	return p.share[0]*s.growth[p.zone[0]] + p.share[1]*s.growth[p.zone[1]] + s.breath*p.breath
}

// takesPart reports whether sample k is in use and every limb that holds it is active.
func (s *fitter) takesPart(k int) bool {
	if k%s.stride != 0 || s.samples[k].weight == 0 {
		return false
	}
	h := &s.samples[k].hold
	for q := uint8(0); q < h.n; q++ {
		if !s.active[h.limb[q]] {
			return false
		}
	}
	return true
}

// pairUp finds every active sample's partner within reachM of its present place.
func (s *fitter) pairUp(ctx context.Context, m []rigid, reachM float64) error {
	idx := make([]int, 0, len(s.samples))
	at := make([]mesh.Vec, 0, len(s.samples))
	for k := range s.samples {
		s.pairs[k].ok = false
		if s.takesPart(k) {
			idx = append(idx, k)
			at = append(at, posed(&s.samples[k].hold, s.samples[k].at, m))
		}
	}
	hits, ok, err := s.index.ClosestAll(ctx, len(at), func(i int) mesh.Vec { return at[i] }, reachM)
	if err != nil {
		return err
	}
	for i, k := range idx {
		if !ok[i] {
			continue
		}
		h := hits[i]
		trust := likeness(s.samples[k].class, s.old.ClassOf(int(h.Tri)))
		if trust == 0 {
			continue
		}
		tri := s.old.Tri[h.Tri]
		n := s.normals[tri[0]].Scale(1 - h.Bary[0] - h.Bary[1]).
			Add(s.normals[tri[1]].Scale(h.Bary[0])).Add(s.normals[tri[2]].Scale(h.Bary[1])).Unit()
		if n.Dot(turnedNormal(&s.samples[k].hold, s.samples[k].normal, m)) < leastCosine {
			continue
		}
		s.pairs[k] = pair{q: h.Pos, n: n, trust: trust, ok: true}
	}
	return nil
}

// residual returns the distance of sample k from its partner's tangent plane, less growth and breathing.
func (s *fitter) residual(k int, m []rigid) float64 {
	p := &s.pairs[k]
	y := posed(&s.samples[k].hold, s.samples[k].at, m)
	return p.n.Dot(y.Sub(p.q)) - s.offset(k)
}

// robust is the weight of a residual under the loss r^2/(r^2+mu^2): near 1 below mu, near 0 far above.
//
// Source: Geman and McClure 1985; Zhou, Park, Koltun 2016 (both from memory).
func robust(r, mu float64) float64 {
	w := mu * mu / (mu*mu + r*r)
	return w * w
}

// step pairs up and takes two Gauss-Newton steps under the loss scale muM. withBreath frees the
// breathing mode, withPivots the joint centres.
func (s *fitter) step(ctx context.Context, muM, reachM float64, withBreath, withPivots bool) error {
	if err := s.pairUp(ctx, s.f.motions(), reachM); err != nil {
		return err
	}
	for range 2 {
		s.improve(muM, withBreath, withPivots)
	}
	return nil
}

// improve takes one Gauss-Newton step against the tangent planes of the present partners.
func (s *fitter) improve(muM float64, withBreath, withPivots bool) {
	m := s.f.motions()
	n := s.unknowns()
	a, b := make([]float64, n*n), make([]float64, n)
	row, cols := make([]float64, n), make([]int, 0, n)
	s.seen = make([]bool, n)
	for k := range s.samples {
		if !s.pairs[k].ok {
			continue
		}
		cols = s.row(k, m, row, cols[:0])
		r := s.residual(k, m)
		w := s.samples[k].weight * s.pairs[k].trust * robust(r, muM) / (sampleSpreadM * sampleSpreadM)
		for x, i := range cols {
			wi := w * row[i]
			b[i] -= wi * r
			for _, j := range cols[:x+1] {
				if i >= j {
					a[i*n+j] += wi * row[j]
				} else {
					a[j*n+i] += wi * row[j]
				}
			}
		}
		for _, i := range cols {
			row[i], s.seen[i] = 0, false
		}
	}
	s.priors(a, b, withBreath, withPivots)
	if solveSPD(a, b) {
		s.apply(b)
	}
}

// row writes the derivative of sample k's residual by every unknown that bears on it into row, and
// returns their numbers.
func (s *fitter) row(k int, m []rigid, row []float64, cols []int) []int {
	p, n := &s.samples[k], s.pairs[k].n
	put := func(at int, v mesh.Vec) {
		if !s.seen[at] {
			s.seen[at] = true
			cols = append(cols, at, at+1, at+2)
		}
		for c := 0; c < 3; c++ {
			row[at+c] += v[c]
		}
	}
	for q := uint8(0); q < p.hold.n; q++ {
		i, share := int(p.hold.limb[q]), float64(p.hold.share[q])
		back := m[i].R.back(n) // the partner's normal in the new frame
		for j := i; j > 0; j = s.f.limbs[j].parent {
			l := &s.f.limbs[j]
			here := m[j].R.apply(back)
			d := m[j].apply(p.at).Sub(l.centre())
			put(limbAt(j), d.Cross(here).Scale(share))
			put(limbAt(j)+3, here.Sub(l.turned.back(here)).Scale(share))
		}
		here := m[0].R.apply(back)
		put(0, m[0].apply(p.at).Sub(s.middle).Cross(here).Scale(share))
		put(3, here.Scale(share))
	}
	g := 6 * len(s.f.limbs)
	for z := 0; z < 2; z++ {
		if p.share[z] != 0 {
			at := g + p.zone[z]
			if !s.seen[at] {
				s.seen[at] = true
				cols = append(cols, at)
			}
			row[at] -= p.share[z]
		}
	}
	if p.breath != 0 {
		at := len(row) - 1
		cols = append(cols, at)
		row[at] -= p.breath
	}
	return cols
}

// priors adds the pull of every unknown towards zero and pins those that are not free.
func (s *fitter) priors(a, b []float64, withBreath, withPivots bool) {
	n := len(b)
	pull := func(i int, value, spread float64) {
		w := 1 / (spread * spread)
		a[i*n+i] += w
		b[i] -= w * value
	}
	pin := func(i int) {
		for j := 0; j < n; j++ {
			if j <= i {
				a[i*n+j] = 0
			} else {
				a[j*n+i] = 0
			}
		}
		a[i*n+i], b[i] = 1, 0
	}
	for c := 0; c < 6; c++ {
		a[c*n+c] += 1
	}
	for i := 1; i < len(s.f.limbs); i++ {
		w := s.f.limbs[i].turned.vector()
		s.pullRoll(a, b, i, w)
		for c := 0; c < 3; c++ {
			pull(limbAt(i)+c, w[c], turnSpread)
			pull(limbAt(i)+3+c, s.f.limbs[i].shift[c], pivotSpreadM)
		}
	}
	for z, g := range s.growth {
		pull(6*len(s.f.limbs)+z, g, growthSpreadM)
	}
	pull(n-1, s.breath, breathSpreadM)
	for i := 1; i < len(s.f.limbs); i++ {
		for c := 0; c < 6; c++ {
			if !s.active[i] || s.frozen[i] || c >= 3 && !withPivots {
				pin(limbAt(i) + c)
			}
		}
	}
	if !withBreath {
		pin(n - 1)
	}
}

// pullRoll adds the pull of limb i's roll about its own bone towards zero, w being its present turn.
func (s *fitter) pullRoll(a, b []float64, i int, w mesh.Vec) {
	l := &s.f.limbs[i]
	if l.seg == terms.Head || l.seg == terms.Trunk {
		return
	}
	n, k := len(b), 1/(rollSpread*rollSpread)
	u := s.f.chain(i).R.apply(l.axisNew)
	r := w.Dot(u)
	for x := 0; x < 3; x++ {
		b[limbAt(i)+x] -= k * r * u[x]
		for y := 0; y <= x; y++ {
			a[(limbAt(i)+x)*n+limbAt(i)+y] += k * u[x] * u[y]
		}
	}
}

// apply moves the figure by the solved step.
func (s *fitter) apply(x []float64) {
	vec := func(at int) mesh.Vec { return mesh.Vec{x[at], x[at+1], x[at+2]} }
	s.f.root = rigid{unturned, vec(3)}.after(about(turn(vec(0)), s.middle)).after(s.f.root)
	for i := 1; i < len(s.f.limbs); i++ {
		l := &s.f.limbs[i]
		l.turned = turn(vec(limbAt(i))).times(l.turned)
		l.shift = l.shift.Add(vec(limbAt(i) + 3))
		if d := l.shift.Len(); d > maxPivotShiftM {
			l.shift = l.shift.Scale(maxPivotShiftM / d)
		}
	}
	for z := range s.growth {
		s.growth[z] += x[6*len(s.f.limbs)+z]
	}
	s.breath = min(max(s.breath+x[len(x)-1], -maxBreathM), maxBreathM)
}

// likeness is how far two classes of surface can be the same place of a person, 0..1: hair and shoes come
// and go, so that one of them against anything else is no pair; thin cloth over skin is a poor one.
func likeness(a, b uint8) float64 {
	kind := func(c uint8) terms.Class {
		switch k := terms.Class(c); k {
		case terms.HairClass, terms.Shoe, terms.Cloth:
			return k
		}
		return terms.Skin
	}
	switch x, y := kind(a), kind(b); {
	case x == y:
		return 1
	case x == terms.HairClass || y == terms.HairClass || x == terms.Shoe || y == terms.Shoe:
		return 0
	}
	return 0.15
}

// sampleWeight is how far a piece of surface can be trusted to belong to the figure.
func sampleWeight(class uint8) float64 {
	switch terms.Class(class) {
	case terms.Stand:
		return 0
	case terms.HairClass, terms.Cloth:
		return 0.15
	case terms.Shoe:
		return 0.3
	}
	return 1
}
