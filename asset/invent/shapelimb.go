package invent

import "mien/asset/mesh"

// armShape shapes the left upper arm and forearm in body coordinates.
func armShape(s *shaper, g *plan) {
	u := 1.04 * g.unit * g.b.ArmGirth
	r := func(t, out, in, front, back, box float64) knot {
		return knot{t, section{out: out * u, in: in * u, front: front * u, back: back * u, box: box}}
	}
	front := mesh.Vec{0, 0, 1}
	s.limb(g.shoulder, g.elbow, front, [2]float64{46 * u, 30 * u}, 40*u, []knot{
		r(0, 58, 46, 55, 55, 0), r(.14, 62, 48, 58, 57, 0), r(.3, 57, 50, 55, 55, 0), r(.45, 50, 51, 54, 54, 0),
		r(.6, 47, 50, 55, 53, 0), r(.75, 45, 47, 50, 48, 0), r(.9, 42, 42, 40, 39, 0), r(1, 39, 39, 35, 36, 0),
	})
	s.limb(g.elbow, g.wrist, front, [2]float64{30 * u, 16 * u}, 26*u, []knot{
		r(0, 38, 38, 34, 35, 0), r(.12, 45, 43, 43, 41, 0), r(.25, 49, 45, 48, 44, 0), r(.42, 45, 42, 45, 42, 0),
		r(.6, 37, 35, 38, 37, .1), r(.8, 27, 26, 32, 31, .2), r(.93, 22, 22, 30, 29, .25), r(1, 21, 21, 30, 28, .25),
	})
	along := func(a, b mesh.Vec, t, x, z float64) mesh.Vec {
		p := a.Add(b.Sub(a).Scale(t))
		f := spread(b.Sub(a), front)
		return p.Add(f[0].Scale(x * u)).Add(f[2].Scale(z * u))
	}
	s.swell(6*u, along(g.shoulder, g.elbow, .6, 0, 54), mesh.Vec{40 * u, 75 * u, 45 * u})             // biceps
	s.swell(6*u, along(g.shoulder, g.elbow, .42, 22, -50), mesh.Vec{38 * u, 75 * u, 40 * u})          // triceps
	s.swell(-5*u, along(g.shoulder, g.elbow, .36, 50, 20), mesh.Vec{30 * u, 40 * u, 26 * u})          // below the deltoid
	s.swell(5*u, along(g.shoulder, g.elbow, .99, 6, -40), mesh.Vec{20 * u, 22 * u, 22 * u})           // point of the elbow
	s.swell(-5*u, along(g.shoulder, g.elbow, 1, -4, 40), mesh.Vec{28 * u, 20 * u, 24 * u})            // crook of the elbow
	s.swell(3.5*u, along(g.elbow, g.wrist, .96, 16, -24), mesh.Vec{14 * u, 16 * u, 14 * u})           // end of the ulna
	s.swell(-3*u, along(g.elbow, g.wrist, .35, 36, -30), mesh.Vec{16 * u, 120 * u, 20 * u})           // along the ulna
	s.ball(g.shoulder.Add(mesh.Vec{5 * u, -6 * u, 2 * u}), mesh.Vec{54 * u, 58 * u, 57 * u}, 46*u)    // deltoid
	s.swell(-4*u, g.shoulder.Add(mesh.Vec{-52 * u, 6 * u, 58 * u}), mesh.Vec{26 * u, 60 * u, 34 * u}) // between deltoid and chest
}

