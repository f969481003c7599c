package posture

import (
	"mien/asset/mesh"
	"mien/asset/terms"
)

// pivotBlends gives every joint its usual blend.
func (f *figure) pivotBlends() {
	for i := 1; i < len(f.limbs); i++ {
		l := &f.limbs[i]
		l.blend = blend{dir: f.bandDirections(i)[0], half: min(max(0.9*l.radiusM, 0.02), 0.07)}
		if l.seg == terms.ArmUpperLeft || l.seg == terms.ArmUpperRight {
			l.blend.at = -0.5 * l.radiusM // the armhole lies inside the joint
		}
	}
}

// choices returns the blends that are tried at joint i in one sweep of the search from blend b:
// directions and places, then widths, then places more finely; always in the same order.
func (f *figure) choices(i int, b blend, sweep int) (out []blend) {
	r := f.limbs[i].radiusM
	switch sweep {
	case 0:
		for _, dir := range f.bandDirections(i) {
			for _, at := range []float64{0, -0.3, 0.3, -0.6, 0.6, -0.9} {
				out = append(out, blend{dir: dir, at: at * r, half: b.half})
			}
		}
	case 1:
		for _, half := range []float64{0.5, 0.7, 0.9, 1.1, 1.4} {
			out = append(out, blend{dir: b.dir, at: b.at, half: half * r})
		}
	default:
		for _, d := range []float64{-0.15, 0.15} {
			out = append(out, blend{dir: b.dir, at: b.at + d*r, half: b.half})
		}
	}
	return out
}

// bandDirections returns the directions across which the skin may pass from parent to child at joint i,
// the usual first: across the armhole at a shoulder, along the groin at a hip, between chin and nape
// at the neck, half way between the two bones elsewhere.
func (f *figure) bandDirections(i int) []mesh.Vec {
	l := &f.limbs[i]
	up := mesh.Vec{0, 1, 0}
	tilt := func(v mesh.Vec, by mesh.Vec, share float64) mesh.Vec { return v.Add(by.Scale(share)).Unit() }
	switch l.seg {
	case terms.ArmUpperLeft, terms.ArmUpperRight:
		out := f.outward(i)
		return []mesh.Vec{tilt(out, up, 0.2), out, tilt(out, up, 0.4), tilt(out, l.axisNew, 0.3), tilt(out, l.axisNew, 0.8), l.axisNew}
	case terms.LegUpperLeft, terms.LegUpperRight:
		return []mesh.Vec{tilt(l.axisNew, f.outward(i), 0.3), l.axisNew, tilt(l.axisNew, f.outward(i), 0.7)}
	case terms.Head, terms.Trunk:
		front := f.front()
		sign := 1.0
		if l.seg == terms.Trunk {
			sign = -1
		}
		return []mesh.Vec{tilt(up, front, 0.4).Scale(sign), up.Scale(sign)}
	}
	p := &f.limbs[l.parent]
	return []mesh.Vec{tilt(l.axisNew, p.axisNew, 1), l.axisNew}
}

// outward returns the level direction from the body's middle to joint i's side.
func (f *figure) outward(i int) mesh.Vec {
	l := &f.limbs[i]
	twin := l.seg + 1
	if (l.seg-terms.ArmUpperLeft)%2 == 1 {
		twin = l.seg - 1
	}
	d := mesh.Vec{l.axisNew[0], 0, l.axisNew[2]}
	if k := f.of[twin]; k > 0 {
		d = l.pivot.Sub(f.limbs[k].pivot)
		d[1] = 0
	}
	if d.Len() < 1e-6 {
		return mesh.Vec{1, 0, 0}
	}
	return d.Unit()
}

// front returns the level direction that the person faces: +Z without a pair of joints to tell.
func (f *figure) front() mesh.Vec {
	for _, s := range []terms.Segment{terms.LegUpperLeft, terms.ArmUpperLeft} {
		if k := f.of[s]; k > 0 && f.of[s+1] > 0 {
			return f.outward(k).Cross(mesh.Vec{0, 1, 0})
		}
	}
	return mesh.Vec{0, 0, 1}
}
