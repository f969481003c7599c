package invent

import "mien/asset/mesh"

// shoeModel holds the lengths, in mm on the middle foot, in which shoe models differ.
type shoeModel struct {
	sole         float64 // height of the sole
	toeSpring    float64 // lift of the toe
	collar       float64 // height of the collar over the floor of the foot
	padding      float64 // thickness of the upper over the foot
	toeBox       float64 // extra height of the toe box
	flare        float64 // how far the sole reaches out beside the upper
	point        float64 // how far the toe reaches beyond the foot
	ridge, strap float64 // relief of the panels
	counter      float64 // relief of the heel counter
}

var shoeModels = [ShoeModels]shoeModel{
	{sole: 24, toeSpring: 7, collar: 78, padding: 5, toeBox: 4, flare: 4, point: 12, ridge: 2, strap: 0, counter: 2.5},
	{sole: 30, toeSpring: 10, collar: 104, padding: 6, toeBox: 7, flare: 6, point: 13, ridge: 2.5, strap: 3, counter: 3.5},
	{sole: 20, toeSpring: 5, collar: 72, padding: 4, toeBox: 2, flare: 2.5, point: 10, ridge: 1.5, strap: 0, counter: 2},
	{sole: 36, toeSpring: 13, collar: 84, padding: 5.5, toeBox: 6, flare: 9, point: 14, ridge: 1.5, strap: 2, counter: 4},
	{sole: 26, toeSpring: 8, collar: 132, padding: 7, toeBox: 5, flare: 4, point: 12, ridge: 3, strap: 4, counter: 3},
	{sole: 22, toeSpring: 6, collar: 76, padding: 5, toeBox: 9, flare: 5, point: 16, ridge: 2, strap: 2.5, counter: 2},
}

// soleMm is how far a model lifts the middle foot off the floor.
func (s Shoe) soleMm() float64 {
	if s.Model < 1 || s.Model > ShoeModels {
		return 0
	}
	return shoeModels[s.Model-1].sole
}

// shoeShape shapes the left shoe in the foot's frame, around a foot that stands at y = 0: the sole
// lies below. ankle is the point in that frame to which the collar leans; opened leaves room for
// the foot, as in a shoe scanned alone.
func shoeShape(s *shaper, m shoeModel, ankle mesh.Vec, opened bool) {
	up := mesh.Vec{0, 1, 0}
	p := m.padding
	r := func(t, out, in, top, height, box, dx float64) knot {
		return knot{t, section{out: out + p, in: in + p, front: top + p - height, back: height + 6, dz: height, box: box, dx: dx}}
	}
	s.limb(mesh.Vec{0, 0, -50}, mesh.Vec{3, 0, 182}, up, [2]float64{27, m.point}, 0, []knot{
		r(0, 30, 29, 64, 28, .25, 0), r(.2, 32, 32, 74, 30, .25, 0), r(.38, 34, 31, 72, 30, .2, -1), r(.52, 38, 34, 62, 26, .25, -2),
		r(.68, 43, 39, 47+m.toeBox*.3, 22, .35, -2), r(.82, 45, 42, 36+m.toeBox, 18, .45, 0), r(.92, 40, 39, 29+m.toeBox, 16+m.toeSpring*.4, .4, 1),
		r(1, 29, 30, 22+m.toeBox, 14+m.toeSpring, .3, 2),
	})
	collar := mesh.Vec{ankle[0] * m.collar / ankle[1], m.collar - 9, -8 + (ankle[2]+8)*m.collar/ankle[1]*.6}
	c := func(t, side, front, back float64) knot {
		return knot{t, section{out: side + p, in: side + p, front: front + p, back: back + p}}
	}
	s.limb(mesh.Vec{0, 26, -4}, collar, mesh.Vec{0, 0, 1}, [2]float64{10, 9}, 18, []knot{
		c(0, 30, 40, 40), c(.6, 33, 42, 42), c(1, 34, 42, 40),
	})
	// Tongue, lacing, side panel, strap, heel counter and toe guard.
	s.tilted(mesh.Vec{0, 62, 54}, mesh.Vec{22, 5 + p*.5, 42}, spread(mesh.Vec{0, 1, .62}, mesh.Vec{0, 0, 1}), 7)
	for i := 0.0; i < 5; i++ {
		s.tilted(mesh.Vec{0, 68 - 6.2*i + p*.8, 50 + 12.5*i}, mesh.Vec{21, 3, 3.2}, upright, 2.5)
	}
	for _, side := range []float64{1, -1} {
		s.swell(m.ridge, mesh.Vec{side * 40, 30, 40}, mesh.Vec{20, 16, 62})
		s.swell(m.ridge, mesh.Vec{side * 44, 14, 108}, mesh.Vec{24, 14, 40})
	}
	if m.strap > 0 {
		s.swell(m.strap, mesh.Vec{0, 52, 72}, mesh.Vec{64, 40, 15})
	}
	s.swell(m.counter, mesh.Vec{0, 30, -78}, mesh.Vec{36, 28, 34})
	s.swell(m.ridge, mesh.Vec{0, 16, 186}, mesh.Vec{40, 18, 26})
	// The sole: its top follows the foot, its bottom the floor, which lies at -sole.
	q := m.flare
	l := func(t, out, in, low, dx float64) knot {
		h := (low + 17) / 2
		return knot{t, section{out: out + p + q, in: in + p + q, front: h, back: h, dz: 17 - h, box: .95, dx: dx}}
	}
	s.limb(mesh.Vec{0, 0, -52}, mesh.Vec{3, 0, 180}, up, [2]float64{27 + q*.6, m.point + 3 + q*.4}, 5, []knot{
		l(0, 29, 28, m.sole, 0), l(.25, 31, 30, m.sole, 0), l(.45, 33, 27, m.sole, -1), l(.7, 43, 38, m.sole, -2),
		l(.85, 44, 40, m.sole-1, 0), l(1, 30, 30, m.sole-m.toeSpring, 2),
	})
	for i := 0; i < 7; i++ { // grooves of the tread's side
		for _, side := range []float64{1, -1} {
			s.swell(-1.6, mesh.Vec{side * 46, -m.sole * .4, -40 + 32*float64(i)}, mesh.Vec{28, 10, 5})
		}
	}
	s.cut(mesh.Vec{0, -m.sole, 0}, mesh.Vec{0, -1, 0}, 5)
	if opened {
		top := collar.Add(mesh.Vec{0, 14, 0})
		s.add(op{does: carve, solid: tube, at: mesh.Vec{0, 18, 2}, axis: spread(top.Sub(mesh.Vec{0, 18, 2}), mesh.Vec{0, 0, 1}), length: top[1] - 18,
			cap: [2]float64{12, 20}, blend: 4, section: even([]knot{c(0, 30-p, 38-p, 38-p), c(1, 31-p, 38-p, 37-p)})})
	}
}

// shoeOps shapes both shoes of a look around the person's feet.
func (b *base) shoeOps(model int, opened bool) []op {
	s := &shaper{}
	ankle := b.plan.foot.local(b.plan.ankle.Add(b.plan.knee.Sub(b.plan.ankle).Scale(.12)))
	twice(s, b.plan.foot, func() { shoeShape(s, shoeModels[model-1], ankle, opened) })
	return s.ops
}
