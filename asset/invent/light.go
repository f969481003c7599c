package invent

import "mien/asset/mesh"

// Light is the light of a session as the camera recorded it. The zero value is even, neutral light.
type Light struct {
	Gain     [3]float64 // per linear channel: exposure and white balance; 0 means 1
	Shading  [9]float64 // times 1, y, z, x, xy, yz, 3zz-1, xz, xx-yy of the normal, added to 1
	Gradient mesh.Vec   // relative change over a metre of position
}

// RandomLight returns a session's light: exposure within +-strength, white balance within a third of
// it, and shading by the normal of up to +-strength from one side to the other.
func RandomLight(seed uint64, strength float64) Light {
	r := newRandom(seed, "light")
	var l Light
	exposure := r.between(-strength, strength)
	for k := range l.Gain {
		l.Gain[k] = (1 + exposure) * (1 + r.between(-strength, strength)/3)
	}
	for k := 1; k < 9; k++ {
		half := strength / 2
		if k > 3 {
			half = strength / 8
		}
		l.Shading[k] = r.between(-half, half)
	}
	l.Gradient = mesh.Vec{r.between(-strength, strength) / 10, r.between(-strength, strength) / 10, 0}
	return l
}

// at returns the factors of the linear channels for a point with normal n at offset d, in metres,
// from the middle of the scan.
func (l *Light) at(n, d [3]float32) [3]float32 {
	x, y, z := n[0], n[1], n[2]
	basis := [9]float32{1, y, z, x, x * y, y * z, 3*z*z - 1, x * z, x*x - y*y}
	shade := 1 + d[0]*float32(l.Gradient[0]) + d[1]*float32(l.Gradient[1]) + d[2]*float32(l.Gradient[2])
	for k, b := range basis {
		shade += b * float32(l.Shading[k])
	}
	shade = max(shade, 0.05)
	var out [3]float32
	for k := range out {
		out[k] = shade
		if l.Gain[k] != 0 {
			out[k] = shade * float32(l.Gain[k])
		}
	}
	return out
}
