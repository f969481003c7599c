package invent

import (
	"math"

	"mien/asset/mesh"
)

// field is a smooth implicit solid in millimetres: negative inside, near its zero set about the
// distance to it. It is a short program of operations, run in order on one running value; a grid
// over space keeps for each cell the operations that can matter there.
type field struct {
	ops  []op
	lo   mesh.Vec // corner of the grid
	n    [3]int
	list [][]uint16 // operations of each cell, ascending
}

// operation says what an op does with the running value d and its own value v.
type operation uint8

const (
	join   operation = iota // smooth union
	carve                   // smooth subtraction
	clip                    // smooth intersection
	relief                  // outward displacement by a kernel of compact support
)

// op is one operation on a tube, an ellipsoid or a half space.
type op struct {
	does  operation
	solid solid
	blend float64 // width over which it melts into the rest, mm; for relief the height

	at      mesh.Vec    // origin
	axis    [3]mesh.Vec // side, along, front: orthonormal, either handedness
	radius  mesh.Vec    // of an ellipsoid or of relief, along the axes
	length  float64     // of a tube
	cap     [2]float64  // how far a tube reaches over its ends
	section []section   // of a tube, evenly spaced, with one more before and two after its ends
}

type solid uint8

const (
	ellipsoid solid = iota
	tube
	halfSpace // inside where the point lies behind the plane through at with normal axis[1]
)

const (
	cullCell  = 40.0 // mm
	farAway   = 80.0 // value where no operation reaches
	bandWidth = 14.0 // mm around the surface in which the field must be exact
)

// section is a cross section of a tube: radii to both sides, front and back, the offset of its
// centre, and how boxy it is, from 0 (ellipse) to 1.
type section struct {
	out, in, front, back float64
	dx, dz               float64
	box                  float64
}

// value returns the field at p.
func (f *field) value(p mesh.Vec) float64 {
	i, j, k := int((p[0]-f.lo[0])*(1/cullCell)), int((p[1]-f.lo[1])*(1/cullCell)), int((p[2]-f.lo[2])*(1/cullCell))
	if p[0] < f.lo[0] || p[1] < f.lo[1] || p[2] < f.lo[2] || i >= f.n[0] || j >= f.n[1] || k >= f.n[2] {
		return farAway
	}
	d := farAway
	for _, o := range f.list[(k*f.n[1]+j)*f.n[0]+i] {
		d = f.ops[o].apply(p, d)
	}
	return d
}

// gradient returns the field's value and gradient at p, by differences over the corners of a
// tetrahedron.
func (f *field) gradient(p mesh.Vec) (float64, mesh.Vec) {
	const e = 0.2
	a := f.value(mesh.Vec{p[0] + e, p[1] - e, p[2] - e})
	b := f.value(mesh.Vec{p[0] - e, p[1] - e, p[2] + e})
	c := f.value(mesh.Vec{p[0] - e, p[1] + e, p[2] - e})
	d := f.value(mesh.Vec{p[0] + e, p[1] + e, p[2] + e})
	const s = 1 / (4 * e)
	return (a + b + c + d) / 4, mesh.Vec{(a - b - c + d) * s, (-a - b + c + d) * s, (-a + b - c + d) * s}
}

// project moves p along the gradient to the zero set and returns the unit normal there.
func (f *field) project(p mesh.Vec, rounds int) (mesh.Vec, mesh.Vec) {
	var n mesh.Vec
	for i := 0; i < rounds; i++ {
		v, g := f.gradient(p)
		q := g.Dot(g)
		if q < 1e-6 {
			break
		}
		step := min(max(v/q, -20), 20)
		p = p.Sub(g.Scale(step))
		n = g.Scale(1 / math.Sqrt(q))
		if math.Abs(v) < 1e-3 {
			break
		}
	}
	return p, n
}

