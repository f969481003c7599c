package invent

import "mien/asset/mesh"

// trunkShape shapes the torso and the neck.
func trunkShape(s *shaper, g *plan) {
	b := g.b
	u := g.unit
	at := g.trunkPoint
	wide := func(y float64) float64 { // breadth factor at a height of the middle person
		switch {
		case y < 1000:
			return b.Hip
		case y < 1150:
			return lerp(b.Hip, b.Waist, (y-1000)/150)
		case y < 1330:
			return lerp(b.Waist, b.Chest, (y-1150)/180)
		}
		return lerp(b.Chest, b.Shoulder, min((y-1330)/150, 1))
	}
	const low, high = 880.0, 1560.0
	row := func(y, w, f, back, box float64) knot {
		w *= wide(y) * u
		return knot{(y - low) / (high - low), section{out: w, in: w, front: 1.04 * f * b.Depth * u, back: 1.04 * back * b.Depth * u, box: box}}
	}
	s.limb(at(0, low, 0), at(0, high, 0), mesh.Vec{0, 0, 1}, [2]float64{26 * u, 30 * u}, 0, []knot{
		row(880, 96, 68, 62, .1), row(920, 146, 88, 92, .15), row(965, 166, 98, 108, .2),
		row(1020, 166, 102, 100, .25), row(1080, 155, 101, 78, .3), row(1140, 147, 98, 70, .3),
		row(1200, 149, 99, 78, .3), row(1280, 163, 108, 100, .3), row(1350, 176, 112, 116, .3),
		row(1420, 178, 96, 120, .25), row(1470, 160, 72, 112, .15), row(1515, 112, 48, 94, 0), row(1560, 62, 36, 74, 0),
	})
	neck(s, g)
	for _, side := range []float64{1, -1} {
		// Trapezius and clavicle shape the slope from neck to shoulder.
		r := func(v float64) section { return section{out: v * u, in: v * u, front: v * u, back: v * u} }
		s.limb(at(side*26, 1590, -34), at(side*168*b.Shoulder, 1512, -24), mesh.Vec{0, 0, 1}, [2]float64{30 * u, 38 * u}, 50*u,
			[]knot{{0, r(38)}, {.5, r(36)}, {1, r(42)}})
		s.limb(at(side*24, 1494, 42), at(side*158*b.Shoulder, 1523, 2), mesh.Vec{0, 0, 1}, [2]float64{8 * u, 8 * u}, 30*u,
			[]knot{{0, r(13)}, {.6, r(10)}, {1, r(14)}})
		// Chest muscle, side of the back, shoulder blade, buttock.
		s.tilted(at(side*84*b.Chest, 1372, 62*b.Depth), mesh.Vec{86 * u * b.Chest, 66 * u, 56 * u}, spread(mesh.Vec{side * .25, 1, 0}, mesh.Vec{side * .28, 0, 1}), 34*u)
		s.tilted(at(side*116*b.Chest, 1330, -48*b.Depth), mesh.Vec{62 * u, 150 * u, 68 * u}, spread(mesh.Vec{side * .16, 1, 0}, mesh.Vec{0, 0, 1}), 50*u)
		s.swell(11*u, at(side*84, 1415, -118*b.Depth), mesh.Vec{75 * u, 105 * u, 70 * u})
		s.tilted(at(side*78*b.Hip, 952, -62*b.Depth), mesh.Vec{84 * u * b.Hip, 106 * u, 62 * u * b.Depth}, spread(mesh.Vec{side * -.2, 1, .1}, mesh.Vec{side * .25, 0, 1}), 42*u)
		// Flank over the hip bone, the straight muscle of the belly, ribs' edge.
		s.swell(7*u, at(side*142*b.Waist, 1075, 18), mesh.Vec{50 * u, 60 * u, 85 * u})
		for i, y := range []float64{1105, 1165, 1222} {
			s.swell((4.2-float64(i)*.4)*u, at(side*37, y, 102*b.Depth), mesh.Vec{42 * u, 43 * u, 60 * u})
		}
		s.swell(-5*u, at(side*92, 1200, 92*b.Depth), mesh.Vec{34 * u, 130 * u, 50 * u})
		s.swell(6*u, at(side*38, 1130, -74*b.Depth), mesh.Vec{38 * u, 150 * u, 50 * u})
		s.swell(1.8*u, at(side*98*b.Chest, 1335, 118*b.Depth), mesh.Vec{9 * u, 9 * u, 30 * u})
	}
	s.swell(-8*u, at(0, 1375, 116*b.Depth), mesh.Vec{22 * u, 105 * u, 40 * u})  // between the chest muscles
	s.swell(-5*u, at(0, 1170, 104*b.Depth), mesh.Vec{13 * u, 150 * u, 40 * u})  // midline of the belly
	s.swell(-7*u, at(0, 1108, 106*b.Depth), mesh.Vec{11 * u, 12 * u, 30 * u})   // navel
	s.swell(-9*u, at(0, 1250, -104*b.Depth), mesh.Vec{30 * u, 330 * u, 60 * u}) // groove of the spine
	s.swell(11*u, at(0, 922, 84*b.Depth), mesh.Vec{70 * u, 80 * u, 75 * u})     // under the shorts
}

func neck(s *shaper, g *plan) {
	b, u := g.b, g.unit
	foot, top := g.trunkPoint(0, 1515, -26), g.head.point(mesh.Vec{0, 112, -24})
	r := func(side, front, back float64) section {
		k := b.Neck * u
		return section{out: side * k, in: side * k, front: front * k, back: back * k}
	}
	s.limb(foot, top, mesh.Vec{0, 0, 1}, [2]float64{40 * u, 20 * u}, 34*u,
		[]knot{{0, r(72, 62, 66)}, {.25, r(62, 60, 61)}, {.5, r(58, 59, 60)}, {.75, r(56, 56, 62)}, {1, r(52, 50, 60)}})
	mid := func(t, x, z float64) mesh.Vec {
		p := foot.Scale(1 - t).Add(top.Scale(t))
		return mesh.Vec{p[0] + x*u*b.Neck, p[1], p[2] + z*u*b.Neck}
	}
	for _, side := range []float64{1, -1} { // the muscle from behind the ear to the breastbone
		c := func(v float64) section { return section{out: v * u, in: v * u, front: v * u, back: v * u} }
		s.limb(mid(.74, side*50, 2), mid(-.12, side*18, 58), mesh.Vec{0, 0, 1}, [2]float64{10 * u, 10 * u}, 22*u,
			[]knot{{0, c(13)}, {.5, c(13)}, {1, c(8)}})
	}
	s.swell(6*u, mid(.36, 0, 60), mesh.Vec{15 * u, 24 * u, 24 * u})
	s.swell(-7*u, mid(-.1, 0, 66), mesh.Vec{18 * u, 22 * u, 26 * u})
}

func lerp(a, b, t float64) float64 { return a + (b-a)*t }
