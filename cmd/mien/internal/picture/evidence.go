package picture

import (
	"context"
	"fmt"
	"image"
	"image/draw"
	"math"
	"slices"

	"mien/asset/mesh"
	"mien/asset/scan"
)

// Sheet is the evidence for one change: the surface before, after, and the measured difference, at one
// identical view that looks straight at it.
type Sheet struct {
	Before, After *Renderer // in one frame, metres
	Change        *Renderer // the surface that the difference is drawn on, with Heat or Points

	BeforeNote, AfterNote string // under the words before and after: the sessions
	Unit                  string // of the difference: "mm" (signed) or "dE00"
	Caption               string // one line: what changed
	Detail                string // smaller, up to two lines

	Centre mesh.Vec    // of the changed area
	Normal mesh.Vec    // outward there; zero is taken from the surface
	Bounds [2]mesh.Vec // least and greatest corner of the changed area
}

const (
	margin  = 18
	gap     = 14
	headPx  = 42
	footPx  = 96
	legendH = 50
)

// Evidence draws the sheet with panels of panel pixels on a side (0 is 380).
func Evidence(ctx context.Context, s Sheet, panel int) (*image.RGBA, error) {
	if panel == 0 {
		panel = 380
	}
	if panel < 160 || panel > 2000 {
		return nil, fmt.Errorf("picture: panels of %d pixels, allowed are 160 to 2000", panel)
	}
	centre, normal := s.frame()
	target, room, depth := centre, 1.7, 0.0
	if s.Normal == (mesh.Vec{}) && s.Bounds[1].Sub(s.Bounds[0]).Len() > 0.15 {
		normal, target, room = s.wide(), s.Bounds[0].Add(s.Bounds[1]).Scale(0.5), 1.4
		depth = s.across(normal)
	}
	cam := Facing(target, normal, s.size(normal, room))
	cam.Eye = cam.Eye.Add(normal.Scale(depth / 2))
	width := 2*margin + 3*panel + 2*gap
	out := image.NewRGBA(image.Rect(0, 0, width, headPx+panel+legendH+footPx))
	draw.Draw(out, out.Bounds(), image.NewUniform(screen(paper)), image.Point{}, draw.Src)

	word, err := newPen(out, 15, inkCol)
	if err != nil {
		return nil, err
	}
	soft, err := newPen(out, 12, softer)
	if err != nil {
		return nil, err
	}
	change := *s.Change
	if change.scene.HeatMax == 0 {
		change.heatMax = change.scene.limitNear(target, cam.HeightM)
	}
	for i, p := range []struct {
		of         Renderer
		word, note string
	}{{*s.Before, "before", s.BeforeNote}, {*s.After, "after", s.AfterNote}, {change, "difference", ""}} {
		p.of.ground = card
		im, err := p.of.Render(ctx, cam, panel, panel)
		if err != nil {
			return nil, err
		}
		x := margin + i*(panel+gap)
		draw.Draw(out, image.Rect(x, headPx, x+panel, headPx+panel), im, image.Point{}, draw.Src)
		word.write(x, 27, p.word)
		soft.write(x+word.width(p.word)+10, 27, p.note)
	}
	below := headPx + panel + 12
	if err := scaleBar(out, margin, below+5, panel, float64(panel)/cam.HeightM); err != nil {
		return nil, err
	}
	third := margin + 2*(panel+gap)
	legend := Legend{Limit: change.heatMax, Unit: s.Unit, Signed: s.Unit == "mm", Unseen: change.scene.unseenNear(target, 0.7*cam.HeightM)}
	if _, err := legend.draw(out, third, third+panel, below); err != nil {
		return nil, err
	}
	if err := s.caption(ctx, out, centre, normal, below+legendH); err != nil {
		return nil, err
	}
	return out, nil
}

