package invent

import (
	"math"

	"mien/asset/mesh"
	"mien/asset/terms"
)

// ShapeChange is how far, in mm along the outward normal in rest pose, the surface at an anchor lies
// further out in the newer look than in the older one: physique, hair, beard and cloth. Shoes, hair
// that falls free and the peak of a cap are shapes of their own and not in it.
func (p Person) ShapeChange(older, newer Look, anchor [3]float32) float64 {
	at := millimetres(anchor)
	a, _ := p.base.cover(&older, at)
	b, _ := p.base.cover(&newer, at)
	return b - a
}

// ClassAt returns what the surface at an anchor is made of in a look, shoes and free hair left out.
func (p Person) ClassAt(look Look, anchor [3]float32) terms.Class {
	_, c := p.base.cover(&look, millimetres(anchor))
	return c
}

// cover returns how far a look lifts the surface over the bare body at a base point, and what the
// surface is made of there.
func (b *base) cover(look *Look, p mesh.Vec) (mm float64, class terms.Class) {
	w := b.plan.weights(p)
	mm = b.flesh(look, p, &w)
	class = terms.Skin
	if w[terms.Head] > .02 {
		h := b.plan.head.local(p)
		t, c := b.headCover(look, h)
		mm += t * w[terms.Head]
		if c != terms.Skin {
			return mm, c
		}
		if b.onEyeBall(h) {
			return mm, terms.EyeClass
		}
	}
	if t, edge := b.clothCover(look, p, &w); edge > 0 {
		return mm + t, terms.Cloth
	} else {
		mm += t
	}
	return mm, class
}

// onEyeBall reports whether a point of the head's frame lies on a ball between the lids.
func (b *base) onEyeBall(h mesh.Vec) bool {
	h[0] = math.Abs(h[0])
	c := eyeCentre(b.face, 1)
	return h[2] > c[2]+2 && oval(h[0]-c[0], h[1]-c[1]+.4, 11.8, 5.3) < 1
}

// flesh is the growth by fat and muscle at a point. It is the stated amount where it is fullest and
// fades smoothly to nothing at hands, feet, skull, nose and ears.
func (b *base) flesh(look *Look, p mesh.Vec, w *[terms.SegmentCount]float64) float64 {
	fat, muscle := look.HeavierMm, look.MuscleMm
	if fat == 0 && muscle == 0 {
		return 0
	}
	g := &b.plan
	q := p
	q[0] = math.Abs(q[0])
	y := 965 + (q[1]-g.torso.at[1])/(g.unit*g.trunk)
	z := q[2] / g.unit
	var f, m float64
	if t := w[terms.Trunk]; t > 0 {
		front := ramp(-60, 60, z)
		belly := ramp(960, 1060, y) * ramp(1330, 1200, y)
		f += t * (.42 + .58*belly*(.55+.45*front)) * ramp(1600, 1480, y)
		upper := ramp(1230, 1340, y) * ramp(1590, 1500, y)
		m += t * (.12 + .78*upper + .1*ramp(1100, 980, y)) * ramp(1620, 1540, y)
	}
	for _, right := range [2]terms.Segment{0, 1} {
		if t := w[terms.ArmUpperLeft+right]; t > 0 {
			a := along(g.shoulder, g.elbow, q)
			f += t * lerp(.5, .25, ramp(.5, 1, a))
			m += t * lerp(1, .25, ramp(.65, 1, a))
		}
		if t := w[terms.ArmLowerLeft+right]; t > 0 {
			a := along(g.elbow, g.wrist, q)
			f += t * .25 * ramp(1, .4, a)
			m += t * (.25 + .4*ramp(0, .2, a)) * ramp(.9, .35, a)
		}
		if t := w[terms.LegUpperLeft+right]; t > 0 {
			a := along(g.hip, g.knee, q)
			f += t * lerp(.75, .2, ramp(.25, 1, a))
			m += t * lerp(.8, .15, ramp(.5, .95, a))
		}
		if t := w[terms.LegLowerLeft+right]; t > 0 {
			a := along(g.knee, g.ankle, q)
			f += t * .2 * ramp(1, .5, a)
			m += t * (.15 + .4*ramp(0, .2, a)) * ramp(.85, .4, a)
		}
	}
	if t := w[terms.Head]; t > 0 {
		h := g.head.local(q)
		low := ramp(96, 52, h[1]) * ramp(-60, -10, h[2]) * ramp(67, 60, h[0]) * ramp(1, 1.5, math.Sqrt(oval(h[0], h[1]-62, 31, 36)))
		f += t * .4 * low
	}
	return fat*f + muscle*m
}

// hairMm is the thickness of the hair of each style.
var hairMm = [hairStyles]float64{Cropped: 3, Short: 12, Curly: 35, Long: 14, Knot: 8}

// curlMm is the size of waves and curls, 0 for smooth hair.
var curlMm = [hairStyles]float64{Short: 22, Curly: 15, Long: 30}