// legShape shapes the left thigh and shank in body coordinates.
func legShape(s *shaper, g *plan) {
	u := 1.05 * g.unit * g.b.LegGirth
	r := func(t, out, in, front, back, dz float64) knot {
		return knot{t, section{out: out * u, in: in * u, front: front * u, back: back * u, dz: dz * u}}
	}
	front := mesh.Vec{0, 0, 1}
	s.limb(g.hip, g.knee, front, [2]float64{60 * u, 44 * u}, 44*u, []knot{
		r(0, 84, 66, 84, 88, 0), r(.12, 90, 82, 92, 93, 0), r(.25, 89, 84, 94, 90, 4), r(.42, 83, 78, 90, 82, 8),
		r(.6, 72, 68, 78, 72, 8), r(.75, 61, 60, 66, 62, 5), r(.88, 53, 53, 55, 53, 3), r(1, 46, 47, 46, 45, 2),
	})
	s.limb(g.knee, g.ankle, front, [2]float64{46 * u, 34 * u}, 34*u, []knot{
		r(0, 45, 46, 44, 45, 0), r(.1, 48, 48, 46, 53, 0), r(.22, 54, 53, 46, 68, 0), r(.34, 54, 54, 44, 72, 0),
		r(.5, 48, 49, 42, 60, 0), r(.66, 38, 39, 37, 46, 0), r(.82, 31, 32, 32, 37, 0), r(.94, 29, 30, 32, 33, 0), r(1, 27, 28, 31, 30, 0),
	})
	along := func(a, b mesh.Vec, t, x, z float64) mesh.Vec {
		p := a.Add(b.Sub(a).Scale(t))
		f := spread(b.Sub(a), front)
		return p.Add(f[0].Scale(x * u)).Add(f[2].Scale(z * u))
	}
	s.swell(7*u, along(g.hip, g.knee, .84, -38, 42), mesh.Vec{38 * u, 70 * u, 45 * u})   // inner thigh muscle over the knee
	s.swell(6*u, along(g.hip, g.knee, .7, 40, 50), mesh.Vec{40 * u, 110 * u, 45 * u})    // outer thigh muscle
	s.swell(7*u, along(g.hip, g.knee, 1.0, 0, 52), mesh.Vec{38 * u, 46 * u, 36 * u})     // kneecap
	s.swell(-3*u, along(g.hip, g.knee, .9, 0, 58), mesh.Vec{32 * u, 24 * u, 30 * u})     // above it
	s.swell(4*u, along(g.knee, g.ankle, .12, 0, 46), mesh.Vec{24 * u, 34 * u, 28 * u})   // below it
	s.swell(-7*u, along(g.knee, g.ankle, .0, 0, -54), mesh.Vec{26 * u, 34 * u, 26 * u})  // hollow of the knee
	s.swell(7*u, along(g.knee, g.ankle, .3, -22, -62), mesh.Vec{32 * u, 95 * u, 38 * u}) // calf, inner head
	s.swell(5*u, along(g.knee, g.ankle, .26, 24, -62), mesh.Vec{30 * u, 80 * u, 36 * u}) // calf, outer head
	s.swell(-4*u, along(g.knee, g.ankle, .92, 24, -22), mesh.Vec{14 * u, 60 * u, 18 * u})
	s.swell(-4*u, along(g.knee, g.ankle, .92, -24, -22), mesh.Vec{14 * u, 60 * u, 18 * u})
	s.swell(6*u, along(g.knee, g.ankle, .99, 31, -2), mesh.Vec{22 * u, 26 * u, 22 * u})  // outer ankle
	s.swell(6*u, along(g.knee, g.ankle, .97, -31, 4), mesh.Vec{22 * u, 26 * u, 24 * u})  // inner ankle
	s.swell(4*u, along(g.knee, g.ankle, .45, -8, 40), mesh.Vec{16 * u, 150 * u, 22 * u}) // edge of the shin
}

// handShape shapes the left hand in its own frame: x out of its back, y along, z to the thumb. The
// origin is the wrist.
func handShape(s *shaper) {
	palm := mesh.Vec{1, 0, 0}
	r := func(t, thumb, little, back, front, box float64) knot {
		return knot{t, section{out: thumb, in: little, front: back, back: front, box: box}}
	}
	s.limb(mesh.Vec{0, -4, 0}, mesh.Vec{0, 92, 0}, palm, [2]float64{22, 8}, 18, []knot{
		r(0, 26, 25, 17, 17, .25), r(.3, 33, 31, 15.5, 17, .4), r(.6, 38, 36, 14, 16, .55), r(1, 40, 38, 11, 12, .6),
	})
	s.ball(mesh.Vec{-8, 36, 26}, mesh.Vec{15, 32, 17}, 10)  // ball of the thumb
	s.ball(mesh.Vec{-7, 40, -26}, mesh.Vec{12, 36, 13}, 10) // edge of the hand
	for _, f := range []struct{ y, z, length, r, spread, curl float64 }{
		{90, 31, 74, 9.6, 9, 10}, {95, 10.5, 83, 9.8, 2.5, 10}, {92, -10, 77, 9.4, -4, 12}, {85, -29, 60, 8.3, -12, 14},
	} {
		finger(s, mesh.Vec{1, f.y - 6, f.z}, direction3(f.spread, -4), f.length+6, f.r, f.curl, 9)
		s.swell(1.8, mesh.Vec{12, f.y - 2, f.z}, mesh.Vec{14, 16, 10})
	}
	finger(s, mesh.Vec{-8, 22, 26}, direction3(42, -10), 92, 11.5, 4, 9)
}

