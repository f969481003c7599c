package invent

import (
	"math"

	"mien/asset/mesh"
)

// smoothNoise is value noise on the unit lattice: mean 0, standard deviation about 1, smooth, and
// uncorrelated beyond 2.
func smoothNoise(p mesh.Vec, seed uint64) float64 {
	var i [3]int64
	var t [3]float64
	for k := range p {
		f := math.Floor(p[k])
		x := p[k] - f
		i[k], t[k] = int64(f), x*x*x*(x*(6*x-15)+10)
	}
	v := func(a, b, c int64) float64 {
		h := mix(seed ^ uint64(i[0]+a)*0x9e3779b97f4a7c15 ^ uint64(i[1]+b)*0xc2b2ae3d27d4eb4f ^ uint64(i[2]+c)*0x165667b19e3779f9)
		return float64(int64(h)) * (1.0 / (1 << 63))
	}
	row := func(b, c int64) float64 { return lerp(v(0, b, c), v(1, b, c), t[0]) }
	// A uniform lattice value has variance 1/3; interpolation leaves .7836 of it per axis.
	return lerp(lerp(row(0, 0), row(1, 0), t[1]), lerp(row(0, 1), row(1, 1), t[1]), t[2]) * 2.497
}

// error is what the rig adds to the true surface along the normal, in mm, at rest point
// p (mm) of vertex i.
func (c *Capture) error(f Family, p mesh.Vec, i int) float64 {
	var e float64
	if c.NoiseMm > 0 {
		r := random{state: mix(c.Seed ^ uint64(i)*0x9e3779b97f4a7c15)}
		e = c.NoiseMm * max(-3, min(3, r.gauss()))
	}
	if c.NoiseCorrMm > 0 {
		// Lattice of 10 mm, turned so that its planes do not lie along the body.
		q := mesh.Vec{.8*p[0] + .6*p[1], -.48*p[0] + .64*p[1] + .6*p[2], .36*p[0] - .48*p[1] + .8*p[2]}
		k := c.NoiseCorrMm
		if f == Report { // the other rig is worse in patches and adds a slower wave
			k *= .55 + .6*ramp(-1.2, 1.2, smoothNoise(q.Scale(1./90), c.Seed^5))
			e += .5 * k * smoothNoise(q.Scale(1./23), c.Seed^7)
		}
		e += k * smoothNoise(q.Scale(.1), c.Seed^3)
	}
	return e
}