var beardMm = [beardStyles]float64{ShortBeard: 5, FullBeard: 18}

// headCover returns the thickness in mm of what covers the head at a point of its frame, and what it is.
func (b *base) headCover(look *Look, h mesh.Vec) (float64, terms.Class) {
	q := h
	q[0] = math.Abs(q[0])
	scale := b.plan.head.scale
	ear := ramp(1.5, .9, oval(q[1]-earHeight+3, q[2]+17, 36, 24)) * ramp(64, 70, q[0])
	mm, class := 0.0, terms.Skin
	line := hairline(q)
	if full := hairMm[look.Hair]; full > 0 {
		edge := min(12+full*.5, 24)
		t := full * ramp(-1, edge, line) * (1 - ear)
		if look.Hair == Curly { // cut shorter towards the nape
			t *= lerp(.3, 1, ramp(70, 160, q[1]))
		}
		if cell := curlMm[look.Hair]; cell > 0 && t > 0 {
			t *= 1 + .2*smoothNoise(h.Scale(1/cell), b.seed^uint64(look.Hair))
		}
		mm = t
		if line > 1 && ear < .5 {
			class = terms.HairClass
		}
	}
	if full := beardMm[look.Beard]; full > 0 && class == terms.Skin {
		if edge := beardLine(q, b.face); edge > 0 {
			t := full * ramp(0, 6+full*.5, edge) * (1 + .12*smoothNoise(h.Scale(1./9), b.seed^77)) * (1 - ear)
			mm = max(mm, t)
			if ear < .4 {
				class = terms.HairClass
			}
		}
	}
	if look.Headband {
		off := math.Abs(q[1]-bandHeight(q[2])) - 21
		if off < 0 {
			class = terms.Cloth
			mm = lerp(min(mm, 6), 3.5+.4*min(hairMm[look.Hair], 6), ramp(0, -6, off))
		} else if off < 16 { // the band draws the hair in beside it
			mm = lerp(mm, min(mm, 6), ramp(16, 0, off))
		}
	}
	if look.Cap {
		if edge := q[1] - bandHeight(q[2]) + 14; edge > 0 {
			return lerp(mm, 6+min(hairMm[look.Hair], 7), ramp(0, 7, edge)) * scale, terms.Cloth
		}
	}
	return mm * scale, class
}

// bandHeight is the height of the middle of a headband, lower behind.
func bandHeight(z float64) float64 { return 171 + .17*z }

// beardLine is about how far, in mm of the middle head, a point of the left half lies within the beard.
func beardLine(q mesh.Vec, f Face) float64 {
	deg := math.Atan2(q[0], q[2]+8) * 180 / math.Pi
	top := lerp(60, 116, ramp(26, 78, deg)) // cheek line rising to the sideburn
	back := 86 - deg + ramp(70, 30, q[1])*12
	edge := min(top-q[1], back, q[1]+9-.45*max(0, 55-q[2]))
	if moustache := 1 - math.Sqrt(oval(q[0], q[1]-62, 36, 11)); q[2] > 60 {
		edge = min(max(edge, moustache*11), 66-q[1]+.8*max(0, q[0]-17))
	}
	lips := math.Sqrt(oval(q[0], q[1]-mouthHeight, 29*(1+.06*f.MouthWidth), 11.5)) - 1
	if q[2] > 55 {
		edge = min(edge, lips*11)
	}
	return edge
}

// clothCover returns the thickness of shorts and sleeves at a point, and how far inside their edge it
// lies in mm (negative outside).
func (b *base) clothCover(look *Look, p mesh.Vec, w *[terms.SegmentCount]float64) (mm, edge float64) {
	g := &b.plan
	q := p
	q[0] = math.Abs(q[0])
	edge = -1
	if low := w[terms.Trunk] + w[terms.LegUpperLeft] + w[terms.LegUpperRight]; low > .6 {
		waist := g.torso.at[1] + g.unit*70*g.trunk + .06*(q[2])
		hem := .40
		edge = min(waist-q[1], (hem-along(g.hip, g.knee, q))*g.knee.Sub(g.hip).Len())
	}
	thick := 2.0
	for _, r := range look.Sleeves {
		right := r.Segment() == terms.ArmUpperRight || r.Segment() == terms.ArmLowerRight
		if right != (p[0] < 0) {
			continue
		}
		from, to, a, z := g.elbow, g.wrist, .1, .93
		if r == terms.UpperArmLeft || r == terms.UpperArmRight {
			from, to, a, z = g.shoulder, g.elbow, .34, .92
		}
		arm := w[terms.ArmUpperLeft] + w[terms.ArmUpperRight] + w[terms.ArmLowerLeft] + w[terms.ArmLowerRight]
		if t := along(from, to, q); arm > .6 {
			if e := min(t-a, z-t) * to.Sub(from).Len(); e > edge {
				edge, thick = e, 2.5
			}
		}
	}
	return thick * ramp(0, 5, edge), edge
}
