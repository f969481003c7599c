package invent

import "math"

// artwork draws an ink's mask: of the tuning family bands, stars, waves, script and chevrons, of the
// report family leaves, nets, rings, lettering and feathers. The last digit of Motif picks the kind,
// the rest how it is drawn. An extended artwork is the same one with further pieces at its ends. Edges fade over
// softCM, so that a picture of coarse texels can carry it.
func artwork(family Family, ink Ink, softCM float64) *canvas {
	size := ink.SizeCM
	width := size * (1 + 0.62*float64(ink.Extended))
	height := size
	kind := int(ink.Motif % 5)
	if family == Tuning && kind == 3 || family == Report && kind == 3 {
		height = size * 0.55
	}
	c := newCanvas(width, height, softCM)
	draw := [2][5]func(*canvas, float64, *random){
		{drawBands, drawStar, drawWaves, drawScript, drawChevrons},
		{drawLeaf, drawNet, drawRings, drawLettering, drawFeather},
	}[family&1][kind]
	draw(c, size, newRandom(ink.Motif, "artwork"))
	for e := 0; e < ink.Extended; e++ {
		// Pieces go to both ends in turn, next to what is there.
		at := size * (0.5 + 0.31*float64(e/2+1) - 0.13)
		if e%2 == 1 {
			at = -at
		}
		drawPiece(c, family, at, size*0.26, newRandom(ink.Motif+uint64(e)+1, "further piece"))
	}
	return c
}

// drawBands draws rings around the limb with triangles between them.
func drawBands(c *canvas, s float64, r *random) {
	h := s / 2
	teeth := 5 + r.pick(5)
	for _, x := range []float64{-.40, .40} {
		c.line(point{x * s, -h}, point{x * s, h}, s*r.between(.07, .12))
	}
	for i := 0; i < teeth; i++ {
		y0, y1 := -h+s*float64(i)/float64(teeth), -h+s*float64(i+1)/float64(teeth)
		c.fill(point{-.26 * s, y0}, point{-.26 * s, y1}, point{.02 * s, (y0 + y1) / 2})
		c.fill(point{.27 * s, y0}, point{.27 * s, y1}, point{.08 * s, (y0 + y1) / 2})
	}
}

// drawStar draws a star with a smaller one inside and rays.
func drawStar(c *canvas, s float64, r *random) {
	n := 5 + r.pick(4)
	deep := r.between(.4, .6)
	star := func(size float64, turn float64) []point {
		var p []point
		for i := 0; i < 2*n; i++ {
			rad := size
			if i%2 == 1 {
				rad *= deep
			}
			sin, cos := math.Sincos(turn + math.Pi*float64(i)/float64(n))
			p = append(p, point{rad * cos, rad * sin})
		}
		return p
	}
	outer, inner := star(s*.36, 0), star(s*.16, math.Pi/float64(n))
	c.path(s*.045, append(outer, outer[0])...)
	c.fill(inner...)
	for i := 0; i < 2*n; i++ {
		sin, cos := math.Sincos(math.Pi * (float64(i) + .5) / float64(n))
		c.line(point{.37 * s * cos, .37 * s * sin}, point{.47 * s * cos, .47 * s * sin}, s*.025)
	}
	for i := 0; i < len(outer); i += 2 {
		c.line(point{}, outer[i], s*.02)
	}
}

// drawWaves draws rows of breaking waves.
func drawWaves(c *canvas, s float64, r *random) {
	rows := 4 + r.pick(3)
	phase := r.between(0, 6)
	for k := 0; k < rows; k++ {
		y := s * (-.4 + .8*float64(k)/float64(rows-1))
		amp := s * r.between(.035, .06)
		wide := s * (.47 - .05*math.Abs(float64(2*k-rows+1))/float64(rows))
		c.curve(s*(.025+.05*float64(k%2)), 40, func(t float64) point {
			x := wide * (2*t - 1)
			return point{x, y + amp*math.Sin(x/s*25+phase+float64(k)) + amp*.4*math.Sin(x/s*50+phase)}
		})
		for i := -2; i <= 2; i++ {
			c.disc(point{s * .19 * float64(i), y + s*.08}, s*.017)
		}
	}
}

// drawScript draws joined-up strokes that look written and say nothing.
func drawScript(c *canvas, s float64, r *random) {
	lines := 1 + r.pick(2)
	for l := 0; l < lines; l++ {
		y := s * (.26*float64(l) - .13*float64(lines-1))
		high := s * .11
		loops := 7 + r.pick(4)
		tall := make([]float64, loops+1)
		lean := make([]float64, loops+1)
		for i := range tall {
			tall[i], lean[i] = r.between(.5, 1.5), r.between(.2, .5)
		}
		c.curve(s*.032, 24*loops, func(t float64) point {
			k := t * float64(loops)
			i := int(min(k, float64(loops)-1))
			a := 2 * math.Pi * (k - float64(i))
			up := high * tall[i] * (1 - math.Cos(a)) / 2
			return point{-.46*s + .92*s*t + lean[i]*up - high*.35*math.Sin(a), y + high*.5 - up}
		})
		c.line(point{-.45 * s, y + high*.95}, point{.3 * s, y + high*.95}, s*.02)
	}
}

