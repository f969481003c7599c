package align

import (
	"math"

	"mien/asset/mesh"
)

// Pose is a proper rigid motion: p -> R*p + T. R is row-major with determinant +1.
type Pose struct {
	R [9]float64
	T mesh.Vec
}

// Identity moves nothing.
func Identity() Pose { return Pose{R: [9]float64{1, 0, 0, 0, 1, 0, 0, 0, 1}} }

// Turn returns R*v.
func (a Pose) Turn(v mesh.Vec) mesh.Vec {
	r := &a.R
	return mesh.Vec{
		r[0]*v[0] + r[1]*v[1] + r[2]*v[2],
		r[3]*v[0] + r[4]*v[1] + r[5]*v[2],
		r[6]*v[0] + r[7]*v[1] + r[8]*v[2],
	}
}

// Apply returns R*p + T.
func (a Pose) Apply(p mesh.Vec) mesh.Vec { return a.Turn(p).Add(a.T) }

// After returns the motion that does b first, then a.
func (a Pose) After(b Pose) Pose {
	var c Pose
	for i := 0; i < 3; i++ {
		for j := 0; j < 3; j++ {
			c.R[3*i+j] = a.R[3*i]*b.R[j] + a.R[3*i+1]*b.R[3+j] + a.R[3*i+2]*b.R[6+j]
		}
	}
	c.T = a.Apply(b.T)
	return c
}

// Inverse returns the motion that undoes a.
func (a Pose) Inverse() Pose {
	r := a.R
	b := Pose{R: [9]float64{r[0], r[3], r[6], r[1], r[4], r[7], r[2], r[5], r[8]}}
	b.T = b.Turn(a.T).Scale(-1)
	return b
}

// Matrix returns the column-major 4x4 form.
func (a Pose) Matrix() [16]float64 {
	r := a.R
	return [16]float64{r[0], r[3], r[6], 0, r[1], r[4], r[7], 0, r[2], r[5], r[8], 0, a.T[0], a.T[1], a.T[2], 1}
}

// Rotation returns the turn by |w| radians about the axis w through the origin.
//
// Source: Rodrigues' formula.
func Rotation(w mesh.Vec) Pose {
	angle := w.Len()
	if angle == 0 {
		return Identity()
	}
	k := w.Scale(1 / angle)
	s, c := math.Sincos(angle)
	v := 1 - c
	return Pose{R: [9]float64{
		c + k[0]*k[0]*v, k[0]*k[1]*v - k[2]*s, k[0]*k[2]*v + k[1]*s,
		k[1]*k[0]*v + k[2]*s, c + k[1]*k[1]*v, k[1]*k[2]*v - k[0]*s,
		k[2]*k[0]*v - k[1]*s, k[2]*k[1]*v + k[0]*s, c + k[2]*k[2]*v,
	}}
}

// about returns the motion a done about the point c: c itself moves by a's translation only.
func (a Pose) about(c mesh.Vec) Pose {
	a.T = c.Sub(a.Turn(c)).Add(a.T)
	return a
}

// orthonormal removes the drift that many compositions leave in R.
func (a Pose) orthonormal() Pose {
	x := mesh.Vec{a.R[0], a.R[1], a.R[2]}.Unit()
	y := mesh.Vec{a.R[3], a.R[4], a.R[5]}
	y = y.Sub(x.Scale(x.Dot(y))).Unit()
	z := x.Cross(y)
	a.R = [9]float64{x[0], x[1], x[2], y[0], y[1], y[2], z[0], z[1], z[2]}
	return a
}
