package posture

import (
	"math"

	"mien/asset/mesh"
)

// rot is a rotation, row-major.
type rot [3][3]float64

var unturned = rot{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}

func (r rot) apply(v mesh.Vec) mesh.Vec {
	return mesh.Vec{
		r[0][0]*v[0] + r[0][1]*v[1] + r[0][2]*v[2],
		r[1][0]*v[0] + r[1][1]*v[1] + r[1][2]*v[2],
		r[2][0]*v[0] + r[2][1]*v[1] + r[2][2]*v[2],
	}
}

// back applies the inverse.
func (r rot) back(v mesh.Vec) mesh.Vec {
	return mesh.Vec{
		r[0][0]*v[0] + r[1][0]*v[1] + r[2][0]*v[2],
		r[0][1]*v[0] + r[1][1]*v[1] + r[2][1]*v[2],
		r[0][2]*v[0] + r[1][2]*v[1] + r[2][2]*v[2],
	}
}

func (r rot) times(s rot) (out rot) {
	for i := 0; i < 3; i++ {
		for j := 0; j < 3; j++ {
			out[i][j] = r[i][0]*s[0][j] + r[i][1]*s[1][j] + r[i][2]*s[2][j]
		}
	}
	return out
}

// turn returns the rotation by |w| radians about w (Rodrigues).
func turn(w mesh.Vec) rot {
	a := w.Len()
	if a < 1e-15 {
		return unturned
	}
	k := w.Scale(1 / a)
	s, c := math.Sincos(a)
	u := 1 - c
	return rot{
		{c + k[0]*k[0]*u, k[0]*k[1]*u - k[2]*s, k[0]*k[2]*u + k[1]*s},
		{k[1]*k[0]*u + k[2]*s, c + k[1]*k[1]*u, k[1]*k[2]*u - k[0]*s},
		{k[2]*k[0]*u - k[1]*s, k[2]*k[1]*u + k[0]*s, c + k[2]*k[2]*u},
	}
}

// vector returns w with turn(w) = r, for angles below pi.
func (r rot) vector() mesh.Vec {
	v := mesh.Vec{r[2][1] - r[1][2], r[0][2] - r[2][0], r[1][0] - r[0][1]}
	s, c := v.Len()/2, (r[0][0]+r[1][1]+r[2][2]-1)/2
	if s < 1e-12 {
		return mesh.Vec{}
	}
	return v.Scale(math.Atan2(s, c) / (2 * s))
}

// between returns the least rotation that takes direction a to direction b (unit vectors).
func between(a, b mesh.Vec) rot {
	v := a.Cross(b)
	s := v.Len()
	if s < 1e-12 {
		return unturned
	}
	return turn(v.Scale(math.Atan2(s, a.Dot(b)) / s))
}

// rigid is p -> R p + T.
type rigid struct {
	R rot
	T mesh.Vec
}

func (g rigid) apply(p mesh.Vec) mesh.Vec { return g.R.apply(p).Add(g.T) }

func (g rigid) back(p mesh.Vec) mesh.Vec { return g.R.back(p.Sub(g.T)) }

// after returns p -> g(h(p)).
func (g rigid) after(h rigid) rigid { return rigid{g.R.times(h.R), g.R.apply(h.T).Add(g.T)} }

// about returns the rotation r about the fixed point p.
func about(r rot, p mesh.Vec) rigid { return rigid{r, p.Sub(r.apply(p))} }

// solveSPD solves a x = b for a symmetric positive definite a (n by n, row-major, overwritten) by
// Cholesky factorisation; b is overwritten with x. ok is false when a is not positive definite.
func solveSPD(a []float64, b []float64) (ok bool) {
	n := len(b)
	for j := 0; j < n; j++ {
		for k := 0; k < j; k++ {
			l := a[j*n+k]
			for i := j; i < n; i++ {
				a[i*n+j] -= a[i*n+k] * l
			}
		}
		d := a[j*n+j]
		if !(d > 0) {
			return false
		}
		d = math.Sqrt(d)
		for i := j; i < n; i++ {
			a[i*n+j] /= d
		}
	}
	for i := 0; i < n; i++ {
		for k := 0; k < i; k++ {
			b[i] -= a[i*n+k] * b[k]
		}
		b[i] /= a[i*n+i]
	}
	for i := n - 1; i >= 0; i-- {
		for k := i + 1; k < n; k++ {
			b[i] -= a[k*n+i] * b[k]
		}
		b[i] /= a[i*n+i]
	}
	return true
}