// caption draws the lowest strip: where on the body, and what.
func (s *Sheet) caption(ctx context.Context, out *image.RGBA, centre, normal mesh.Vec, top int) error {
	x := margin
	lo, hi := scan.Bounds(s.After.scene.Mesh)
	d := hi.Sub(lo)
	spot := s.Bounds[1].Sub(s.Bounds[0])
	if spot.Len() < 0.6*d.Len() {
		const side = footPx - 16
		if err := locate(ctx, out, s.After.clay(), lo, hi, centre, normal, image.Rect(x, top-4, x+side, top-4+side)); err != nil {
			return err
		}
		x += side + 16
	}
	big, err := newPen(out, 16, inkCol)
	if err != nil {
		return err
	}
	small, err := newPen(out, 13, softer)
	if err != nil {
		return err
	}
	room := out.Bounds().Dx() - margin - x
	y := top + 22
	for _, l := range big.lines(s.Caption, room, 1) {
		big.write(x, y, l)
		y += 22
	}
	for _, l := range small.lines(s.Detail, room, 2) {
		small.write(x, y, l)
		y += 18
	}
	return nil
}

// locate draws the whole surface small, from the side that normal points to, with a mark at centre.
func locate(ctx context.Context, out *image.RGBA, r *Renderer, lo, hi, centre, normal mesh.Vec, at image.Rectangle) error {
	best, view := math.Inf(-1), View{}
	for _, v := range BodyViews(lo, hi) {
		if d := v.Camera.Eye.Sub(v.Camera.Target).Unit().Dot(normal); d > best {
			best, view = d, v
		}
	}
	side := at.Dx()
	im, err := r.Render(ctx, view.Camera, side, side)
	if err != nil {
		return err
	}
	draw.Draw(out, at, im, image.Point{}, draw.Src)
	p := view.Camera.project(side, side)
	x, y, _ := p.at(centre)
	dot(out, float64(at.Min.X)+x, float64(at.Min.Y)+y, 3.2)
	return nil
}

// dot draws a disc in the one accent colour, with soft edges and a rim of paper.
func dot(im *image.RGBA, cx, cy, r float64) {
	accent := heatTable[1][heatSteps]
	for y := int(cy - r - 3); y <= int(cy+r+3); y++ {
		for x := int(cx - r - 3); x <= int(cx+r+3); x++ {
			if !(image.Point{X: x, Y: y}).In(im.Bounds()) {
				continue
			}
			d := math.Hypot(float64(x)+0.5-cx, float64(y)+0.5-cy)
			blend(im, x, y, paper, min(max(r+2-d, 0), 1))
			blend(im, x, y, accent, min(max(r+0.5-d, 0), 1))
		}
	}
}

func blend(im *image.RGBA, x, y int, c [3]float32, a float64) {
	p, q := im.Pix[im.PixOffset(x, y):], screen(c)
	for k, v := range []uint8{q.R, q.G, q.B} {
		p[k] = uint8(float64(p[k])*(1-a) + float64(v)*a + 0.5)
	}
}

// frame returns the place on the surface of Change nearest to the centre, and the normal there.
func (s *Sheet) frame() (centre, normal mesh.Vec) {
	m := s.Change.scene.Mesh
	best, at := math.Inf(1), uint32(0)
	for i := range m.Pos {
		d := m.At(uint32(i)).Sub(s.Centre)
		if q := d.Dot(d); q < best {
			best, at = q, uint32(i)
		}
	}
	if len(m.Pos) == 0 {
		return s.Centre, mesh.Vec{0, 0, 1}
	}
	centre, normal = m.At(at), s.Normal.Unit()
	if normal != (mesh.Vec{}) {
		return centre, normal
	}
	reach := max(0.012, 0.3*s.Bounds[1].Sub(s.Bounds[0]).Len())
	vn := s.Change.normal
	for i := range m.Pos {
		d := m.At(uint32(i)).Sub(centre)
		if w := 1 - d.Dot(d)/(reach*reach); w > 0 && vn[i].Dot(vn[at]) > 0 {
			normal = normal.Add(vn[i].Scale(w))
		}
	}
	return centre, normal.Unit()
}

