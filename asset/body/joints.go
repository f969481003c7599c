package body

import (
	"errors"
	"fmt"
	"math"

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

// Where joints without a band of labels lie against the border loop of their segment. The head turns
// somewhat below the border that runs from chin to nape, the thigh above and inside the groin. The upper
// arm is as long as so many forearms (between Drillis and Contini 1966 and de Leva 1996, both from
// memory). Common practice otherwise, no source.
const (
	neckBelowBorder  = 0.10 // of the head's height over the border
	hipAboveBorder   = 0.07 // of the thigh's length
	hipInside        = 0.10 // of the distance between the two border loops
	upperArmForearms = 1.16
)

// Joints returns the joint centres of a labelled body, parents before children, as far as both
// segments of a joint are present. Elbows and knees are the centre of the limb's section at the middle
// of the band of labels around them; wrists and ankles the centre of the border loop between the two
// segments; hips and the neck follow from that loop; a shoulder lies on the upper arm's axis, at a
// distance from the elbow that goes by the forearm's length.
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
		j.RadiusM = border[s].lengthM / (zigzag * 2 * math.Pi)
		if b.band[0] != terms.NoRegion {
			if at, r, ok := bandCentre(m, b, mid); ok {
				j.RadiusM = r
				if s < terms.PalmLeft || s > terms.PalmRight && s < terms.SoleLeft {
					j.At = at // wrist and ankle bands end at the joint
				}
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
		out[i].place(m, out, mid, &border)
	}
	for i := range out {
		aim(m, out, i)
	}
	return out, nil
}

// place moves the joints that only have a border loop to their centre.
func (j *Joint) place(m *mesh.Mesh, all []Joint, mid []centre, border *[terms.SegmentCount]border) {
	switch j.Child {
	case terms.Head:
		j.At = j.At.Sub(j.Axis.Scale(neckBelowBorder * j.LengthM))
	case terms.LegUpperLeft, terms.LegUpperRight:
		up := j.Axis.Scale(hipAboveBorder * j.LengthM)
		if k := find(all, twin(j.Child)); k != nil {
			j.At = j.At.Add(border[k.Child].centre.Sub(border[j.Child].centre).Scale(hipInside))
		}
		j.At = j.At.Sub(up)
	case terms.ArmUpperLeft, terms.ArmUpperRight:
		elbow, wrist := find(all, j.Child+2), find(all, j.Child+4)
		upper := merge(mid, one(terms.UpperArmLeft+terms.Region(j.Child-terms.ArmUpperLeft)))
		if elbow == nil || wrist == nil || upper.area == 0 {
			return
		}
		l, ok := section.Nearest(section.Cut(m, section.NewPlane(upper.at, elbow.At.Sub(upper.at)), nil), upper.at)
		if !ok {
			return
		}
		c := l.Centroid()
		j.At = elbow.At.Add(c.Sub(elbow.At).Unit().Scale(upperArmForearms * wrist.At.Sub(elbow.At).Len()))
		j.RadiusM = 1.15 * l.Contour() / (2 * math.Pi)
	}
}

func find(js []Joint, child terms.Segment) *Joint {
	for i := range js {
		if js[i].Child == child {
			return &js[i]
		}
	}
	return nil
}

// twin returns the same segment of the other side.
func twin(s terms.Segment) terms.Segment {
	if (s-terms.ArmUpperLeft)%2 == 0 {
		return s + 1
	}
	return s - 1
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
	return l.Centroid(), l.Contour() / (2 * math.Pi), true
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

// zigzag is how much longer a border of labels runs along the edges of triangles than straight.
const zigzag = 1.2

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
