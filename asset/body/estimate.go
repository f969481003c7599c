package body

import (
	"fmt"
	"math"

	"mien/asset/mesh"
	"mien/asset/section"
	"mien/asset/terms"
)

// What is taken for a whole body or for a head with its neck, by height in metres (trade facts:
// stature 1.2 to 2.3 m, head height .18 to .30 m, plus neck and hair).
const (
	leastStatureM, mostStatureM = 1.2, 2.4
	leastHeadM, mostHeadM       = 0.16, 0.55
)

// Estimate splits a scan without region labels into regions by its shape: a standing body with arms
// held away from it (stature, crotch and armpits are found, limbs are cut at fractions of their
// length, the trunk at fractions of stature), or a head with its neck. The result is a coarse
// estimate and must be marked as one; note says what it rests on.
//
// The mesh is in metres, +Y up; a body may face any way, a head must face +Z within some 30 degrees.
// It returns an error when the mesh is neither as tall as a person nor as a head, or when no legs are
// found. Parts of a stand stay unlabelled. Cost: about 120 plane cuts.
//
// Source of the limb fractions: Drillis and Contini 1966, as tabulated by Winter (from memory).
func Estimate(m *mesh.Mesh) (labels []uint8, note string, err error) {
	lo, hi, ok := m.Bounds()
	if !ok || len(m.Tri) == 0 {
		return nil, "", fmt.Errorf("mesh is empty")
	}
	h := hi[1] - lo[1]
	switch {
	case h >= leastHeadM && h <= mostHeadM:
		labels = estimateHead(m)
		return labels, "regions are an estimate from the shape of the head", nil
	case h < leastStatureM || h > mostStatureM:
		return nil, "", fmt.Errorf("mesh is %.3f m tall, allowed are %.2f to %.2f m (head) or %.1f to %.1f m (body)",
			h, leastHeadM, mostHeadM, leastStatureM, mostStatureM)
	}
	b, err := newBuild(m)
	if err != nil {
		return nil, "", err
	}
	labels = make([]uint8, len(m.Pos))
	for v := range m.Pos {
		labels[v] = uint8(b.region(b.own(m.At(uint32(v)))))
	}
	clearStand(m, labels)
	return labels, "regions are an estimate from the shape of the body", nil
}

// clearStand takes the labels off what is no part of the person.
func clearStand(m *mesh.Mesh, labels []uint8) {
	for t, tri := range m.Tri {
		if terms.Class(m.ClassOf(t)) == terms.Stand {
			for _, v := range tri {
				labels[v] = 0
			}
		}
	}
}

// build is what is found about an unlabelled body. Places are in the body's own frame: origin on the
// floor below the middle, +Z front, unit metres.
type build struct {
	origin mesh.Vec
	cos    float64 // turn about the vertical from the scan's frame to the body's
	sin    float64
	height float64

	crotch  float64
	midX    float64
	slices  []slice
	stepM   float64
	arm     [2]arm // left, right
	head    headFrame
	neckTop float64 // height of the chin
}

// arm is one arm as a straight line from the shoulder to the finger tips.
type arm struct {
	found         bool
	armpit        mesh.Vec
	shoulder, tip mesh.Vec
	axis          mesh.Vec
	length        float64
	near          []float64 // by slice: x that separates the trunk from the arm, NaN where none
}

// slice is a level cut.
type slice struct {
	y     float64
	loops []flatLoop
}

type flatLoop struct {
	c      mesh.Vec
	lo, hi mesh.Vec
	area   float64
}

// own returns p in the body's frame.
func (b *build) own(p mesh.Vec) mesh.Vec {
	d := p.Sub(b.origin)
	return mesh.Vec{b.cos*d[0] - b.sin*d[2], d[1], b.sin*d[0] + b.cos*d[2]}
}