// wide returns the direction from which a large area shows best: along the mean normal of the surface
// in its bounds; from the front and a little to the left for one that goes all round; and never from
// more than 40 degrees above or below, since people know each other from the front.
func (s *Sheet) wide() mesh.Vec {
	m := s.Change.scene.Mesh
	var sum mesh.Vec
	n := 0
	for i := range m.Pos {
		q, in := m.At(uint32(i)), true
		for k := range q {
			in = in && q[k] >= s.Bounds[0][k] && q[k] <= s.Bounds[1][k]
		}
		if in {
			sum = sum.Add(s.Change.normal[i])
			n++
		}
	}
	if sum.Len() < 0.25*float64(max(n, 1)) {
		return mesh.Vec{0.4, 0.15, 0.9}.Unit()
	}
	normal := sum.Unit()
	const sin, cos = 0.6428, 0.7660
	if math.Abs(normal[1]) <= sin {
		return normal
	}
	level := mesh.Vec{normal[0], 0, normal[2]}
	if level.Len() < 0.35 {
		level = mesh.Vec{0.25, 0, 1}
	}
	return level.Unit().Scale(cos).Add(mesh.Vec{0, math.Copysign(sin, normal[1]), 0})
}

// size returns how many metres the view shows: the changed area times room.
func (s *Sheet) size(normal mesh.Vec, room float64) float64 {
	p := Facing(mesh.Vec{}, normal, 1).project(1, 1)
	return min(max(room*max(s.across(p.right), s.across(p.up)), 0.08), 2.4)
}

// across returns the extent of the changed area along a unit direction, metres.
func (s *Sheet) across(axis mesh.Vec) float64 {
	d := s.Bounds[1].Sub(s.Bounds[0])
	return math.Abs(axis[0])*d[0] + math.Abs(axis[1])*d[1] + math.Abs(axis[2])*d[2]
}

// limitNear returns a plain end value for the legend: just above the 98th percentile of what is measured
// within the view, at least 1.
func (s *Scene) limitNear(centre mesh.Vec, size float64) float64 {
	var near []float64
	add := func(p [3]float32, v float32) {
		d := mesh.Vec{float64(p[0]), float64(p[1]), float64(p[2])}.Sub(centre)
		if v == v && d.Dot(d) < size*size/4 {
			near = append(near, math.Abs(float64(v)))
		}
	}
	if s.Heat != nil {
		for i, v := range s.Heat {
			add(s.Mesh.Pos[i], v)
		}
	} else if s.Points != nil {
		for i, v := range s.Points.value {
			add(s.Points.pos[i], v)
		}
	}
	return NiceLimit(max(percentile(near, 0.98), 1))
}

// hasUnseen reports whether some of the surface was not measured.
func (s *Scene) hasUnseen() bool { return s.unseenNear(mesh.Vec{}, math.Inf(1)) }

// unseenNear is hasUnseen within reach metres of centre.
func (s *Scene) unseenNear(centre mesh.Vec, reach float64) bool {
	pos, values := s.Mesh.Pos, s.Heat
	if values == nil && s.Points != nil {
		pos, values = s.Points.pos, s.Points.value
	}
	for i, v := range values {
		if v == v {
			continue
		}
		d := mesh.Vec{float64(pos[i][0]), float64(pos[i][1]), float64(pos[i][2])}.Sub(centre)
		if d.Len() < reach {
			return true
		}
	}
	return false
}

// percentile returns the value below which the share f of v lies, 0 for none. It sorts v.
func percentile(v []float64, f float64) float64 {
	if len(v) == 0 {
		return 0
	}
	slices.Sort(v)
	return v[min(int(f*float64(len(v))), len(v)-1)]
}
