package measure

import (
	"math"

	"mien/asset/body"
	"mien/asset/mesh"
	"mien/asset/terms"
)

// head measures the skull: length from the brow to the back of the head, breadth without the ears.
func (s *subject) head() []Value {
	if s.areas[terms.Scalp] == 0 || s.areas[terms.Forehead] == 0 {
		return []Value{missing("head-length", "mm", "the scan shows no skull"), missing("head-breadth", "mm", "the scan shows no skull")}
	}
	side := s.sideways()
	front := side.Cross(mesh.Vec{0, 1, 0})
	skull := func(t int) bool {
		switch terms.Region(s.m.LabelOf(t)) {
		case terms.Scalp, terms.Forehead, terms.BrowLeft, terms.BrowRight:
			return true
		}
		return false
	}
	a, b, _ := s.extent(front, skull)
	c, d, _ := s.extent(side, skull)
	out := []Value{mm("head-length", b-a, ""), mm("head-breadth", d-c, "")}
	if s.classShare(terms.HairClass, terms.Scalp) > coverShare {
		out[0].OK, out[0].Why = false, "over hair"
		out[1].OK, out[1].Why = false, "over hair"
	}
	return out
}

// feet gives foot length (as Mondopoint counts it: mm) and width of bare feet.
//
// Source: ISO 9407, length between the perpendiculars to the foot's axis at heel and longest toe.
func (s *subject) feet() (out []Value) {
	for side := terms.Segment(0); side < 2; side++ {
		length, width := "foot-length-"+sideName(side), "foot-width-"+sideName(side)
		region := terms.FootLeft + terms.Region(side)
		if s.areas[region] == 0 {
			out = append(out, missing(length, "mm", "the scan shows no foot"), missing(width, "mm", "the scan shows no foot"))
			continue
		}
		l, w := s.footprint(region, terms.AnkleLeft+terms.Region(side))
		v := []Value{mm(length, l, ""), mm(width, w, "")}
		for _, c := range []terms.Class{terms.Shoe, terms.Cloth} {
			if s.classShare(c, region) > coverShare {
				for i := range v {
					v[i].OK, v[i].Why = false, "in "+c.String()
				}
			}
		}
		out = append(out, v...)
	}
	return out
}

// footprint returns the extents of the foot along and across its own axis, level. The axis is the
// direction, near the principal one, in which the foot is narrowest across.
func (s *subject) footprint(region, ankle terms.Region) (lengthM, widthM float64) {
	var p [][2]float64
	lo, _, _ := s.extent(mesh.Vec{0, 1, 0}, func(t int) bool { return terms.Region(s.m.LabelOf(t)) == region })
	for v, l := range s.m.Label {
		y := float64(s.m.Pos[v][1])
		if terms.Region(l) == region || terms.Region(l) == ankle && y < lo+0.05 {
			p = append(p, [2]float64{float64(s.m.Pos[v][0]), float64(s.m.Pos[v][2])})
		}
	}
	var c [2]float64
	for _, q := range p {
		c[0] += q[0] / float64(len(p))
		c[1] += q[1] / float64(len(p))
	}
	var xx, xz, zz float64
	for _, q := range p {
		x, z := q[0]-c[0], q[1]-c[1]
		xx, xz, zz = xx+x*x, xz+x*z, zz+z*z
	}
	along := 0.5 * math.Atan2(2*xz, xx-zz)
	widthM = math.Inf(1)
	for i := -30; i <= 30; i++ {
		sin, cos := math.Sincos(along + float64(i)*math.Pi/360)
		a, b, d, e := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
		for _, q := range p {
			u, w := q[0]*cos+q[1]*sin, q[1]*cos-q[0]*sin
			a, b, d, e = min(a, u), max(b, u), min(d, w), max(e, w)
		}
		if e-d < widthM {
			lengthM, widthM = b-a, e-d
		}
	}
	return lengthM, widthM
}

// volumes gives the volume of every segment present.
func (s *subject) volumes() (out []Value) {
	if s.m.Label == nil {
		return []Value{missing("volume-trunk", "cm3", "the scan has no region labels")}
	}
	type half struct{ a, b uint32 }
	tris := make([][]int, terms.SegmentCount)
	for t := range s.m.Tri {
		if seg, ok := body.SegmentOf(s.m.LabelOf(t)); ok && s.person(t) {
			tris[seg] = append(tris[seg], t)
		}
	}
	for seg, list := range tris {
		name := "volume-" + body.SegmentName(terms.Segment(seg))
		if len(list) == 0 {
			out = append(out, missing(name, "cm3", "the scan does not show it"))
			continue
		}
		open := map[half]int{}
		o := s.m.At(s.m.Tri[list[0]][0])
		var v float64
		for _, t := range list {
			tri := s.m.Tri[t]
			a, b, c := s.m.At(tri[0]).Sub(o), s.m.At(tri[1]).Sub(o), s.m.At(tri[2]).Sub(o)
			v += a.Dot(b.Cross(c)) / 6
			for k := 0; k < 3; k++ {
				open[half{tri[k], tri[(k+1)%3]}]++
			}
		}
		var border []half
		for _, t := range list {
			tri := s.m.Tri[t]
			for k := 0; k < 3; k++ {
				if e := (half{tri[k], tri[(k+1)%3]}); open[half{e.b, e.a}] == 0 {
					border = append(border, e)
				}
			}
		}
		next := make(map[uint32]int, len(border))
		for i, e := range border {
			next[e.a] = i
		}
		used := make([]bool, len(border))
		for i := range border {
			var loop []half
			for k, ok := i, true; ok && !used[k]; k, ok = next[border[k].b] {
				used[k] = true
				loop = append(loop, border[k])
			}
			var mid mesh.Vec
			for _, e := range loop {
				mid = mid.Add(s.m.At(e.a).Sub(o).Scale(1 / float64(len(loop))))
			}
			for _, e := range loop {
				v += mid.Dot(s.m.At(e.b).Sub(o).Cross(s.m.At(e.a).Sub(o))) / 6
			}
		}
		out = append(out, Value{Name: name, Unit: "cm3", Value: v * 1e6, OK: true})
	}
	return out
}
