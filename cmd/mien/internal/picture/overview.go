package picture

import (
	"context"
	"image"
	"image/draw"

	"mien/asset/mesh"
	"mien/asset/scan"
)

// Overview is a whole part at one glance: before and after from the front, and the measured difference
// from the front and from the back.
type Overview struct {
	Before, After *Renderer // in one frame, metres
	Change        *Renderer // the surface that the difference is drawn on, with Heat or Points

	BeforeNote, AfterNote string
	Unit                  string // of the difference: "mm" (signed) or "dE00"
	Caption               string
}

// Draw draws the overview, four panels of panel by 1.6 panel pixels for something tall and narrow, else
// square ones (0 is 260).
func (o Overview) Draw(ctx context.Context, panel int) (*image.RGBA, error) {
	if panel == 0 {
		panel = 260
	}
	lo, hi := scan.Bounds(o.After.scene.Mesh)
	views := BodyViews(lo, hi)
	high := panel
	if hi[1]-lo[1] > 1.3*(hi[0]-lo[0]) {
		high = panel * 8 / 5
	}
	out := image.NewRGBA(image.Rect(0, 0, 2*margin+4*panel+3*gap, headPx+high+legendH+34))
	draw.Draw(out, out.Bounds(), image.NewUniform(screen(paper)), image.Point{}, draw.Src)
	word, err := newPen(out, 15, inkCol)
	if err != nil {
		return nil, err
	}
	soft, err := newPen(out, 12, softer)
	if err != nil {
		return nil, err
	}
	for i, p := range []struct {
		of         *Renderer
		view       View
		word, note string
	}{
		{o.Before, views[0], "before", o.BeforeNote}, {o.After, views[0], "after", o.AfterNote},
		{o.Change, views[0], "difference", "front"}, {o.Change, views[2], "difference", "back"},
	} {
		im, err := p.of.Render(ctx, fit(p.view.Camera, lo, hi, panel, high), panel, high)
		if err != nil {
			return nil, err
		}
		x := margin + i*(panel+gap)
		draw.Draw(out, image.Rect(x, headPx, x+panel, headPx+high), im, image.Point{}, draw.Src)
		word.write(x, 27, p.word)
		soft.write(x+word.width(p.word)+10, 27, p.note)
	}
	below := headPx + high + 12
	third := margin + 2*(panel+gap)
	legend := Legend{Limit: o.Change.HeatMax(), Unit: o.Unit, Signed: o.Unit == "mm", Unseen: o.Change.scene.hasUnseen()}
	if _, err := legend.draw(out, third, third+panel, below); err != nil {
		return nil, err
	}
	for i, l := range soft.lines(o.Caption, 2*panel, 3) {
		soft.write(margin, below+12+17*i, l)
	}
	return out, nil
}

// fit sets the height that c shows so that the box fills a panel of w by h pixels.
func fit(c Camera, lo, hi mesh.Vec, w, h int) Camera {
	d := hi.Sub(lo)
	c.HeightM = max(d[1], d[0]*float64(h)/float64(w)) / .94
	return c
}
