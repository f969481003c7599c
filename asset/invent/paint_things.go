package invent

import (
	"math"

	"mien/asset/mesh"
	"mien/asset/terms"
	"mien/asset/texture"
)

// cloths are the colours of kit and shoes by index, sRGB; the values are invented.
var cloths = [...][3]uint8{
	{232, 230, 222}, {44, 46, 51}, {18, 92, 98}, {170, 66, 48}, {210, 160, 58},
	{34, 50, 96}, {66, 126, 72}, {108, 52, 100}, {126, 176, 208}, {140, 142, 146},
}

var clothTones = func() (t [len(cloths)][3]float32) {
	for i, c := range cloths {
		l := texture.LabFromSRGB8(c[0], c[1], c[2])
		t[i] = [3]float32{float32(l[0]), float32(l[1]), float32(l[2])}
	}
	return t
}()

// clothTone returns the Lab colour of a colour index; indices beyond the table start again.
func clothTone(i uint8) [3]float32 { return clothTones[int(i)%len(clothTones)] }

// strands returns the colour of hair or beard above an anchor.
func (k *painter) strands(q [3]float32) [3]float32 {
	x, y, z := q[0]*1000, q[1]*1000, q[2]*1000
	long := float32(14)
	if k.look.Hair == Curly {
		long = 3
	}
	v := k.fine * speckle(k.seed+21, x/1.8, y/long, z/1.8)
	lock := speckle(k.seed+22, x/9, y/28, z/9)
	light := 1 + .35*v + .25*lock
	return [3]float32{float32(k.hair[0]) * light, float32(k.hair[1]) * (.9 + .2*v), float32(k.hair[2]) * light}
}

// cloth returns the colour of shorts, sleeves, headband or cap over an anchor.
func (k *painter) cloth(q, n [3]float32) [3]float32 {
	x, y, z := q[0]*1000, q[1]*1000, q[2]*1000
	g := &k.p.base.plan
	main, second := k.look.KitColours[0], k.look.KitColours[1]
	if main == second {
		main, second = main+1, second+5
	}
	use := main
	switch k.region.Segment() {
	case terms.Trunk, terms.LegUpperLeft, terms.LegUpperRight:
		waist := float32(g.torso.at[1]+g.unit*70*g.trunk) + .06*z
		if absf(n[0]) > .9 && absf(x) > 70 || y > waist-28 {
			use = second
		}
	case terms.Head:
		use = second
		h := g.head.local(mesh.Vec{float64(x), float64(y), float64(z)})
		if k.look.Headband && math.Abs(h[1]-bandHeight(h[2])) < 4 {
			use = main
		}
	default:
		use = second
	}
	c := clothTone(use)
	c[0] += 2.2*k.fine*speckle(k.seed+31, x/1.3, y/1.3, z/1.3) + 1.6*speckle(k.seed+32, x/20, y/20, z/20)
	return c
}

// shoe returns the colour of a shoe at a point of its rest surface: sole, toe guard, heel counter,
// panels and laces, laid out by model.
func (k *painter) shoe(q, n [3]float32) [3]float32 {
	g := &k.p.base.plan
	p, nn := vec3(q).Scale(1000), vec3(n)
	if p[0] < 0 {
		p[0], nn[0] = -p[0], -nn[0]
	}
	h := g.foot.local(p)
	x, y, z := float32(h[0]), float32(h[1]), float32(h[2])
	model := max(k.look.Shoes.Model, 1) - 1
	main, panel, sole := clothTone(k.look.Shoes.Colours[0]), clothTone(k.look.Shoes.Colours[1]), clothTone(k.look.Shoes.Colours[2])
	c := main
	edge := 8 + 2*float32(model%3) + 1.8*float32(math.Sin(float64(z)/(13+5*float64(model%2))))
	switch {
	case y < edge || nn[1] < -.8 && y < 20:
		c = sole
		if y > edge-2 {
			c[0] *= .75
		}
		if model%2 == 1 && absf(y+6) < 3 {
			c = panel
		}
	case z > 148+float32(model*5%17):
		if model%2 == 0 {
			c = panel
		}
	case z < -38-float32(model*7%13) && y < float32(shoeModels[model%ShoeModels].collar)-16:
		if model%3 != 1 {
			c = panel
		}
	case absf(x) < 23 && nn[1] > .3 && z > 34 && z < 108:
		c = lace(c, z)
	default:
		if onPanel(model, y, z) {
			c = panel
		}
	}
	x, y, z = q[0]*1000, q[1]*1000, q[2]*1000
	c[0] += 1.8*k.fine*speckle(k.seed+41, x/1.6, y/1.6, z/1.6) + 1.2*speckle(k.seed+42, x/12, y/12, z/12)
	return c
}

// lace returns the colour of laces and of the tongue between them at z mm before the ankle.
func lace(c [3]float32, z float32) [3]float32 {
	if math.Abs(math.Mod(float64(z)-44+6.25+125, 12.5)-6.25) < 3.6 {
		return [3]float32{90, 0, 2}
	}
	c[0] *= .8
	return c
}

// onPanel reports whether a place on the side of a shoe lies on the coloured panel of a model: a board
// of squares, a zigzag, a quarter field, a diamond, or two level bands.
func onPanel(model int, y, z float32) bool {
	switch model % 5 {
	case 0:
		return z > -20 && z < 70 && y > 16 && (int(z+100)/13+int(y+100)/13)%2 == 0
	case 1:
		saw := float32(math.Abs(math.Mod(float64(z)+1000, 28)-14)) - 7
		v := y - 27 - saw
		return z > -30 && z < 110 && v > 0 && v < 8
	case 2:
		return z+y < 84 && z > -30
	case 3:
		v := absf(z-40) + absf(y-30)*1.6
		return v < 42 && v > 24
	}
	return y > 16 && y < 25 || y > 34 && y < 41
}
