package posture

import (
	"mien/asset/body"
	"mien/asset/mesh"
	"mien/asset/terms"
)

// limb is one segment of the figure with the joint it hangs on. The root, entry 0, has no joint.
type limb struct {
	seg    terms.Segment
	parent int // index of its parent, less than its own
	name   string

	pivot  mesh.Vec // joint centre in the old frame
	shift  mesh.Vec // refinement of the pivot, bounded by maxPivotShiftM
	turned rot      // about pivot + shift, from the new pose to the old

	axisNew mesh.Vec // unit, along the bone away from the joint, in the new scan
	radiusM float64
	lengthM float64
	blend   blend
}

// figure is the skeleton of one person in two poses.
type figure struct {
	root  rigid // from the new scan to the old frame
	limbs []limb
	of    [terms.SegmentCount]int // index of each segment in limbs, -1 when absent
}

// newFigure pairs the joints that both labelled scans have. Where no limb is present (a head scan with
// its neck) the head is the root and the neck hangs on it.
func newFigure(old, newer *mesh.Mesh) (*figure, error) {
	jo, err := body.Joints(old)
	if err != nil {
		return nil, err
	}
	jn, err := body.Joints(newer)
	if err != nil {
		return nil, err
	}
	f := &figure{root: rigid{R: unturned}}
	for i := range f.of {
		f.of[i] = -1
	}
	headOnly := len(jo) == 1 && jo[0].Child == terms.Head
	rootSeg := terms.Trunk
	if headOnly {
		rootSeg = terms.Head
	}
	f.limbs = append(f.limbs, limb{seg: rootSeg, name: body.SegmentName(rootSeg), turned: unturned})
	f.of[rootSeg] = 0
	for _, a := range jo {
		for _, b := range jn {
			if a.Child != b.Child {
				continue
			}
			l := limb{seg: a.Child, name: a.Name, pivot: a.At, turned: unturned,
				axisNew: b.Axis, radiusM: b.RadiusM, lengthM: b.LengthM}
			if headOnly {
				l.seg, l.axisNew = terms.Trunk, b.Axis.Scale(-1)
			} else {
				l.parent = f.of[a.Parent]
			}
			if l.parent < 0 {
				continue
			}
			f.of[l.seg] = len(f.limbs)
			f.limbs = append(f.limbs, l)
			f.lay(len(f.limbs)-1, a, b)
		}
	}
	f.pivotBlends()
	return f, nil
}

// lay gives limb i its first rotation: the least one that takes the new bone's direction, carried along
// by its parents, to the old bone's.
func (f *figure) lay(i int, old, newer body.Joint) {
	if newer.Child == terms.Head || old.LengthM < 0.05 {
		return
	}
	up := f.chain(f.limbs[i].parent)
	f.limbs[i].turned = between(up.R.apply(newer.Axis), old.Axis)
}

// centre returns the fixed point of limb i's rotation in the old frame.
func (l *limb) centre() mesh.Vec { return l.pivot.Add(l.shift) }

// chain returns the motion of limb i, from the new scan to the old frame.
func (f *figure) chain(i int) rigid {
	if i == 0 {
		return f.root
	}
	l := &f.limbs[i]
	return about(l.turned, l.centre()).after(f.chain(l.parent))
}

// motions returns the motion of every limb.
func (f *figure) motions() []rigid {
	out := make([]rigid, len(f.limbs))
	for i := range f.limbs {
		if i == 0 {
			out[0] = f.root
			continue
		}
		l := &f.limbs[i]
		out[i] = about(l.turned, l.centre()).after(out[l.parent])
	}
	return out
}

// pivotsNew returns every joint's centre in the new scan.
func (f *figure) pivotsNew() []mesh.Vec {
	m := f.motions()
	out := make([]mesh.Vec, len(f.limbs))
	for i := 1; i < len(f.limbs); i++ {
		out[i] = m[f.limbs[i].parent].back(f.limbs[i].centre())
	}
	return out
}

// depth returns how many joints lie between limb i and the root.
func (f *figure) depth(i int) int {
	d := 0
	for ; i > 0; i = f.limbs[i].parent {
		d++
	}
	return d
}
