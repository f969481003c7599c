package invent

import (
	"math"

	"mien/asset/mesh"
	"mien/asset/texture"
)

// decal is something drawn on the skin: a mask at a place and the shift of colour where it covers.
type decal struct {
	at       Placement
	sin, cos float64 // of the turn in the plane of the mask
	mask     *canvas
	shift    [3]float32 // Lab, at full cover
	reach    float64    // farthest that the mask goes from its centre in space, m
}

// drawn returns the ink as a decal on the person, against the base skin of their tone, with edges that
// fade over softCM.
func (p Person) drawn(ink Ink, softCM float64) decal {
	d := newDecal(p.Place(ink.Region, ink.AlongCM, ink.AroundCM), ink.TurnDeg, artwork(p.Family, ink, softCM))
	d.shift = inkShift(p.skin(), ink)
	return d
}

// scarred returns a scar as a decal.
func (p Person) scarred(s Scar, softCM float64) decal {
	c := newCanvas(s.LengthCM+0.4, 0.9+s.WidthMm/10, softCM)
	bend := 0.08 * s.LengthCM
	c.curve(s.WidthMm/10, 12, func(t float64) point {
		return point{s.LengthCM * (t - .5), min(bend, 0.3) * math.Sin(math.Pi*t)}
	})
	d := newDecal(p.Place(s.Region, s.AlongCM, s.AroundCM), s.TurnDeg, c)
	d.shift = [3]float32{8, -2.5, -4}
	if s.Reddish {
		d.shift = [3]float32{-6, 11, 2}
	}
	return d
}

func newDecal(at Placement, turnDeg float64, mask *canvas) decal {
	d := decal{at: at, mask: mask}
	d.sin, d.cos = math.Sincos(turnDeg * math.Pi / 180)
	x, y := mask.half()
	d.reach = math.Hypot(x, y) / 100
	if at.Round {
		d.reach = min(d.reach, math.Hypot(x/100, 2.6*at.RadiusM)) + at.RadiusM
	}
	return d
}

// cover returns how much of the skin at anchor q with normal n the decal covers, 0 to 1.
func (d *decal) cover(q, n [3]float32) float32 {
	x, y, ok := d.at.Unroll(q, n)
	if !ok {
		return 0
	}
	x, y = d.cos*x+d.sin*y, d.cos*y-d.sin*x
	return d.mask.at(x*100, y*100)
}

// pigments are what ink can be made of, darkest first; Lab values are invented.
var pigments = [...]texture.Lab{
	{18, 0, -5}, {30, 8, -34}, {38, -26, 8}, {40, 46, 26}, {84, 2, 12},
}

// inkShift returns the shift of Lab that makes ink stand out from skin by its contrast in dE00: black
// ink thinned to it, or the first pigment that can be told apart so much.
func inkShift(skin texture.Lab, ink Ink) [3]float32 {
	first := 0
	if ink.ColourInks {
		first = 1 + int(ink.Motif/5%3)
	}
	for k := 0; k < len(pigments); k++ {
		full := pigments[(first+k)%len(pigments)]
		if texture.DE00(skin, full) < ink.Contrast && k < len(pigments)-1 {
			continue
		}
		lo, hi := 0.0, 1.0
		for i := 0; i < 40; i++ {
			mid := (lo + hi) / 2
			if texture.DE00(skin, thinned(skin, full, mid)) < ink.Contrast {
				lo = mid
			} else {
				hi = mid
			}
		}
		c := thinned(skin, full, hi)
		return [3]float32{float32(c[0] - skin[0]), float32(c[1] - skin[1]), float32(c[2] - skin[2])}
	}
	return [3]float32{}
}

// thinned is the colour a share of the way from skin to pigment.
func thinned(skin, pigment texture.Lab, share float64) texture.Lab {
	for k := range skin {
		skin[k] += share * (pigment[k] - skin[k])
	}
	return skin
}

// InkAreaCM2 returns the area of inked skin on a surface of the person: the integral of the mask over
// its skin triangles, on the shape without noise. Half-covered edges count half.
func (p Person) InkAreaCM2(s *Surface, ink Ink) float64 {
	d := p.drawn(ink, 0)
	var sum float64
	eachSkin(s, d.at.CentreM, d.reach, func(_ int, area float64, q, n [3]float32) {
		sum += area * float64(d.cover(q, n))
	})
	return sum * 1e4
}

// eachSkin calls f for small pieces of the skin triangles of s whose anchors come within reach of a
// point: at most about 1 mm on a side, with area in m2 and the anchor and normal of their middles.
func eachSkin(s *Surface, near mesh.Vec, reach float64, f func(t int, areaM2 float64, q, n [3]float32)) {
	for t, tri := range s.Mesh.Tri {
		if !isSkin(s.Mesh, t) {
			continue
		}
		a, b, c := s.Anchor[tri[0]], s.Anchor[tri[1]], s.Anchor[tri[2]]
		size := max(gap(a, b), gap(b, c), gap(c, a))
		if vec3(a).Sub(near).Len() > reach+size {
			continue
		}
		pa, pb, pc := vec3(s.Clean[tri[0]]), vec3(s.Clean[tri[1]]), vec3(s.Clean[tri[2]])
		area := pb.Sub(pa).Cross(pc.Sub(pa)).Len() / 2
		na, nb, nc := s.AnchorNormal[tri[0]], s.AnchorNormal[tri[1]], s.AnchorNormal[tri[2]]
		cuts := max(1, int(size*1000+0.999))
		each := area / float64(cuts*cuts)
		for i := 0; i < cuts; i++ {
			for j := 0; j < cuts-i; j++ {
				w := 1 / (3 * float32(cuts))
				wb, wc := (3*float32(i)+1)*w, (3*float32(j)+1)*w
				f(t, each, blend3(a, b, c, wb, wc), blend3(na, nb, nc, wb, wc))
				if j < cuts-i-1 {
					wb, wc = wb+w, wc+w
					f(t, each, blend3(a, b, c, wb, wc), blend3(na, nb, nc, wb, wc))
				}
			}
		}
	}
}

func gap(a, b [3]float32) float64 { return vec3(a).Sub(vec3(b)).Len() }

// blend3 mixes three points by the weights of the second and third.
func blend3(a, b, c [3]float32, wb, wc float32) [3]float32 {
	wa := 1 - wb - wc
	return [3]float32{
		wa*a[0] + wb*b[0] + wc*c[0],
		wa*a[1] + wb*b[1] + wc*c[1],
		wa*a[2] + wb*b[2] + wc*c[2],
	}
}
