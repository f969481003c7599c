package picture

import (
	"image"
	"image/color"
	"strings"
	"sync"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"

	"mien/asset/texture"
)

// typeface is the one face of all pictures; it is part of the program.
var typeface = sync.OnceValues(func() (*opentype.Font, error) { return opentype.Parse(goregular.TTF) })

// pen writes text of one size and colour on a picture. A face is not safe for concurrent use, a pen
// neither.
type pen struct {
	im    *image.RGBA
	face  font.Face
	paint image.Image
}

func newPen(im *image.RGBA, px float64, c [3]float32) (*pen, error) {
	f, err := typeface()
	if err != nil {
		return nil, err
	}
	face, err := opentype.NewFace(f, &opentype.FaceOptions{Size: px, DPI: 72, Hinting: font.HintingVertical})
	if err != nil {
		return nil, err
	}
	return &pen{im, face, image.NewUniform(screen(c))}, nil
}

// screen returns a linear colour as the screen takes it.
func screen(c [3]float32) color.RGBA {
	return color.RGBA{texture.Encode8(c[0]), texture.Encode8(c[1]), texture.Encode8(c[2]), 255}
}

// width returns the length of s in pixels.
func (p *pen) width(s string) int { return font.MeasureString(p.face, s).Ceil() }

// write writes s with its baseline at y, beginning at x.
func (p *pen) write(x, y int, s string) {
	d := font.Drawer{Dst: p.im, Src: p.paint, Face: p.face, Dot: fixed.P(x, y)}
	d.DrawString(s)
}

// writeCentred writes s around x, writeEnding up to x.
func (p *pen) writeCentred(x, y int, s string) { p.write(x-p.width(s)/2, y, s) }
func (p *pen) writeEnding(x, y int, s string)  { p.write(x-p.width(s), y, s) }

// lines breaks s into at most n lines of at most width pixels; what does not fit ends in an ellipsis.
func (p *pen) lines(s string, width, n int) []string {
	var out []string
	words := strings.Fields(s)
	for len(words) > 0 && len(out) < n {
		k := 1
		for k < len(words) && p.width(strings.Join(words[:k+1], " ")) <= width {
			k++
		}
		line := strings.Join(words[:k], " ")
		words = words[k:]
		if len(out) == n-1 && len(words) > 0 || p.width(line) > width {
			line = p.cut(line, width)
		}
		out = append(out, line)
	}
	return out
}

// cut shortens s until it and an ellipsis fit.
func (p *pen) cut(s string, width int) string {
	r := []rune(s)
	for len(r) > 0 && p.width(string(r)+"…") > width {
		r = r[:len(r)-1]
	}
	return strings.TrimRight(string(r), " ,;") + "…"
}