func newBuild(m *mesh.Mesh) (*build, error) {
	person := func(t int) bool { return terms.Class(m.ClassOf(t)) != terms.Stand }
	lo, hi, mid, spread := standing(m, person)
	b := &build{origin: mesh.Vec{mid[0], lo, mid[2]}, height: hi - lo}
	a := lateral(spread)
	b.cos, b.sin = math.Cos(a), -math.Sin(a)
	b.stepM = b.height / 120
	for i := 1; i < 120; i++ {
		y := float64(i) * b.stepM
		pl := section.NewPlane(mesh.Vec{mid[0], lo + y, mid[2]}, mesh.Vec{0, 1, 0})
		s := slice{y: y}
		for _, l := range section.Cut(m, pl, person) {
			if l.Contour() < 0.04 {
				continue
			}
			f := flatLoop{c: b.own(l.Centroid()), area: l.Area(),
				lo: mesh.Vec{math.Inf(1), y, math.Inf(1)}, hi: mesh.Vec{math.Inf(-1), y, math.Inf(-1)}}
			for _, q := range l.Pts {
				p := b.own(pl.Lift(q))
				for k := 0; k < 3; k += 2 {
					f.lo[k], f.hi[k] = min(f.lo[k], p[k]), max(f.hi[k], p[k])
				}
			}
			s.loops = append(s.loops, f)
		}
		b.slices = append(b.slices, s)
	}
	if b.facesBack() {
		b.cos, b.sin = -b.cos, -b.sin
		for i := range b.slices {
			for k := range b.slices[i].loops {
				f := &b.slices[i].loops[k]
				f.lo, f.hi = mesh.Vec{-f.hi[0], f.lo[1], -f.hi[2]}, mesh.Vec{-f.lo[0], f.hi[1], -f.lo[2]}
				f.c[0], f.c[2] = -f.c[0], -f.c[2]
			}
		}
	}
	if n := len(b.at(0.2 * b.height).loops); n < 2 {
		return nil, fmt.Errorf("mesh has %d separate legs at a fifth of its height, allowed 2", n)
	}
	if s := b.at(0.72 * b.height); len(s.loops) > 0 {
		b.midX = s.widest().c[0]
	}
	b.findCrotch()
	for side := range b.arm {
		b.findArm(side)
	}
	b.findHead()
	return b, nil
}

// standing returns the person's extent in height, the centre of its surface, and the surface's second
// moments xx, xz, zz about it.
func standing(m *mesh.Mesh, person func(t int) bool) (lo, hi float64, mid mesh.Vec, spread [3]float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	var area float64
	for pass := 0; pass < 2; pass++ {
		for t := range m.Tri {
			if !person(t) {
				continue
			}
			p, q, r := m.Corner(t)
			w := m.TriangleArea(t)
			c := p.Add(q).Add(r).Scale(1.0 / 3)
			if pass == 0 {
				lo, hi = min(lo, p[1], q[1], r[1]), max(hi, p[1], q[1], r[1])
				mid, area = mid.Add(c.Scale(w)), area+w
				continue
			}
			d := c.Sub(mid)
			spread[0] += w * d[0] * d[0]
			spread[1] += w * d[0] * d[2]
			spread[2] += w * d[2] * d[2]
		}
		if pass == 0 && area > 0 {
			mid = mid.Scale(1 / area)
		}
	}
	return lo, hi, mid, spread
}

// lateral returns the turn about the vertical that brings the direction of greatest spread, the line
// from hand to hand, onto x, between -90 and 90 degrees.
func lateral(s [3]float64) float64 { return 0.5 * math.Atan2(2*s[1], s[0]-s[2]) }

// facesBack reports whether the feet point to -Z: in front of the ankles there is more foot than behind.
func (b *build) facesBack() bool {
	ankle, foot := b.at(0.06*b.height), b.at(0.012*b.height)
	if len(ankle.loops) == 0 || len(foot.loops) == 0 {
		return false
	}
	var az, lo, hi, area float64
	for _, l := range ankle.loops {
		az += l.c[2] * l.area
		area += l.area
	}
	az /= area
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, l := range foot.loops {
		lo, hi = min(lo, l.lo[2]), max(hi, l.hi[2])
	}
	return az-lo > hi-az
}