func (o *op) apply(p mesh.Vec, d float64) float64 {
	x, y, z := p[0]-o.at[0], p[1]-o.at[1], p[2]-o.at[2]
	a, b, c := &o.axis[0], &o.axis[1], &o.axis[2]
	side := x*a[0] + y*a[1] + z*a[2]
	along := x*b[0] + y*b[1] + z*b[2]
	front := x*c[0] + y*c[1] + z*c[2]
	if o.does == relief {
		side, along, front = side/o.radius[0], along/o.radius[1], front/o.radius[2]
		q := 1 - side*side - along*along - front*front
		if q <= 0 {
			return d
		}
		return d - o.blend*q*q*q
	}
	var v float64
	switch o.solid {
	case tube:
		v = o.tube(side, along, front)
	case ellipsoid:
		v = radial(side/o.radius[0], along/o.radius[1], front/o.radius[2], o.radius)
	default:
		v = along
	}
	switch o.does {
	case join:
		return smoothMin(d, v, o.blend)
	case carve:
		return -smoothMin(-d, v, o.blend)
	}
	return -smoothMin(-d, -v, o.blend)
}

// radial is the signed distance, to first order, from an ellipsoid of radii r at the point with the
// scaled coordinates x, y, z.
func radial(x, y, z float64, r mesh.Vec) float64 {
	s := math.Sqrt(x*x + y*y + z*z)
	if s < 1e-3 {
		return -min(r[0], r[1], r[2])
	}
	x, y, z = x/r[0], y/r[1], z/r[2]
	return s * (s - 1) / math.Sqrt(x*x+y*y+z*z)
}

func (o *op) tube(side, along, front float64) float64 {
	over, capLen := 0.0, 1.0
	t := along
	if t < 0 {
		t, over, capLen = 0, along, o.cap[0]
	} else if t > o.length {
		t, over, capLen = o.length, along-o.length, o.cap[1]
	}
	s := o.sectionAt(t)
	x, z := side-s.dx, front-s.dz
	rx, rz := s.out, s.front
	if x < 0 {
		rx = s.in
	}
	if z < 0 {
		rz = s.back
	}
	u, v, w := x/rx, z/rz, over/capLen
	uu, vv, ww := u*u, v*v, w*w
	q := uu + vv
	if s.box > 0 {
		q += s.box * (math.Sqrt(uu*uu+vv*vv) - q)
	}
	q += ww
	r := math.Sqrt(q)
	if r < 1e-3 {
		return -min(rx, rz)
	}
	u, v, w = u/rx, v/rz, w/capLen
	return r * (r - 1) / math.Sqrt(u*u+v*v+w*w+1e-12)
}

// sectionAt interpolates the evenly spaced sections by the cubic of Catmull and Rom.
func (o *op) sectionAt(t float64) section {
	n := len(o.section) - 4
	x := t / o.length * float64(n)
	i := min(int(x), n)
	x -= float64(i)
	x2, x3 := x*x, x*x*x
	w0, w1 := (-x3+2*x2-x)/2, (3*x3-5*x2+2)/2
	w2, w3 := (-3*x3+4*x2+x)/2, (x3-x2)/2
	a, b, c, d := &o.section[i], &o.section[i+1], &o.section[i+2], &o.section[i+3]
	return section{
		out:   w0*a.out + w1*b.out + w2*c.out + w3*d.out,
		in:    w0*a.in + w1*b.in + w2*c.in + w3*d.in,
		front: w0*a.front + w1*b.front + w2*c.front + w3*d.front,
		back:  w0*a.back + w1*b.back + w2*c.back + w3*d.back,
		dx:    w0*a.dx + w1*b.dx + w2*c.dx + w3*d.dx,
		dz:    w0*a.dz + w1*b.dz + w2*c.dz + w3*d.dz,
		box:   w0*a.box + w1*b.box + w2*c.box + w3*d.box,
	}
}