// direction3 is the direction in the hand's frame turned to the thumb and to the back, degrees.
func direction3(thumbDeg, backDeg float64) mesh.Vec {
	d := direction(thumbDeg, backDeg)
	return mesh.Vec{d[2], -d[1], d[0]}
}

// finger joins one finger that bends to the palm by curl mm at its tip and is thicker at its joints.
func finger(s *shaper, from, dir mesh.Vec, length, r, curl, blend float64) {
	k := func(t, f float64) knot {
		return knot{t, section{out: r * f, in: r * f, front: r * f * .92, back: r * f * .98, dz: -curl * t * t}}
	}
	s.limb(from, from.Add(dir.Scale(length-r)), mesh.Vec{1, 0, 0}, [2]float64{r, r * .95}, blend, []knot{
		k(0, 1.04), k(.2, .98), k(.42, 1), k(.52, 1.02), k(.62, .94), k(.78, .93), k(.88, .88), k(1, .8),
	})
}

// footShape shapes the left foot in its own frame: x outward, y up, z forward, the floor at y = 0.
// The middle foot is 272 mm long.
func footShape(s *shaper) {
	up := mesh.Vec{0, 1, 0}
	r := func(t, out, in, top, height, box, dx float64) knot {
		return knot{t, section{out: out, in: in, front: top - height, back: height + 5, dz: height, box: box, dx: dx}}
	}
	s.limb(mesh.Vec{0, 0, -46}, mesh.Vec{4, 0, 142}, up, [2]float64{24, 26}, 16, []knot{
		r(0, 30, 29, 62, 26, .2, 0), r(.2, 31, 31, 76, 28, .2, 0), r(.4, 33, 30, 74, 28, .15, -1), r(.55, 37, 33, 60, 24, .2, -2),
		r(.72, 43, 39, 44, 20, .3, -2), r(.88, 46, 43, 33, 16, .4, 0), r(1, 43, 41, 25, 13, .4, 2),
	})
	s.ball(mesh.Vec{-1, 70, -4}, mesh.Vec{28, 48, 38}, 30)
	s.limb(mesh.Vec{0, 36, -52}, mesh.Vec{0, 150, -38}, mesh.Vec{0, 0, 1}, [2]float64{18, 40}, 24, []knot{
		{0, section{out: 19, in: 19, front: 20, back: 16}}, {.5, section{out: 12, in: 12, front: 16, back: 12}}, {1, section{out: 8, in: 8, front: 12, back: 6}},
	})
	s.swell(-9, mesh.Vec{-34, 8, 44}, mesh.Vec{26, 34, 60}) // arch
	for _, t := range []struct{ x, z, length, r, turn float64 }{
		{-29, 138, 58, 13, -2}, {-8, 142, 52, 9.6, 2}, {8.5, 138, 47, 9.2, 4}, {23, 131, 42, 8.8, 7}, {37, 121, 38, 8.6, 10},
	} {
		d := direction(t.turn, 0)
		from := mesh.Vec{t.x, t.r + 4, t.z}
		k := func(at, f, dz float64) knot {
			return knot{at, section{out: t.r * f, in: t.r * f, front: t.r * f, back: t.r * f, dz: dz}}
		}
		s.limb(from, from.Add(mesh.Vec{d[0], -.04, -d[1]}.Scale(t.length-t.r)), up, [2]float64{t.r, t.r}, 6, []knot{
			k(0, .9, 4), k(.45, .9, 1), k(.75, .96, -2), k(1, .86, -4),
		})
	}
	s.cut(mesh.Vec{0, 0, 0}, mesh.Vec{0, -1, 0}, 8)
}
