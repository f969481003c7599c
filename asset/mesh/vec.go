package mesh

import "math"

// Sub returns a - b.
func (a Vec) Sub(b Vec) Vec { return Vec{a[0] - b[0], a[1] - b[1], a[2] - b[2]} }

// Add returns a + b.
func (a Vec) Add(b Vec) Vec { return Vec{a[0] + b[0], a[1] + b[1], a[2] + b[2]} }

// Scale returns s*a.
func (a Vec) Scale(s float64) Vec { return Vec{s * a[0], s * a[1], s * a[2]} }

// Dot returns the scalar product.
func (a Vec) Dot(b Vec) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }

// Cross returns the vector product.
func (a Vec) Cross(b Vec) Vec {
	return Vec{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
}

// Len returns the Euclidean length.
func (a Vec) Len() float64 { return math.Sqrt(a.Dot(a)) }

// Unit returns a scaled to length 1, or the zero vector when a is zero.
func (a Vec) Unit() Vec {
	l := a.Len()
	if l == 0 {
		return Vec{}
	}
	return a.Scale(1 / l)
}
