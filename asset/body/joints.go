package body

import (
	"errors"
	"fmt"

	"mien/asset/mesh"
	"mien/asset/section"
	"mien/asset/terms"
)

// Joint is the place where a segment hangs on its parent.
type Joint struct {
	Name    string
	Child   terms.Segment
	Parent  terms.Segment
	At      mesh.Vec // centre, metres
	Axis    mesh.Vec // unit, along the child's bone, away from the joint
	LengthM float64  // of the child's bone: to the next joint, or to the segment's far end
	RadiusM float64  // of the limb at the joint: that of a circle with the section's area
}

// ErrNoLabels says that a mesh has no region labels to find joints by.
var ErrNoLabels = errors.New("mesh has no region labels")

// How far the joint's centre lies from the border loop of the labels, along the child's bone towards
// the body, as a share of the bone's length. Common practice, no source: the border of the upper arm
// is drawn below the shoulder's cap, that of the thigh at the groin.
const (
	shoulderInset = 0.0
	hipInset      = 0.0
	neckInset     = 0.0
)

// Joints returns the joint centres of a labelled body, parents before children, as far as both
// segments of a joint are present. Elbows, wrists, knees and ankles are the centre of the limb's
// section at the middle of the band of labels around them; shoulders, hips and the neck follow from
// the border loop between the two segments.
//
// It returns [ErrNoLabels] for a mesh without labels and an error when no joint is found.
// Cost: O(triangles).
func Joints(m *mesh.Mesh) ([]Joint, error) {
	if m.Label == nil {
		return nil, ErrNoLabels
	}
	areas := SegmentAreas(m)
	mid := regionCentres(m)
	border := borders(m)
	var out []Joint
	for s := terms.Segment(1); s < terms.SegmentCount; s++ {
		b := skeleton[s]
		if areas[s] == 0 || areas[b.parent] == 0 || border[s].lengthM == 0 {
			continue
		}
		j := Joint{Name: b.joint, Child: s, Parent: b.parent, At: border[s].centre}
		j.RadiusM = border[s].lengthM / 6.283185307179586
		if b.band[0] != terms.NoRegion {
			if at, r, ok := bandCentre(m, b, mid); ok {
				j.At, j.RadiusM = at, r
			}
		}
		out = append(out, j)
	}
	if len(out) == 0 {
		return nil, fmt.Errorf("region labels: no two segments meet, allowed are a body or a head with its neck")
	}
	for i := range out {
		aim(m, out, i)
	}
	for i := range out {
		inset := 0.0
		switch out[i].Child {
		case terms.ArmUpperLeft, terms.ArmUpperRight:
			inset = shoulderInset
		case terms.LegUpperLeft, terms.LegUpperRight:
			inset = hipInset
		case terms.Head:
			inset = neckInset
		}
		out[i].At = out[i].At.Sub(out[i].Axis.Scale(inset * out[i].LengthM))
		out[i].LengthM *= 1 + inset
	}
	return out, nil
}

// aim fills the axis and length of joint i's bone.
func aim(m *mesh.Mesh, js []Joint, i int) {
	j := &js[i]
	for k := range js {
		if js[k].Parent == j.Child && j.Child != terms.Trunk {
			d := js[k].At.Sub(j.At)
			j.Axis, j.LengthM = d.Unit(), d.Len()
			return
		}
	}
	var sum mesh.Vec
	var area float64
	for t := range m.Tri {
		if s, ok := SegmentOf(m.LabelOf(t)); ok && s == j.Child {
			a, b, c := m.Corner(t)
			w := m.TriangleArea(t)
			sum = sum.Add(a.Add(b).Add(c).Scale(w / 3))
			area += w
		}
	}
	j.Axis = sum.Scale(1 / area).Sub(j.At).Unit()
	for v := range m.Pos {
		if s, ok := SegmentOf(m.Label[v]); ok && s == j.Child {
			j.LengthM = max(j.LengthM, m.At(uint32(v)).Sub(j.At).Dot(j.Axis))
		}
	}
}

// bandCentre returns the centre and radius of the limb's section at the middle of the band.
func bandCentre(m *mesh.Mesh, b bone, mid []centre) (at mesh.Vec, radiusM float64, ok bool) {
	p := merge(mid, b.top)
	d := merge(mid, b.below)
	k := merge(mid, b.band)
	if p.area == 0 || d.area == 0 || k.area == 0 {
		return at, 0, false
	}
	axis := d.at.Sub(p.at).Unit()
	at = p.at.Add(axis.Scale(k.at.Sub(p.at).Dot(axis)))
	own := func(t int) bool {
		switch r := terms.Region(m.LabelOf(t)); r {
		case b.band[0], b.top[0], b.top[1], b.below[0], b.below[1]:
			return true
		}
		return false
	}
	l, ok := section.Nearest(section.Cut(m, section.NewPlane(at, axis), own), at)
	if !ok {
		return at, 0, false
	}
	return l.Centroid(), l.Contour() / 6.283185307179586, true
}

// centre is an area-weighted mean place.
type centre struct {
	at   mesh.Vec
	area float64
}

func regionCentres(m *mesh.Mesh) []centre {
	out := make([]centre, terms.RegionCount)
	for t := range m.Tri {
		l := m.LabelOf(t)
		if l >= uint8(terms.RegionCount) {
			continue
		}
		a, b, c := m.Corner(t)
		w := m.TriangleArea(t)
		out[l].at = out[l].at.Add(a.Add(b).Add(c).Scale(w / 3))
		out[l].area += w
	}
	for i := range out {
		if out[i].area > 0 {
			out[i].at = out[i].at.Scale(1 / out[i].area)
		}
	}
	return out
}

func merge(mid []centre, r [2]terms.Region) centre {
	a, b := mid[r[0]], mid[r[1]]
	if r[0] == r[1] || b.area == 0 {
		return a
	}
	w := a.area + b.area
	return centre{a.at.Scale(a.area / w).Add(b.at.Scale(b.area / w)), w}
}

// border is the loop along which a segment meets its parent.
type border struct {
	centre  mesh.Vec
	lengthM float64
}

// borders returns, by child segment, the loop that passes through the middles of the edges between
// the child's and the parent's labels.
func borders(m *mesh.Mesh) (out [terms.SegmentCount]border) {
	for _, tri := range m.Tri {
		var s [3]terms.Segment
		labelled := true
		for k := range s {
			var ok bool
			s[k], ok = SegmentOf(m.Label[tri[k]])
			labelled = labelled && ok
		}
		if !labelled || s[0] == s[1] && s[1] == s[2] {
			continue
		}
		var ends [2]mesh.Vec
		n, child := 0, terms.Trunk
		for k := range s {
			a, b := s[k], s[(k+1)%3]
			switch {
			case a == b:
				continue
			case Parent(a) == b:
				child = a
			case Parent(b) == a:
				child = b
			default:
				continue
			}
			if n < 2 {
				ends[n] = m.At(tri[k]).Add(m.At(tri[(k+1)%3])).Scale(0.5)
				n++
			}
		}
		if n == 2 {
			w := ends[0].Sub(ends[1]).Len()
			out[child].centre = out[child].centre.Add(ends[0].Add(ends[1]).Scale(w / 2))
			out[child].lengthM += w
		}
	}
	for i := range out {
		if out[i].lengthM > 0 {
			out[i].centre = out[i].centre.Scale(1 / out[i].lengthM)
		}
	}
	return out
}
