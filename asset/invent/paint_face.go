package invent

import (
	"math"

	"mien/asset/mesh"
	"mien/asset/texture"
)

// hairTones are the colours of hair by HairColour; the values are invented.
var hairTones = [hairColours]texture.Lab{{13, 1, 1}, {20, 4, 6}, {30, 8, 13}, {33, 17, 20}, {56, 8, 26}}

// irisTones are the colours of the iris by EyeColour; the values are invented.
var irisTones = [eyeColours]texture.Lab{{28, 14, 18}, {17, 6, 8}, {40, 8, 24}, {45, -10, 16}, {52, -6, -18}, {56, -2, -5}}

// faceMarks holds the outlines of lips, brows and eyes in the head's frame, mm.
type faceMarks struct {
	lipHalf, lipFull float32
	eyeX, eyeZ       float32
	asymmetry        float32
}

func newFaceMarks(p Person) faceMarks {
	c := eyeCentre(p.Face, 1)
	return faceMarks{
		lipHalf: 25 * float32(1+.06*p.Face.MouthWidth), lipFull: float32(1 + .22*p.Face.LipFullness),
		eyeX: float32(c[0]), eyeZ: float32(c[2]), asymmetry: float32(p.Face.Asymmetry),
	}
}

// faceAt adds to skin at an anchor what belongs to the face: ruddy cheeks and nose, lips, brows, rims
// of the eyes, the shade of a shaven or unshaven beard.
func (k *painter) faceAt(c *[3]float32, q [3]float32) {
	h := k.p.base.plan.head.local(mesh.Vec{float64(q[0]) * 1000, float64(q[1]) * 1000, float64(q[2]) * 1000})
	x, y, z := float32(h[0]), float32(h[1]), float32(h[2])
	side := absf(x)
	if z < -30 {
		return
	}
	pale := float32(max(0.25, (k.tone[0]-25)/48)) // redness shows more on light skin

	cheek := bump(side-42, y-88, 22)
	nose := bump(side, y-80, 14) * rise(86, 100, z)
	ear := rise(74, 82, side) * rise(62, 74, y)
	ruddy := pale * (2.6*cheek + 3.4*nose + 3*ear)
	c[0] -= 0.5 * ruddy
	c[1] += ruddy
	c[2] += 0.2 * ruddy
	forehead := bump(side, y-165, 34)
	c[0] += 1.2 * forehead
	c[2] += 0.8 * forehead
	if z > 55 {
		k.lips(c, x, y, z, pale)
		k.eyeRim(c, side, y, pale)
		k.brow(c, x, y, z)
		if w := bump(side-7, y-float32(noseHeight)+8, 3.5) * rise(84, 90, z); w > 0 {
			c[0] -= 14 * w // nostril
		}
	}
	k.beardShade(c, q, x, y, z)
}

// lips colours between the upper outline, with its bow, and the lower one.
func (k *painter) lips(c *[3]float32, x, y, z, pale float32) {
	u := x / k.face.lipHalf
	r := 1 - u*u
	if r <= 0 || z < 70 || y > mouthHeight+20 || y < mouthHeight-22 {
		return
	}
	s := float32(math.Sqrt(float64(r)))
	top := mouthHeight + (8.6*s+1.4*r)*k.face.lipFull - 2.2*float32(math.Exp(float64(-u*u*22)))
	low := mouthHeight - (5*s+6.4*r)*k.face.lipFull
	w := rise(top+1.2, top-1.4, y) * rise(low-1.8, low+2.2, y) * rise(0, .2, r)
	w *= .85 + .5*speckle(k.seed+12, x/1.4, y/6, z/6)
	c[0] -= w * (3.5 + 4.5*pale)
	c[1] += w * (3 + 6.5*pale)
	c[2] -= w * (1 + 2*pale)
	line := rise(1.5, .4, absf(y-mouthHeight-.3*r)) * rise(0, .12, r)
	c[0] -= 13 * line
	c[1] += 2 * line
}

