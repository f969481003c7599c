package invent

import "math"

// canvas is a mask that artwork is drawn on. Its coordinates are centimetres from the middle, x along
// the artwork and y across it; 1 means fully inked.
type canvas struct {
	w, h   int
	perCM  float64
	cover  []float32
	spread float64 // half width of the soft edge, cm
}

type point [2]float64

// newCanvas returns an empty mask whose edges fade over softCM, at least about 1 mm.
func newCanvas(widthCM, heightCM, softCM float64) *canvas {
	// About twelve cells a centimetre; a large piece is drawn coarser.
	per := min(12, 360/max(widthCM, heightCM))
	c := &canvas{w: int(widthCM*per) + 3, h: int(heightCM*per) + 3, perCM: per, spread: max(0.05, 0.6/per, softCM/2)}
	c.cover = make([]float32, c.w*c.h)
	return c
}

// at returns the cover at (x, y), bilinear, 0 outside.
func (c *canvas) at(x, y float64) float32 {
	fx, fy := x*c.perCM+float64(c.w-1)/2, y*c.perCM+float64(c.h-1)/2
	if !(fx >= 0 && fy >= 0 && fx < float64(c.w-1) && fy < float64(c.h-1)) {
		return 0
	}
	i, j := int(fx), int(fy)
	u, v := float32(fx-float64(i)), float32(fy-float64(j))
	p := c.cover[j*c.w+i:]
	q := p[c.w:]
	return (1-v)*((1-u)*p[0]+u*p[1]) + v*((1-u)*q[0]+u*q[1])
}

// half returns the half extents in cm.
func (c *canvas) half() (x, y float64) {
	return float64(c.w-1) / 2 / c.perCM, float64(c.h-1) / 2 / c.perCM
}

// each calls f for the cells within the box and keeps the greater cover. The outermost cells stay
// empty, so that the mask fades to nothing.
func (c *canvas) each(x0, y0, x1, y1 float64, f func(x, y float64) float64) {
	toX := func(x float64) float64 { return x*c.perCM + float64(c.w-1)/2 }
	toY := func(y float64) float64 { return y*c.perCM + float64(c.h-1)/2 }
	i0, i1 := max(1, int(toX(x0-c.spread))), min(c.w-2, int(toX(x1+c.spread))+1)
	j0, j1 := max(1, int(toY(y0-c.spread))), min(c.h-2, int(toY(y1+c.spread))+1)
	for j := j0; j <= j1; j++ {
		y := (float64(j) - float64(c.h-1)/2) / c.perCM
		for i := i0; i <= i1; i++ {
			x := (float64(i) - float64(c.w-1)/2) / c.perCM
			if d := f(x, y); d < c.spread {
				cover := float32(min(1, 0.5-0.5*d/c.spread))
				if at := j*c.w + i; cover > c.cover[at] {
					c.cover[at] = cover
				}
			}
		}
	}
}

// line draws a stroke of the given width with round ends.
func (c *canvas) line(a, b point, width float64) {
	r := width / 2
	dx, dy := b[0]-a[0], b[1]-a[1]
	ll := dx*dx + dy*dy
	c.each(min(a[0], b[0])-r, min(a[1], b[1])-r, max(a[0], b[0])+r, max(a[1], b[1])+r, func(x, y float64) float64 {
		t := 0.0
		if ll > 0 {
			t = min(max(((x-a[0])*dx+(y-a[1])*dy)/ll, 0), 1)
		}
		return math.Hypot(x-a[0]-t*dx, y-a[1]-t*dy) - r
	})
}

// path draws a stroke through points.
func (c *canvas) path(width float64, p ...point) {
	for i := 1; i < len(p); i++ {
		c.line(p[i-1], p[i], width)
	}
}

// curve draws the stroke of f from 0 to 1 in n pieces.
func (c *canvas) curve(width float64, n int, f func(t float64) point) {
	last := f(0)
	for i := 1; i <= n; i++ {
		next := f(float64(i) / float64(n))
		c.line(last, next, width)
		last = next
	}
}

// ring draws a circle's line.
func (c *canvas) ring(at point, radius, width float64) {
	r := radius + width/2
	c.each(at[0]-r, at[1]-r, at[0]+r, at[1]+r, func(x, y float64) float64 {
		return math.Abs(math.Hypot(x-at[0], y-at[1])-radius) - width/2
	})
}

// disc fills a circle.
func (c *canvas) disc(at point, radius float64) {
	c.each(at[0]-radius, at[1]-radius, at[0]+radius, at[1]+radius, func(x, y float64) float64 {
		return math.Hypot(x-at[0], y-at[1]) - radius
	})
}

// fill fills a polygon by the even-odd rule.
func (c *canvas) fill(p ...point) {
	x0, y0, x1, y1 := p[0][0], p[0][1], p[0][0], p[0][1]
	for _, q := range p {
		x0, x1, y0, y1 = min(x0, q[0]), max(x1, q[0]), min(y0, q[1]), max(y1, q[1])
	}
	c.each(x0, y0, x1, y1, func(x, y float64) float64 {
		inside := false
		nearest := math.Inf(1)
		for i, b := range p {
			a := p[(i+len(p)-1)%len(p)]
			if (a[1] > y) != (b[1] > y) && x < (b[0]-a[0])*(y-a[1])/(b[1]-a[1])+a[0] {
				inside = !inside
			}
			dx, dy := b[0]-a[0], b[1]-a[1]
			t := 0.0
			if ll := dx*dx + dy*dy; ll > 0 {
				t = min(max(((x-a[0])*dx+(y-a[1])*dy)/ll, 0), 1)
			}
			ex, ey := x-a[0]-t*dx, y-a[1]-t*dy
			nearest = min(nearest, ex*ex+ey*ey)
		}
		if inside {
			return -math.Sqrt(nearest)
		}
		return math.Sqrt(nearest)
	})
}
