package invent

import (
	"math"

	"mien/asset/mesh"
)

// shaper collects operations. Coordinates are millimetres in the frame of the part being shaped;
// place maps them into the body.
type shaper struct {
	ops   []op
	place frame
}

// frame maps part coordinates to body coordinates: p -> at + scale*(x*axis[0] + y*axis[1] + z*axis[2]).
type frame struct {
	at    mesh.Vec
	axis  [3]mesh.Vec
	scale float64
}

var upright = [3]mesh.Vec{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}

func (f frame) point(p mesh.Vec) mesh.Vec {
	return f.at.Add(f.dir(p).Scale(f.scale))
}

func (f frame) dir(v mesh.Vec) mesh.Vec {
	return f.axis[0].Scale(v[0]).Add(f.axis[1].Scale(v[1])).Add(f.axis[2].Scale(v[2]))
}

// local is the inverse of point.
func (f frame) local(p mesh.Vec) mesh.Vec {
	d := p.Sub(f.at).Scale(1 / f.scale)
	return mesh.Vec{d.Dot(f.axis[0]), d.Dot(f.axis[1]), d.Dot(f.axis[2])}
}

// mirrored is the frame of the twin on the other side of the body.
func (f frame) mirrored() frame {
	f.at[0] = -f.at[0]
	for i := range f.axis {
		f.axis[i][0] = -f.axis[i][0]
	}
	return f
}

// spread is a frame with the direction along as its second axis and its third as near to front as
// can be; the first, the side, is front x along: outward for a limb that
// hangs down on the left of the body.
func spread(along, front mesh.Vec) [3]mesh.Vec {
	along = along.Unit()
	front = front.Sub(along.Scale(front.Dot(along))).Unit()
	return [3]mesh.Vec{front.Cross(along), along, front}
}

func (s *shaper) add(o op) {
	o.at = s.place.point(o.at)
	for i := range o.axis {
		o.axis[i] = s.place.dir(o.axis[i])
	}
	k := s.place.scale
	o.radius, o.length, o.blend = o.radius.Scale(k), o.length*k, o.blend*k
	o.cap[0], o.cap[1] = o.cap[0]*k, o.cap[1]*k
	for i := range o.section {
		c := &o.section[i]
		c.out, c.in, c.front, c.back, c.dx, c.dz = c.out*k, c.in*k, c.front*k, c.back*k, c.dx*k, c.dz*k
	}
	s.ops = append(s.ops, o)
}

// ball joins an ellipsoid.
func (s *shaper) ball(at, radius mesh.Vec, blend float64) {
	s.add(op{does: join, at: at, axis: upright, radius: radius, blend: blend})
}

// tilted joins an ellipsoid with its own axes.
func (s *shaper) tilted(at, radius mesh.Vec, axis [3]mesh.Vec, blend float64) {
	s.add(op{does: join, at: at, axis: axis, radius: radius, blend: blend})
}

// hollow carves an ellipsoid.
func (s *shaper) hollow(at, radius mesh.Vec, blend float64) {
	s.add(op{does: carve, at: at, axis: upright, radius: radius, blend: blend})
}

// swell raises the surface by height at the place at, fading to nothing at the given radii.
func (s *shaper) swell(height float64, at, radius mesh.Vec) {
	s.add(op{does: relief, at: at, axis: upright, radius: radius, blend: height})
}

// cut keeps what lies behind the plane through at with the outward normal n.
func (s *shaper) cut(at, n mesh.Vec, blend float64) {
	front := mesh.Vec{0, 0, 1}
	if math.Abs(n[2]) > .8 {
		front = mesh.Vec{1, 0, 0}
	}
	s.add(op{does: clip, solid: halfSpace, at: at, axis: spread(n, front), blend: blend})
}

// knot is a section at a place along a tube, from 0 to 1.
type knot struct {
	t float64
	section
}

// limb joins a tube from a to b. Its sections lie across it, out on the side front x along.
func (s *shaper) limb(a, b, front mesh.Vec, caps [2]float64, blend float64, knots []knot) {
	d := b.Sub(a)
	s.add(op{does: join, solid: tube, at: a, axis: spread(d, front), length: d.Len(), cap: caps, blend: blend, section: even(knots)})
}

// even turns knots into evenly spaced sections with the spare ends that the cubic needs.
func even(knots []knot) []section {
	const steps = 24
	out := make([]section, 0, steps+4)
	out = append(out, section{})
	for i := 0; i <= steps; i++ {
		out = append(out, between(knots, float64(i)/steps))
	}
	out[0] = out[1]
	return append(out, out[len(out)-1], out[len(out)-1])
}

// between interpolates knots by a cubic with finite-difference slopes.
func between(k []knot, t float64) section {
	i := 0
	for i < len(k)-2 && t > k[i+1].t {
		i++
	}
	a, b := k[i], k[i+1]
	h := b.t - a.t
	x := min(max((t-a.t)/h, 0), 1)
	before, after := a, b
	if i > 0 {
		before = k[i-1]
	}
	if i+2 < len(k) {
		after = k[i+2]
	}
	x2, x3 := x*x, x*x*x
	mixed := func(get func(*section) float64) float64 {
		p, q := get(&a.section), get(&b.section)
		m := slope(get(&before.section), p, q, a.t-before.t, h) * h
		n := slope(p, q, get(&after.section), h, after.t-b.t) * h
		return p*(2*x3-3*x2+1) + m*(x3-2*x2+x) + q*(3*x2-2*x3) + n*(x3-x2)
	}
	return section{
		out:   mixed(func(s *section) float64 { return s.out }),
		in:    mixed(func(s *section) float64 { return s.in }),
		front: mixed(func(s *section) float64 { return s.front }),
		back:  mixed(func(s *section) float64 { return s.back }),
		dx:    mixed(func(s *section) float64 { return s.dx }),
		dz:    mixed(func(s *section) float64 { return s.dz }),
		box:   mixed(func(s *section) float64 { return s.box }),
	}
}

// slope is the slope at the middle of three values that lie h and g apart; at an end, where one of
// the distances is 0, that of the only side.
func slope(a, b, c, h, g float64) float64 {
	switch {
	case h == 0 && g == 0:
		return 0
	case h == 0:
		return (c - b) / g
	case g == 0:
		return (b - a) / h
	}
	return ((b-a)/h*g + (c-b)/g*h) / (h + g)
}
