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

// clothTone returns the Lab colour of a colour index; indices beyond the table start again.
func clothTone(i uint8) [3]float32 {
	c := cloths[int(i)%len(cloths)]
	l := texture.LabFromSRGB8(c[0], c[1], c[2])
	return [3]float32{float32(l[0]), float32(l[1]), float32(l[2])}
}

// strands returns the colour of hair or beard above an anchor.
func (k *painter) strands(q [3]float32) [3]float32 {
	x, y, z := q[0]*1000, q[1]*1000, q[2]*1000
	long := float32(14)
	if k.look.Hair == Curly {
		long = 3
	}
	v := speckle(k.seed+21, x/1.8, y/long, z/1.8)
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
		if w := float32(g.hip[1]); y < w+40 && absf(n[0]) > .9 && absf(x) > 70 {
			use = second
		}
		if y > float32(g.trunkPoint(0, 1035, 0)[1]) {
			use = second
		}
	case terms.Head:
		use = second
		if h := g.head.local(mesh.Vec{float64(x), float64(y), float64(z)}); math.Abs(h[1]-172) < 4 && k.look.Headband {
			use = main
		}
	default:
		use = second
	}
	c := clothTone(use)
	c[0] += 2.2*speckle(k.seed+31, x/1.3, y/1.3, z/1.3) + 1.6*speckle(k.seed+32, x/20, y/20, z/20)
	return c
}

// shoe returns the colour of a shoe at a point of its rest surface.
func (k *painter) shoe(q, n [3]float32) [3]float32 {
	g := &k.p.base.plan
	p := vec3(q).Scale(1000)
	if p[0] < 0 {
		p[0] = -p[0]
	}
	h := g.foot.local(p)
	x, y, z := float32(h[0]), float32(h[1]), float32(h[2])
	model := k.look.Shoes.Model
	main, panel, sole := clothTone(k.look.Shoes.Colours[0]), clothTone(k.look.Shoes.Colours[1]), clothTone(k.look.Shoes.Colours[2])
	c := main
	edge := 17 + float32(model%3)*3 + 2.5*float32(math.Sin(float64(z)/(14+4*float64(model%2))))
	switch {
	case y < edge:
		c = sole
		if y > edge-2.2 {
			c[0] -= 18
		}
	case z > 118+float32(model*4%18) && y < 62:
		if model%2 == 0 {
			c = panel
		}
	case z < -42:
		if model%3 != 1 {
			c = panel
		}
	default:
		c = k.shoeSide(c, panel, x, y, z, n, model)
	}
	c[0] += 1.8*speckle(k.seed+41, x/1.6, y/1.6, z/1.6) + 1.2*speckle(k.seed+42, x/12, y/12, z/12)
	return c
}

// shoeSide draws stripes, arcs or fields on the sides and laces on top.
func (k *painter) shoeSide(c, panel [3]float32, x, y, z float32, n [3]float32, model int) [3]float32 {
	if absf(x) < 21 && n[1] > .45 && z > 5 && z < 105 {
		if math.Mod(float64(z)+1000, 13) < 4.5 {
			return [3]float32{88, 0, 2}
		}
		c[0] *= .86
		return c
	}
	switch model % 4 {
	case 0:
		if math.Mod(float64(z-.5*y)+1000, 26) < 11 {
			return panel
		}
	case 1:
		if v := y - 30 - .006*(z-10)*(z-10); v > 0 && v < 13 {
			return panel
		}
	case 2:
		if z+y < 74 && z > -30 {
			return panel
		}
	default:
		if v := absf(z-30) + absf(y-42)*1.4; v < 34 && v > 18 {
			return panel
		}
	}
	return c
}
