package invent

import "mien/asset/mesh"

// looseShape shapes what hangs free of the head: long hair behind the neck or a knot. It reports
// whether there is any.
func looseShape(s *shaper, look *Look) bool {
	r := func(t, side, front, back, dz float64) knot {
		return knot{t, section{out: side, in: side, front: front, back: back, dz: dz}}
	}
	switch look.Hair {
	case Long:
		s.limb(mesh.Vec{0, 124, -84}, mesh.Vec{0, 4, -80}, mesh.Vec{0, 0, 1}, [2]float64{40, 22}, 24, []knot{
			r(0, 64, 22, 34, 0), r(.3, 66, 26, 33, -6), r(.6, 64, 26, 29, -8), r(.85, 58, 20, 24, -4), r(1, 50, 14, 19, 2),
		})
		for _, x := range []float64{-44, -27, -9, 9, 27, 44} { // strands
			s.add(op{does: relief, at: mesh.Vec{x + 8, 30, -114}, axis: upright, radius: mesh.Vec{7, 140, 40}, blend: -3})
		}
		for _, side := range []float64{1, -1} {
			s.limb(mesh.Vec{side * 73, 122, -42}, mesh.Vec{side * 64, 16, -52}, mesh.Vec{0, 0, 1}, [2]float64{24, 20}, 20, []knot{
				r(0, 9, 22, 26, 0), r(.4, 15, 24, 28, 0), r(.8, 17, 20, 24, 0), r(1, 13, 14, 18, 0),
			})
		}
		return true
	case Knot:
		s.ball(mesh.Vec{0, 206, -104}, mesh.Vec{31, 29, 30}, 14)
		s.swell(-4, mesh.Vec{0, 206, -136}, mesh.Vec{9, 34, 26})
		s.swell(-4, mesh.Vec{16, 214, -124}, mesh.Vec{9, 30, 26})
		return true
	}
	return false
}

// peakShape shapes the peak of a cap.
func peakShape(s *shaper) {
	s.tilted(mesh.Vec{0, 166, 112}, mesh.Vec{70, 4, 62}, spread(mesh.Vec{0, 1, .32}, mesh.Vec{0, -.32, 1}), 6)
}
