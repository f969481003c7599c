package picture

import (
	"context"
	"image"
	"image/draw"

	"mien/asset/scan"
)

// Turnaround draws r's scene from the front, the left, the back and the right, side by side at one
// scale, height pixels tall, with a scale bar. A panel is as wide as what it shows.
func Turnaround(ctx context.Context, r *Renderer, height int) (*image.RGBA, error) {
	lo, hi := scan.Bounds(r.scene.Mesh)
	d := hi.Sub(lo)
	views := BodyViews(lo, hi)
	metres := views[0].Camera.HeightM
	width := func(extent float64) int {
		return int(float64(height) * min(1, extent/metres+0.08))
	}
	widths := [4]int{width(d[0]), width(d[2]), width(d[0]), width(d[2])}
	total := 0
	for _, w := range widths {
		total += w
	}
	out := image.NewRGBA(image.Rect(0, 0, total, height+legendH))
	draw.Draw(out, out.Bounds(), image.NewUniform(screen(paper)), image.Point{}, draw.Src)
	text, err := newPen(out, 13, softer)
	if err != nil {
		return nil, err
	}
	x := 0
	for i, v := range views {
		im, err := r.Render(ctx, v.Camera, widths[i], height)
		if err != nil {
			return nil, err
		}
		draw.Draw(out, image.Rect(x, 0, x+widths[i], height), im, image.Point{}, draw.Src)
		text.writeCentred(x+widths[i]/2, height+16, v.Name)
		x += widths[i]
	}
	return out, scaleBar(out, margin, height+32, widths[0], float64(height)/metres)
}
