package invent

import (
	"math"

	"mien/asset/mesh"
)

// Landmarks of the middle head in its own frame: x left, y up from the chin, z forward, in mm. The
// head is 240 mm tall.
const (
	eyeHeight   = 121.0
	eyeApart    = 31.5 // from the midline
	browHeight  = 141.0
	mouthHeight = 49.0
	noseHeight  = 78.0
	earHeight   = 108.0
	eyeBall     = 12.2 // radius
)

// headShape shapes skull, face and ears in the head's frame.
func headShape(s *shaper, f Face) {
	w := 1 + .045*f.Width
	s.ball(mesh.Vec{0, 162, -7}, mesh.Vec{75 * w, 78, 95}, 30)
	s.ball(mesh.Vec{0, 168, 22}, mesh.Vec{66 * w, 62, 68}, 30) // forehead
	jaw, chin, cheek := 1+.07*f.Jaw, f.Chin, f.Cheek
	r := func(y, side, front, back, box float64) knot {
		return knot{y / 150, section{out: side, in: side, front: front - 20, back: back, box: box}}
	}
	s.limb(mesh.Vec{0, 0, 20}, mesh.Vec{0, 150, 20}, mesh.Vec{0, 0, 1}, [2]float64{8, 40}, 26, []knot{
		r(0, 20*jaw, 76+3*chin, 12, .1), r(14, 34*jaw, 84+3*chin, 26, .2), r(32, 45*jaw, 83+1.5*chin, 40, .2), r(52, 53*jaw, 86, 56, .2),
		r(76, 59*w, 87, 66, .15), r(98, 64*w, 84, 74, .15), r(122, 66*w, 82, 76, .15), r(150, 68*w, 88, 76, 0),
	})
	headJaw(s, f, jaw)
	for _, side := range []float64{1, -1} {
		a := 1 + .004*f.Asymmetry*side
		s.swell(6+2.5*cheek, mesh.Vec{side * 49 * w, 97 * a, 66}, mesh.Vec{32, 22, 36})            // cheek bone
		s.swell(-5-1.5*cheek, mesh.Vec{side * 52 * w, 62, 58}, mesh.Vec{26, 36, 40})               // cheek below it
		s.swell(6.5+2*f.Brow, mesh.Vec{side * 27, (browHeight + 1) * a, 88}, mesh.Vec{30, 14, 26}) // brow ridge
		s.swell(-5, mesh.Vec{side * 66 * w, 142, 50}, mesh.Vec{24, 36, 40})                        // temple
		eye(s, f, side)
		ear(s, f, side, w)
	}
	nose(s, f)
	mouth(s, f)
}

func headJaw(s *shaper, f Face, jaw float64) {
	for _, side := range []float64{1, -1} {
		c := func(v float64) section { return section{out: v, in: v, front: v, back: v} }
		s.limb(mesh.Vec{side * 46 * jaw, 52, 8}, mesh.Vec{side * 14 * jaw, 12, 68}, mesh.Vec{0, 1, 0}, [2]float64{12, 10}, 22,
			[]knot{{0, c(14)}, {.5, c(13)}, {1, c(13)}})
		s.limb(mesh.Vec{side * 48 * jaw, 54, 6}, mesh.Vec{side * 60, 100, 0}, mesh.Vec{0, 0, 1}, [2]float64{12, 10}, 24,
			[]knot{{0, c(14)}, {1, c(12)}})
	}
	s.swell(4.5+2*f.Chin, mesh.Vec{0, 14, 84}, mesh.Vec{26, 20, 26})
	s.swell(-5, mesh.Vec{0, 31, 92}, mesh.Vec{26, 9, 18}) // fold above the chin
}

// eye hollows the socket, closes it with lids, opens them and sets the ball in.
func eye(s *shaper, f Face, side float64) {
	c := eyeCentre(f, side)
	s.swell(-11-2*f.EyeDepth, mesh.Vec{c[0] + side*1, c[1] + 1, 86}, mesh.Vec{28, 21, 28})
	s.swell(-5, mesh.Vec{c[0] - side*14, c[1] + 4, 84}, mesh.Vec{12, 14, 20}) // inner corner
	s.ball(c, mesh.Vec{14.6, 13.6, 13.8}, 7)
	s.swell(-2.2, mesh.Vec{c[0], c[1] + 10.5, c[2] + 11}, mesh.Vec{17, 4, 10}) // crease of the upper lid
	s.hollow(mesh.Vec{c[0], c[1] - .4, c[2] + 13}, mesh.Vec{13.6, 5.6, 9}, 1.6)
	s.ball(c, mesh.Vec{eyeBall, eyeBall, eyeBall}, .8)
}

// eyeCentre is the middle of the eyeball.
func eyeCentre(f Face, side float64) mesh.Vec {
	return mesh.Vec{side * (eyeApart + 1.3*f.EyeSpacing), eyeHeight, 70 - 1.2*f.EyeDepth}
}

