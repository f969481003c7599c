package picture

import (
	"math"

	"mien/asset/mesh"
)

// Camera looks from Eye to Target. With HeightM above 0 it is orthographic and shows that many metres
// from the lower to the upper edge; else it is a perspective camera.
type Camera struct {
	Eye, Target, Up mesh.Vec
	HeightM         float64 // orthographic: metres shown top to bottom
	FieldDegrees    float64 // perspective: vertical field of view; 0 is 25
	NearM           float64 // what lies nearer to the eye along the view is not drawn
}

// View is a camera with a word for it.
type View struct {
	Name   string
	Camera Camera
}

// BodyViews returns orthographic views of a box of metres from the front, the subject's left, the back
// and the right, all at one scale, so that a box of the greatest extent fills 92 % of a square.
func BodyViews(lo, hi mesh.Vec) [4]View {
	mid := lo.Add(hi).Scale(0.5)
	d := hi.Sub(lo)
	height := max(d[0], d[1], d[2], 1e-3) / 0.92
	look := func(name string, from mesh.Vec) View {
		return View{name, Camera{Eye: mid.Add(from.Scale(2 * height)), Target: mid, Up: mesh.Vec{0, 1, 0}, HeightM: height}}
	}
	return [4]View{
		look("front", mesh.Vec{0, 0, 1}), look("left", mesh.Vec{1, 0, 0}),
		look("back", mesh.Vec{0, 0, -1}), look("right", mesh.Vec{-1, 0, 0}),
	}
}

// Facing returns an orthographic view of the surface around centre, straight along its outward normal,
// sizeM metres high, with the body's up direction up. What stands more than half of sizeM in front of
// the surface (an arm before the trunk) is cut away.
func Facing(centre, normal mesh.Vec, sizeM float64) Camera {
	n := normal.Unit()
	if n == (mesh.Vec{}) {
		n = mesh.Vec{0, 0, 1}
	}
	up := mesh.Vec{0, 1, 0}
	if math.Abs(n[1]) > 0.9 { // from above, the front of the body is down; from below, up
		up = mesh.Vec{0, 0, -math.Copysign(1, n[1])}
	}
	return Camera{Eye: centre.Add(n.Scale(sizeM / 2)), Target: centre, Up: up, HeightM: sizeM}
}

// projection is a camera made ready for a picture of w by h pixels.
type projection struct {
	eye                mesh.Vec
	right, up, forward mesh.Vec
	ortho              bool
	scale              float64 // pixels a metre, at distance 1 for a perspective
	cx, cy             float64
	near               float64
}

func (c Camera) project(w, h int) projection {
	p := projection{eye: c.Eye, forward: c.Target.Sub(c.Eye).Unit(), cx: float64(w) / 2, cy: float64(h) / 2, near: c.NearM}
	if p.forward == (mesh.Vec{}) {
		p.forward = mesh.Vec{0, 0, -1}
	}
	p.right = p.forward.Cross(c.Up).Unit()
	if p.right == (mesh.Vec{}) {
		p.right = p.forward.Cross(mesh.Vec{0.1, 0.2, 1}).Unit()
	}
	p.up = p.right.Cross(p.forward)
	if c.HeightM > 0 {
		p.ortho, p.scale = true, float64(h)/c.HeightM
		return p
	}
	field := c.FieldDegrees
	if field == 0 {
		field = 25
	}
	p.scale = float64(h) / 2 / math.Tan(field*math.Pi/360)
	p.near = max(p.near, 1e-3)
	return p
}

// at returns the pixel position of a point and its distance along the view, metres.
func (p *projection) at(v mesh.Vec) (x, y, z float64) {
	q := v.Sub(p.eye)
	z = q.Dot(p.forward)
	s := p.scale
	if !p.ortho {
		s /= z
	}
	return p.cx + q.Dot(p.right)*s, p.cy - q.Dot(p.up)*s, z
}
