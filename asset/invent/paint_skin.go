package invent

import (
	"math"

	"mien/asset/terms"
	"mien/asset/texture"
)

// skinTones are the middles of the lightness bands. Their individual typology angles, from very light
// to dark, fall into the classes of Chardon et al. 1991 (class limits second hand: above 55 very
// light, 41 light, 28 intermediate, 10 tan, -30 brown); the Lab values are invented.
var skinTones = [6]texture.Lab{
	{73, 9.5, 15.5}, {67.5, 11.5, 18}, {61.5, 13, 20}, {54, 14, 21}, {43.5, 13.5, 18.5}, {33, 11, 12.5},
}

// skin returns the person's own mean skin colour, near the middle of their band.
func (p Person) skin() texture.Lab {
	c := skinTones[min(max(p.Tone, 0), 5)]
	r := newRandom(p.Seed, "skin tone")
	c[0] += r.between(-1.5, 1.5)
	c[1] += r.between(-1, 1)
	c[2] += r.between(-1, 1)
	return c
}

// skinAt returns the Lab colour of the skin at an anchor.
func (k *painter) skinAt(q, n [3]float32, exposed float32) [3]float32 {
	x, y, z := q[0]*1000, q[1]*1000, q[2]*1000
	slow := speckle(k.seed, x/30, y/30, z/30)
	blood := speckle(k.seed+1, x/14, y/14, z/14)
	mottle := speckle(k.seed+2, x/5, y/5, z/5)
	var pore float32
	if k.fine > 0 {
		pore = k.fine * speckle(k.seed+3, x/1.7, y/1.7, z/1.7)
	}
	c := [3]float32{
		float32(k.tone[0]) + 2.0*slow - 0.7*blood + 1.2*mottle + 1.3*pore,
		float32(k.tone[1]) + 0.5*slow + 1.9*blood + 0.5*mottle,
		float32(k.tone[2]) + 0.9*slow - 0.6*blood + 0.3*mottle,
	}
	seg := k.region.Segment()
	if seg == terms.Head || k.region == terms.NeckFront || k.region == terms.NeckBack {
		k.faceAt(&c, q)
	} else {
		k.bodyAt(&c, q, n)
	}
	if k.look.Freckles > 0 {
		k.freckles(&c, x, y, z)
	}
	if exposed > 0 {
		// Sun darkens and yellows: the shift has unit length in Lab.
		tan := float32(k.look.TanDE) * exposed
		c[0] -= 0.83 * tan
		c[1] += 0.26 * tan
		c[2] += 0.49 * tan
	}
	for _, i := range k.active {
		d := &k.decals[i]
		if w := d.cover(q, n); w > 0 {
			c[0] += w * d.shift[0]
			c[1] += w * d.shift[1]
			c[2] += w * d.shift[2]
		}
	}
	return c
}

// bodyAt adds what depends on the place on the body: paler palms and soles, ruddier knuckles, elbows
// and knees.
func (k *painter) bodyAt(c *[3]float32, q, n [3]float32) {
	g := &k.p.base.plan
	p := vec3(q).Scale(1000)
	nn := vec3(n)
	right := p[0] < 0
	if right {
		p[0], nn[0] = -p[0], -nn[0]
	}
	dark := float32(max(0, 62-k.tone[0]) / 30)
	switch k.region {
	case terms.HandLeft, terms.HandRight, terms.WristLeft, terms.WristRight:
		h := g.hand.local(p)
		palm := rise(0.1, -0.55, float32(nn.Dot(g.hand.axis[0]))) * rise(0, 14, float32(h[1]))
		c[0] += palm * (2 + 15*dark)
		c[1] += palm * (3.5 - 2*dark)
		c[2] -= palm * 2
		knuckle := rise(12, 4, absf(float32(h[1])-94)) * (1 - palm)
		c[0] -= 1.6 * knuckle
		c[1] += 1.8 * knuckle
	case terms.FootLeft, terms.FootRight:
		sole := rise(-0.2, -0.7, n[1])
		c[0] += sole * (2 + 13*dark)
		c[1] += sole * (3 - 2*dark)
		c[2] -= sole * 1
	case terms.ElbowLeft, terms.ElbowRight, terms.UpperArmLeft, terms.UpperArmRight, terms.ForearmLeft, terms.ForearmRight:
		w := rise(52, 20, float32(p.Sub(g.elbow).Len())) * rise(0.2, -0.5, n[2])
		c[0] -= 2.4 * w
		c[1] += 2.2 * w
		inner := rise(0.1, -0.8, float32(nn[0])) // paler on the inside of the arm
		c[0] += 1.6 * inner
	case terms.KneeLeft, terms.KneeRight, terms.ThighLeft, terms.ThighRight, terms.ShinLeft, terms.ShinRight:
		w := rise(85, 45, float32(p.Sub(g.knee).Len())) * rise(0, 0.7, n[2])
		c[0] -= 2.0 * w
		c[1] += 1.8 * w
	case terms.Chest:
		t := p.Sub(g.trunkPoint(98*g.b.Chest, 1335, 118*g.b.Depth))
		w := rise(13, 10, float32(t.Len()))
		c[0] -= 9 * w
		c[1] += 6 * w
	}
}