func ear(s *shaper, f Face, side, w float64) {
	size := 1 + .08*f.EarSize
	turn := (24 + 8*f.EarTurn) * math.Pi / 180
	out := mesh.Vec{side * math.Cos(turn), 0, math.Sin(turn)} // off the flat side of the ear
	up := mesh.Vec{0, math.Cos(.2), -math.Sin(.2)}
	ax := [3]mesh.Vec{out, up, out.Cross(up).Unit()}
	ax[1] = ax[2].Cross(out)
	at := mesh.Vec{side * (72*w + 7), earHeight, -14}
	o := func(x, y, z float64) mesh.Vec { // out, up, to the back
		back := ax[2]
		if back[2] > 0 {
			back = back.Scale(-1)
		}
		return at.Add(out.Scale(x * size)).Add(ax[1].Scale(y * size)).Add(back.Scale(z * size))
	}
	s.tilted(o(-2, 4, 2), mesh.Vec{5.5 * size, 29 * size, 17 * size}, ax, 5)
	s.tilted(o(0, -21, -4), mesh.Vec{4.5 * size, 11 * size, 9 * size}, ax, 6) // lobe
	s.add(op{does: carve, at: o(7, 6, 1), axis: ax, radius: mesh.Vec{7 * size, 20 * size, 11.5 * size}, blend: 4})
	s.add(op{does: carve, at: o(4, -4, -3), axis: ax, radius: mesh.Vec{8 * size, 8 * size, 7 * size}, blend: 4})
	s.tilted(o(0, 8, 3), mesh.Vec{3.5 * size, 13 * size, 3 * size}, ax, 5)   // inner fold
	s.tilted(o(0, -4, -12), mesh.Vec{4 * size, 5.5 * size, 4 * size}, ax, 5) // before the ear canal
}

func nose(s *shaper, f Face) {
	w := 1 + .12*f.NoseWidth
	tip := mesh.Vec{0, noseHeight + 3 - 1.5*f.NoseLength, 106 + 2.5*f.NoseLength}
	c := func(t, side, front, back float64) knot {
		return knot{t, section{out: side, in: side, front: front, back: back}}
	}
	s.limb(mesh.Vec{0, eyeHeight + 6, 82 + 1.5*f.NoseBridge}, mesh.Vec{0, tip[1] + 2, tip[2] - 10}, mesh.Vec{0, 0, 1}, [2]float64{14, 8}, 13, []knot{
		c(0, 9*w, 8, 12), c(.35, 8.5*w, 8.5+1.2*f.NoseBridge, 16), c(.7, 10*w, 9, 22), c(1, 11.5*w, 9, 24),
	})
	s.ball(tip.Add(mesh.Vec{0, 0, -9}), mesh.Vec{10.5 * w, 9.5, 10.5}, 8)
	for _, side := range []float64{1, -1} {
		s.ball(mesh.Vec{side * 13 * w, tip[1] - 3, tip[2] - 16}, mesh.Vec{6.5 * w, 8, 10}, 6)
		s.hollow(mesh.Vec{side * 7.2 * w, tip[1] - 10, tip[2] - 12}, mesh.Vec{3.4 * w, 4, 5.6}, 3)
		s.swell(-2.5, mesh.Vec{side * 21 * w, tip[1] - 3, 86}, mesh.Vec{8, 14, 16}) // beside the wing
	}
}

func mouth(s *shaper, f Face) {
	half := 26.5 * (1 + .06*f.MouthWidth)
	full := 1 + .22*f.LipFullness
	for _, lip := range []struct{ y, r, z, arch float64 }{{mouthHeight + 5, 6 * full, 85.5, 2.2}, {mouthHeight - 6.2, 8.4 * full, 83, -2.6}} {
		c := func(t, r float64) knot {
			x := 2*t - 1
			return knot{t, section{out: r * .9, in: r * .9, front: r, back: r * 1.4, dx: lip.arch * (1 - x*x), dz: -13 * x * x}}
		}
		s.limb(mesh.Vec{-half, lip.y - lip.arch, lip.z}, mesh.Vec{half, lip.y - lip.arch, lip.z}, mesh.Vec{0, 0, 1}, [2]float64{3, 3}, 5, []knot{
			c(0, .34*lip.r), c(.2, .74*lip.r), c(.38, lip.r), c(.5, .95*lip.r), c(.62, lip.r), c(.8, .74*lip.r), c(1, .34*lip.r),
		})
	}
	s.swell(-2.4, mesh.Vec{0, mouthHeight, 90}, mesh.Vec{half + 5, 3.2, 22}) // between the lips
	s.swell(-2, mesh.Vec{0, 65, 92}, mesh.Vec{5.5, 11, 14})                  // below the nose
	for _, side := range []float64{1, -1} {
		s.swell(-1.6, mesh.Vec{side * (half + 2), mouthHeight - 1, 76}, mesh.Vec{9, 9, 16})
		s.swell(2.5, mesh.Vec{side * 27, 60, 78}, mesh.Vec{18, 20, 20})
	}
}