// smoothMin is the minimum of a and b, rounded where they differ by less than k.
func smoothMin(a, b, k float64) float64 {
	m, h := a, k-(b-a)
	if b < a {
		m, h = b, k-(a-b)
	}
	if h <= 0 {
		return m
	}
	return m - h*h*h/(6*k*k)
}

// newField sorts the operations into the cells that they can reach.
func newField(ops []op) *field {
	f := &field{ops: ops}
	lo, hi := make([]mesh.Vec, len(ops)), make([]mesh.Vec, len(ops))
	var all [2]mesh.Vec
	for c := range all[0] {
		all[0][c], all[1][c] = math.Inf(1), math.Inf(-1)
	}
	for i := range ops {
		lo[i], hi[i] = ops[i].bounds()
	}
	reach(ops, lo, hi)
	for i := range ops {
		if ops[i].does == join {
			for c := range all[0] {
				all[0][c], all[1][c] = min(all[0][c], lo[i][c]), max(all[1][c], hi[i][c])
			}
		}
	}
	cells := 1
	for c := range f.n {
		f.lo[c] = all[0][c] - 1
		f.n[c] = int((all[1][c]-f.lo[c])/cullCell) + 1
		cells *= f.n[c]
	}
	f.list = make([][]uint16, cells)
	for i := range ops {
		var from, to [3]int
		for c := range from {
			from[c] = max(0, int(math.Floor((lo[i][c]-f.lo[c])/cullCell)))
			to[c] = min(f.n[c]-1, int(math.Floor((hi[i][c]-f.lo[c])/cullCell)))
		}
		for z := from[2]; z <= to[2]; z++ {
			for y := from[1]; y <= to[1]; y++ {
				for x := from[0]; x <= to[0]; x++ {
					c := (z*f.n[1]+y)*f.n[0] + x
					f.list[c] = append(f.list[c], uint16(i))
				}
			}
		}
	}
	return f
}

// reach widens the box of each operation but relief, so that outside of it the operation changes
// nothing near the surface: neither by its own blend nor by that of a later operation beside it.
func reach(ops []op, lo, hi []mesh.Vec) {
	for i := range ops {
		if ops[i].does == relief {
			continue
		}
		margin := ops[i].blend
		for j := i + 1; j < len(ops); j++ {
			if k := ops[j].blend; ops[j].does == join && k > margin && meet(lo[i], hi[i], lo[j], hi[j], k+bandWidth) {
				margin = k
			}
		}
		margin += bandWidth
		for c := range lo[i] {
			lo[i][c] -= margin
			hi[i][c] += margin
		}
	}
}

// meet reports whether two boxes come within a gap of each other.
func meet(alo, ahi, blo, bhi mesh.Vec, gap float64) bool {
	for c := range alo {
		if alo[c]-gap > bhi[c] || blo[c]-gap > ahi[c] {
			return false
		}
	}
	return true
}

// bounds returns the box around o itself, for relief that of its support.
func (o *op) bounds() (lo, hi mesh.Vec) {
	var a, b mesh.Vec // in the op's own axes
	switch {
	case o.solid == tube:
		for c := range a {
			a[c], b[c] = math.Inf(1), math.Inf(-1)
		}
		for _, s := range o.section {
			a[0], b[0] = min(a[0], s.dx-s.in), max(b[0], s.dx+s.out)
			a[2], b[2] = min(a[2], s.dz-s.back), max(b[2], s.dz+s.front)
		}
		a[1], b[1] = -o.cap[0], o.length+o.cap[1]
	case o.solid == halfSpace:
		for c := range a {
			a[c], b[c] = -1e4, 1e4
		}
		b[1], a[1] = bandWidth, -bandWidth
	default:
		a, b = o.radius.Scale(-1), o.radius
	}
	for c := range lo {
		lo[c], hi[c] = o.at[c], o.at[c]
		for k := range a {
			u, v := o.axis[k][c]*a[k], o.axis[k][c]*b[k]
			lo[c] += min(u, v)
			hi[c] += max(u, v)
		}
	}
	return lo, hi
}