// drawChevrons draws nested angles with dots.
func drawChevrons(c *canvas, s float64, r *random) {
	n := 3 + r.pick(3)
	for i := 0; i < n; i++ {
		x := s * (-.42 + .62*float64(i)/float64(n-1))
		c.path(s*r.between(.035, .075), point{x, -.4 * s}, point{x + .22*s, 0}, point{x, .4 * s})
	}
	for i := -2; i <= 2; i++ {
		c.disc(point{-.36*s + .03*s*math.Abs(float64(i)), .15 * s * float64(i)}, s*.028)
	}
}

// drawLeaf draws a veined leaf.
func drawLeaf(c *canvas, s float64, r *random) {
	wide := r.between(.26, .38)
	edge := func(side float64) func(t float64) point {
		return func(t float64) point {
			return point{s * (.9*t - .45), side * wide * s * math.Sin(math.Pi*math.Pow(t, .8))}
		}
	}
	c.curve(s*.035, 30, edge(1))
	c.curve(s*.035, 30, edge(-1))
	c.line(point{-.48 * s, 0}, point{.44 * s, 0}, s*.035)
	veins := 5 + r.pick(4)
	for i := 1; i < veins; i++ {
		t := float64(i) / float64(veins)
		for _, side := range []float64{1, -1} {
			tip := edge(side)(min(1, t+.16))
			root := point{s * (.9*t - .45), 0}
			mid := point{root[0] + .5*(tip[0]-root[0]), .5 * tip[1]}
			c.fill(root, point{mid[0] - .03*s, mid[1]}, tip, point{mid[0] + .035*s, mid[1]})
		}
	}
}

// drawNet draws a net of six-sided meshes within a circle.
func drawNet(c *canvas, s float64, r *random) {
	cell := s * r.between(.09, .13)
	width := s * .028
	for j := -6; j <= 6; j++ {
		for i := -6; i <= 6; i++ {
			x, y := cell*math.Sqrt(3)*(float64(i)+.5*float64(j&1)), cell*1.5*float64(j)
			if math.Hypot(x, y) > .40*s {
				continue
			}
			var p []point
			for k := 0; k <= 6; k++ {
				sin, cos := math.Sincos(math.Pi/6 + math.Pi/3*float64(k))
				p = append(p, point{x + cell*cos, y + cell*sin})
			}
			c.path(width, p...)
			if r.pick(3) == 0 {
				c.fill(p[:6]...)
			}
		}
	}
}

// drawRings draws rings about one centre, some broken into beads.
func drawRings(c *canvas, s float64, r *random) {
	n := 4 + r.pick(2)
	for k := 1; k <= n; k++ {
		rad := .45 * s * float64(k) / float64(n)
		if r.pick(3) == 0 {
			beads := 6 * k
			for i := 0; i < beads; i++ {
				sin, cos := math.Sincos(2 * math.Pi * float64(i) / float64(beads))
				c.disc(point{rad * cos, rad * sin}, s*.024)
			}
			continue
		}
		c.ring(point{}, rad, s*r.between(.02, .06))
	}
	c.disc(point{}, s*.05)
}

// drawLettering draws upright signs of straight strokes that belong to no alphabet.
func drawLettering(c *canvas, s float64, r *random) {
	n := 5 + r.pick(3)
	step := .92 * s / float64(n)
	for i := 0; i < n; i++ {
		x0 := -.46*s + step*(float64(i)+.15)
		x1 := x0 + step*.62
		grid := func(k int) point {
			return point{x0 + (x1-x0)*float64(k%2), s * (-.2 + .2*float64(k/2))}
		}
		at := r.pick(2)
		c.line(grid(at), grid(at+4), s*.045)
		for k := 0; k < 3; k++ {
			to := r.pick(6)
			c.line(grid(at), grid(to), s*.045)
			at = to
		}
	}
}

// drawFeather draws a quill with barbs.
func drawFeather(c *canvas, s float64, r *random) {
	bend := r.between(-.12, .12)
	quill := func(t float64) point { return point{s * (.94*t - .47), bend * s * math.Sin(math.Pi*t)} }
	c.curve(s*.03, 24, quill)
	barbs := 14 + r.pick(6)
	for i := 2; i < barbs; i++ {
		t := float64(i) / float64(barbs)
		root := quill(t)
		long := s * (.10 + .22*math.Sin(math.Pi*t)) * r.between(.85, 1.05)
		for _, side := range []float64{1, -1} {
			c.path(s*.026, root, point{root[0] + .3*long, root[1] + side*.55*long}, point{root[0] + .75*long, root[1] + side*.85*long})
		}
	}
}

// drawPiece draws one of the pieces that extend an artwork, about (x, 0).
func drawPiece(c *canvas, family Family, x, s float64, r *random) {
	if family == Report {
		c.ring(point{x, 0}, s*.42, s*.14)
		c.disc(point{x, 0}, s*.2)
		for _, side := range []float64{1, -1} {
			c.path(s*.12, point{x, side * s * .5}, point{x + s*.3, side * s}, point{x, side * s * 1.5})
		}
		return
	}
	n := 4 + r.pick(2)
	var p []point
	for i := 0; i < 2*n; i++ {
		sin, cos := math.Sincos(math.Pi * float64(i) / float64(n))
		rad := s * .48
		if i%2 == 1 {
			rad *= .45
		}
		p = append(p, point{x + rad*cos, rad * sin})
	}
	c.fill(p...)
	for _, side := range []float64{1, -1} {
		c.line(point{x, side * s * .7}, point{x, side * s * 1.6}, s*.16)
		c.disc(point{x, side * s * 1.75}, s*.14)
	}
}
