package measure

import (
	"strings"

	"mien/asset/body"
	"mien/asset/mesh"
	"mien/asset/section"
	"mien/asset/terms"
)

func (s *subject) neckGirth() []Value {
	const name = "neck-girth"
	if !s.has[terms.Head] {
		return []Value{missing(name, "mm", "the scan shows no neck"), missing(name+"-contour", "mm", "the scan shows no neck")}
	}
	low, axis, ok := s.neckAxis()
	if !ok {
		return []Value{missing(name, "mm", "the scan shows no neck"), missing(name+"-contour", "mm", "the scan shows no neck")}
	}
	// The neck is measured where it is narrowest between its middle and the jaw.
	var best []Value
	rise := s.joint[terms.Head].At.Sub(low).Dot(axis)
	for k := 0; k <= 12; k++ {
		at := low.Add(axis.Scale(rise * float64(k) / 8))
		v := s.cut(name, section.NewPlane(at, axis), at, s.person)
		if best == nil || v[0].OK && (!best[0].OK || v[0].Value < best[0].Value) {
			best = v
		}
	}
	return best
}

// neckAxis returns the middle of the neck and its direction, upward.
func (s *subject) neckAxis() (at, axis mesh.Vec, ok bool) {
	var sum mesh.Vec
	var area float64
	for t := range s.m.Tri {
		if r := terms.Region(s.m.LabelOf(t)); r == terms.NeckFront || r == terms.NeckBack {
			a, b, c := s.m.Corner(t)
			w := s.m.TriangleArea(t)
			sum, area = sum.Add(a.Add(b).Add(c).Scale(w/3)), area+w
		}
	}
	if area == 0 {
		return at, axis, false
	}
	at = sum.Scale(1 / area)
	axis = s.joint[terms.Head].At.Sub(at).Unit()
	if axis[1] < 0.5 {
		axis = mesh.Vec{0, 1, 0}
	}
	return at, axis, true
}

func (s *subject) trunk() (out []Value) {
	hips := s.has[terms.LegUpperLeft] && s.has[terms.LegUpperRight] && s.has[terms.Head]
	for _, g := range trunkGirths {
		name := g.name + "-girth"
		if !hips {
			out = append(out, missing(name, "mm", "the scan shows no trunk"), missing(name+"-contour", "mm", "the scan shows no trunk"))
			continue
		}
		foot := s.joint[terms.LegUpperLeft].At.Add(s.joint[terms.LegUpperRight].At).Scale(0.5)
		at := foot.Add(s.joint[terms.Head].At.Sub(foot).Scale(g.at))
		keep := func(t int) bool {
			seg, ok := body.SegmentOf(s.m.LabelOf(t))
			return s.person(t) && ok && (seg == terms.Trunk || seg == terms.LegUpperLeft || seg == terms.LegUpperRight)
		}
		v := s.cut(name, section.NewPlane(at, mesh.Vec{0, 1, 0}), at, keep)
		if v[0].Why == openSection {
			v = []Value{missing(name, "mm", "an arm lies against the trunk"), missing(name+"-contour", "mm", "an arm lies against the trunk")}
		}
		out = append(out, v...)
	}
	return out
}

func (s *subject) limbs() (out []Value) {
	for _, g := range limbGirths {
		for side := terms.Segment(0); side < 2; side++ {
			name := g.name + "-girth-" + sideName(side)
			j := s.joint[g.segment+side]
			if !s.has[g.segment+side] {
				why := "the scan shows no " + strings.ReplaceAll(g.name, "-", " ")
				out = append(out, missing(name, "mm", why), missing(name+"-contour", "mm", why))
				continue
			}
			at := j.At.Add(j.Axis.Scale(g.at * j.LengthM))
			out = append(out, s.cut(name, section.NewPlane(at, j.Axis), at, s.person)...)
		}
	}
	return out
}

func sideName(side terms.Segment) string {
	if side == 0 {
		return "left"
	}
	return "right"
}

func (s *subject) shoulders() []Value {
	const name = "shoulder-breadth"
	if s.areas[terms.ShoulderLeft] == 0 || s.areas[terms.ShoulderRight] == 0 {
		return []Value{missing(name, "mm", "the scan shows no shoulders")}
	}
	lo, hi, _ := s.extent(s.sideways(), func(t int) bool {
		r := terms.Region(s.m.LabelOf(t))
		return r == terms.ShoulderLeft || r == terms.ShoulderRight
	})
	return []Value{mm(name, hi-lo, "")}
}