// freckles adds small brown spots to face, shoulders and arms.
func (k *painter) freckles(c *[3]float32, x, y, z float32) {
	switch k.region.Segment() {
	case terms.LegUpperLeft, terms.LegUpperRight, terms.LegLowerLeft, terms.LegLowerRight, terms.SoleLeft, terms.SoleRight:
		return
	case terms.Trunk:
		if k.region != terms.ShoulderLeft && k.region != terms.ShoulderRight && k.region != terms.BackUpper {
			return
		}
	}
	w := spots(k.seed+9, x, y, z, float32(k.look.Freckles))
	c[0] -= 9 * w
	c[1] += 3 * w
	c[2] += 4.5 * w
}

// spots is the cover at a point in mm by small round spots: one at most in each cell of 5 mm, there
// with probability of half of many.
func spots(seed uint32, x, y, z, many float32) float32 {
	const cell, far = 5, 1 << 14
	fx, fy, fz := x/cell+far-.5, y/cell+far-.5, z/cell+far-.5
	i, j, l := int32(fx), int32(fy), int32(fz)
	var most float32
	for n := int32(0); n < 8; n++ {
		a, b, c := i+n&1, j+n>>1&1, l+n>>2
		if lattice(seed, a, b, c) > many-1 {
			continue
		}
		dx := fx - float32(a) - .25*lattice(seed+1, a, b, c)
		dy := fy - float32(b) - .25*lattice(seed+2, a, b, c)
		dz := fz - float32(c) - .25*lattice(seed+3, a, b, c)
		size := .29 + .1*lattice(seed+4, a, b, c)
		most = max(most, rise(size, size*.5, float32(math.Sqrt(float64(dx*dx+dy*dy+dz*dz)))))
	}
	return most
}

// exposure is how much sun a place gets: face, neck and arms below the sleeve.
func (k *painter) exposure(q [3]float32, region terms.Region) float32 {
	g := &k.p.base.plan
	switch region.Segment() {
	case terms.Head, terms.ArmLowerLeft, terms.ArmLowerRight, terms.PalmLeft, terms.PalmRight:
		return 1
	case terms.ArmUpperLeft, terms.ArmUpperRight:
		p := vec3(q).Scale(1000)
		if p[0] < 0 {
			p[0] = -p[0]
		}
		bone := g.elbow.Sub(g.shoulder)
		return rise(0.35, 0.6, float32(p.Sub(g.shoulder).Dot(bone)/bone.Dot(bone)))
	}
	if region == terms.NeckFront || region == terms.NeckBack {
		return rise(float32(g.trunkPoint(0, 1515, 0)[1]), float32(g.trunkPoint(0, 1570, 0)[1]), q[1]*1000)
	}
	return 0
}

// moles returns the small dark marks that a person was born with: part of who they are.
func (p Person) moles(softCM float64) []decal {
	r := newRandom(p.Seed, "moles")
	places := [...]terms.Region{
		terms.ForearmLeft, terms.ForearmRight, terms.UpperArmLeft, terms.UpperArmRight, terms.Chest, terms.BackUpper,
		terms.BackUpper, terms.BackLower, terms.Abdomen, terms.ThighLeft, terms.ThighRight, terms.CalfLeft,
		terms.ShinRight, terms.CheekLeft, terms.CheekRight, terms.NeckFront, terms.ShoulderLeft, terms.ShoulderRight,
	}
	out := make([]decal, 0, len(places))
	for _, region := range places {
		along, around, size := r.between(-4, 4), r.between(-4, 4), r.between(.16, .42)
		if region == terms.CheekLeft || region == terms.CheekRight {
			along, around, size = along*.3, around*.3, size*.7
		}
		c := newCanvas(size+.3, size+.3, softCM)
		c.disc(point{}, size/2)
		d := newDecal(p.Place(region, along, around), 0, c)
		deep := float32(r.between(.5, 1))
		d.shift = [3]float32{-0.22 * float32(p.skin()[0]) * deep, 2 * deep, 1 * deep}
		out = append(out, d)
	}
	return out
}

func absf(x float32) float32 { return max(x, -x) }
