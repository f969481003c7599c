package invent

import "mien/asset/mesh"

// base is the person's bare body in rest pose.
type base struct {
	plan plan
	face Face
	seed uint64
	body *field // in mm
	ops  []op   // of body
	feet [2]int // range of ops that shape both feet; a shoe takes their place
}

func newBase(p Person) *base {
	b := &base{plan: newPlan(p), face: p.Face, seed: mix(p.Seed ^ uint64(p.Family)<<40)}
	s := &shaper{place: frame{axis: upright, scale: 1}}
	g := &b.plan
	trunkShape(s, g)
	twice(s, s.place, func() { legShape(s, g) })
	twice(s, s.place, func() { armShape(s, g) })
	s.place = g.head
	headShape(s, p.Face)
	twice(s, g.hand, func() { handShape(s) })
	b.feet[0] = len(s.ops)
	twice(s, g.foot, func() { footShape(s) })
	b.feet[1] = len(s.ops)
	b.ops = s.ops
	b.body = newField(s.ops)
	return b
}

// twice runs shape on the left and, mirrored, on the right.
func twice(s *shaper, left frame, shape func()) {
	s.place = left
	shape()
	s.place = left.mirrored()
	shape()
	s.place = left
}

// BaseDistance is about the signed distance, in metres, of a point in rest pose from the person's
// bare body, negative inside. It is right to first order within 1 cm of the skin.
func (p Person) BaseDistance(at mesh.Vec) float64 {
	return p.base.distance(at.Scale(1000)) / 1000
}

// distance is the field of the bare body at a point in mm.
func (b *base) distance(p mesh.Vec) float64 { return b.body.value(p) }

// normal is the outward unit normal of the bare body's field at a point in mm.
func (b *base) normal(p mesh.Vec) mesh.Vec {
	_, g := b.body.gradient(p)
	return g.Unit()
}