// eyeRim darkens the edge of the lids and tints the socket.
func (k *painter) eyeRim(c *[3]float32, side, y, pale float32) {
	dx, dy := (side-k.face.eyeX)/13.4, (y-eyeHeight+.4)/4.9
	e := float32(math.Sqrt(float64(dx*dx + dy*dy)))
	if e > 4 {
		return
	}
	shade := rise(3.6, 1.2, e)
	c[0] -= 2.6 * shade
	c[1] += 1.6 * pale * shade
	lash := rise(1.55, 1.08, e) * (0.45 + 0.55*rise(-.2, .5, dy))
	for i := range c {
		c[i] += lash * .75 * (float32(k.hair[i]) - c[i])
	}
}

// brow draws the hairs of the brows.
func (k *painter) brow(c *[3]float32, x, y, z float32) {
	side := absf(x)
	t := (side - 11) / 37
	if t < -.1 || t > 1.1 {
		return
	}
	tilt := float32(1)
	if x < 0 {
		tilt = -1
	}
	middle := browHeight + 1 + 5.5*float32(math.Sin(math.Pi*float64(.12+.72*t))) + .4*k.face.asymmetry*tilt
	thick := 4.6 * (1 - .62*t)
	w := rise(thick+1, thick-1.6, absf(y-middle)) * rise(-.06, .05, t) * rise(1.05, .9, t)
	if w <= 0 {
		return
	}
	w *= .74 + .45*speckle(k.seed+11, (side-.6*y)/1.2, (y+.6*side)/4, z/6)
	for i := range c {
		c[i] += w * .85 * (float32(k.hair[i]) - c[i])
	}
}

// beardShade tints where a beard grows: faintly when shaven, in dots when left for some days.
func (k *painter) beardShade(c *[3]float32, q [3]float32, x, y, z float32) {
	line := beardLine(mesh.Vec{float64(absf(x)), float64(y), float64(z)}, k.p.Face)
	if line <= 0 {
		return
	}
	w := rise(0, 9, float32(line)) * rise(-24, -4, y+.25*z-12) * rise(82, 70, absf(x))
	strength := float32(0.06)
	switch k.look.Beard {
	case Stubble:
		strength = 0.34 + 0.3*k.fine*speckle(k.seed+13, q[0]*820, q[1]*820, q[2]*820)
	case ShortBeard, FullBeard:
		strength = 0.6
	}
	w *= strength
	for i := range c {
		c[i] += w * (float32(k.hair[i]) - c[i])
	}
}

// eyeball returns the colour of the eye at an anchor: white, iris and pupil about the optical axis.
func (k *painter) eyeball(q [3]float32) [3]float32 {
	h := k.p.base.plan.head.local(mesh.Vec{float64(q[0]) * 1000, float64(q[1]) * 1000, float64(q[2]) * 1000})
	dx, dy := absf(float32(h[0]))-k.face.eyeX, float32(h[1])-eyeHeight
	r := float32(math.Hypot(float64(dx), float64(dy)))
	c := [3]float32{80, 2, 4}
	corner := rise(7, 13, r)
	c[0] -= 12 * corner
	c[1] += 7 * corner
	iris := irisTones[k.p.Eye%eyeColours]
	in := rise(6.1, 5.5, r)
	streak := 5 * speckle(k.seed+17, 9*dx/(r+.2), 9*dy/(r+.2), r/3)
	ring := 9 * rise(4.4, 5.8, r)
	for i := range c {
		c[i] += in * (float32(iris[i]) - c[i])
	}
	c[0] += in * (streak - ring)
	pupil := rise(2.4, 2, r)
	for i, v := range [3]float32{7, 0, 0} {
		c[i] += pupil * (v - c[i])
	}
	c[0] -= 16 * rise(2, 5, dy) * (1 - pupil) // shade of the upper lid
	return c
}

// bump is a round hill of height 1 with the given radius, zero beyond it.
func bump(dx, dy, radius float32) float32 {
	d := 1 - (dx*dx+dy*dy)/(radius*radius)
	if d <= 0 {
		return 0
	}
	return d * d
}
