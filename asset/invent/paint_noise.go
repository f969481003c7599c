package invent

// lattice returns the hash of a grid point as a number in [-1, 1).
func lattice(seed uint32, x, y, z int32) float32 {
	h := seed ^ uint32(x)*0x8da6b343 ^ uint32(y)*0xd8163841 ^ uint32(z)*0xcb1ab31f
	h = (h ^ h>>15) * 0x2c1b3c6d
	h = (h ^ h>>12) * 0x297a2d39
	h ^= h >> 15
	return float32(int32(h)) * (1.0 / (1 << 31))
}

// speckle is smooth value noise of about one blob per unit, within -1 to 1, standard deviation about 0.3.
func speckle(seed uint32, x, y, z float32) float32 {
	// Lattice indices are kept positive, so that conversion rounds down.
	const far = 1 << 14
	x, y, z = x+far, y+far, z+far
	i, j, k := int32(x), int32(y), int32(z)
	u, v, w := x-float32(i), y-float32(j), z-float32(k)
	u, v, w = u*u*(3-2*u), v*v*(3-2*v), w*w*(3-2*w)
	mix := func(k int32) float32 {
		a, b := lattice(seed, i, j, k), lattice(seed, i+1, j, k)
		c, d := lattice(seed, i, j+1, k), lattice(seed, i+1, j+1, k)
		a, c = a+u*(b-a), c+u*(d-c)
		return a + v*(c-a)
	}
	near, far2 := mix(k), mix(k+1)
	return near + w*(far2-near)
}

// rise is 0 below a, 1 above b and smooth between; b may be less than a.
func rise(a, b, x float32) float32 {
	t := (x - a) / (b - a)
	t = min(max(t, 0), 1)
	return t * t * (3 - 2*t)
}