// at returns the slice nearest to height y.
func (b *build) at(y float64) *slice {
	i := int(math.Round(y/b.stepM)) - 1
	return &b.slices[min(max(i, 0), len(b.slices)-1)]
}

// widest returns the loop with the largest area.
func (s *slice) widest() *flatLoop {
	k := 0
	for i := range s.loops {
		if s.loops[i].area > s.loops[k].area {
			k = i
		}
	}
	return &s.loops[k]
}

// trunk returns the loop that lies across the midline, nil when there is none.
func (s *slice) trunk(midX float64) *flatLoop {
	var best *flatLoop
	for i := range s.loops {
		l := &s.loops[i]
		if l.lo[0] < midX && l.hi[0] > midX && (best == nil || l.area > best.area) {
			best = l
		}
	}
	return best
}

func (b *build) findCrotch() {
	b.crotch = 0.42 * b.height
	for _, s := range b.slices {
		if s.y < 0.40*b.height || s.y > 0.54*b.height {
			continue
		}
		if t := s.trunk(b.midX); t != nil && t.hi[0]-t.lo[0] > 0.12*b.height {
			break
		}
		b.crotch = s.y
	}
}

// findArm follows one arm from the armpit, the highest level at which it is apart from the trunk, down
// to the finger tips.
func (b *build) findArm(side int) {
	sign := 1.0 - 2*float64(side)
	a := &b.arm[side]
	a.near = make([]float64, len(b.slices))
	for i := range a.near {
		a.near[i] = math.NaN()
	}
	var line []mesh.Vec
	var last *flatLoop
	for i := len(b.slices) - 1; i >= 0; i-- {
		s := &b.slices[i]
		if s.y > 0.84*b.height || s.y < 0.25*b.height {
			continue
		}
		trunk := s.trunk(b.midX)
		edge := b.midX
		if trunk != nil {
			edge = trunk.hi[0]
			if side == 1 {
				edge = trunk.lo[0]
			}
		}
		var best *flatLoop
		for k := range s.loops {
			l := &s.loops[k]
			inner := l.lo[0]
			if side == 1 {
				inner = l.hi[0]
			}
			if l == trunk || sign*(inner-edge) < 0 || l.area > 0.02 {
				continue
			}
			if trunk == nil && sign*(l.c[0]-b.midX) < 0.14*b.height {
				continue // a leg
			}
			if last != nil && l.c.Sub(last.c).Len() > 0.09 {
				continue
			}
			if best == nil || sign*(l.c[0]-best.c[0]) > 0 {
				best = l
			}
		}
		if best == nil {
			if last != nil && len(line) > 8 {
				break
			}
			continue
		}
		if trunk == nil { // between the hand and the legs
			for k := range s.loops {
				l := &s.loops[k]
				if l != best && sign*(l.c[0]-b.midX) > 0 && sign*(best.c[0]-l.c[0]) > 0 {
					if side == 0 {
						edge = max(edge, l.hi[0])
					} else {
						edge = min(edge, l.lo[0])
					}
				}
			}
		}
		inner := best.lo[0]
		if side == 1 {
			inner = best.hi[0]
		}
		a.near[i] = (edge + inner) / 2
		if last == nil {
			a.armpit = mesh.Vec{a.near[i], s.y, best.c[2]}
		}
		last = best
		line = append(line, best.c)
	}
	if len(line) < 12 {
		return
	}
	a.found = true
	tip := line[len(line)-1]
	a.tip = mesh.Vec{tip[0], tip[1] - b.stepM, tip[2]}
	q := line[len(line)/2]
	up := line[0].Sub(q).Unit()
	rise := max(0.818*b.height-line[0][1], 0) // shoulder height, Drillis and Contini
	a.shoulder = line[0]
	if up[1] > 0.2 {
		a.shoulder = line[0].Add(up.Scale(rise / up[1]))
	}
	d := a.tip.Sub(a.shoulder)
	a.axis, a.length = d.Unit(), d.Len()
}
