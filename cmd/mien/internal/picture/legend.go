package picture

import (
	"fmt"
	"image"
	"math"
)

// Legend says what the colours of measured change mean.
type Legend struct {
	Limit  float64 // value of the end colours
	Unit   string  // "mm" or "dE00"
	Signed bool    // both arms; else only the one from the centre to orange
	Unseen bool    // the picture shows surface without a measurement
}

// draw draws the legend below a picture: a plain bar within x0 to x1 and its end values; top is its
// upper edge. It returns the lower edge.
func (l Legend) draw(im *image.RGBA, x0, x1, top int) (int, error) {
	text, err := newPen(im, 12, inkCol)
	if err != nil {
		return 0, err
	}
	soft, err := newPen(im, 11, softer)
	if err != nil {
		return 0, err
	}
	const high = 9
	for x := x0; x < x1; x++ {
		f := (float64(x-x0) + 0.5) / float64(x1-x0)
		v := f
		if l.Signed {
			v = 2*f - 1
		}
		c := HeatColor(v, 1)
		for y := top; y < top+high; y++ {
			set(im, x, y, c)
		}
	}
	base := top + high + 14
	end := number(l.Limit)
	if l.Signed {
		text.write(x0, base, "−"+end)
		text.writeCentred((x0+x1)/2, base, "0")
		text.writeEnding(x1, base, "+"+end+" "+l.Unit)
		soft.write(x0, base+15, "surface further in")
		soft.writeEnding(x1, base+15, "further out")
	} else {
		text.write(x0, base, "0")
		text.writeEnding(x1, base, end+" "+l.Unit)
		soft.write(x0, base+15, "same colour")
		soft.writeEnding(x1, base+15, "another colour")
	}
	if l.Unseen {
		word := "not measured"
		w := soft.width(word) + 20
		x := (x0+x1)/2 - w/2
		for yy := base + 6; yy < base+15; yy++ {
			for xx := x; xx < x+14; xx++ {
				c := heatTable[0][0]
				if (xx+yy)%6 < 2 {
					c = unseen
				}
				set(im, xx, yy, c)
			}
		}
		soft.write(x+20, base+15, word)
	}
	return base + 18, nil
}

// number writes a positive value with two significant digits, whole from 10 on.
func number(v float64) string {
	switch {
	case v >= 9.95:
		return fmt.Sprintf("%.0f", v)
	case v >= 0.995:
		return fmt.Sprintf("%.1f", v)
	}
	return fmt.Sprintf("%.2f", v)
}

// NiceLimit rounds v up to 1, 1.5, 2, 3, 4, 5, 6 or 8 times a power of ten, so that a legend ends in a
// plain number.
func NiceLimit(v float64) float64 {
	if !(v > 0) || math.IsInf(v, 0) {
		return 1
	}
	ten := math.Pow(10, math.Floor(math.Log10(v)))
	for _, s := range []float64{1, 1.5, 2, 3, 4, 5, 6, 8, 10} {
		if v <= s*ten*(1+1e-9) {
			return s * ten
		}
	}
	return 10 * ten
}

// scaleBar draws a bar of a plain number of centimetres, a fifth to a half of width pixels long, with
// its left end at x and its baseline at y.
func scaleBar(im *image.RGBA, x, y, width int, pixelsPerMetre float64) error {
	text, err := newPen(im, 12, inkCol)
	if err != nil {
		return err
	}
	lengthCM := 0.1
	for _, s := range []float64{0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100} {
		if s/100*pixelsPerMetre <= float64(width)*0.45 {
			lengthCM = s
		}
	}
	n := int(math.Round(lengthCM / 100 * pixelsPerMetre))
	for dx := 0; dx <= n; dx++ {
		set(im, x+dx, y, inkCol)
		if dx == 0 || dx == n {
			for dy := -3; dy <= 3; dy++ {
				set(im, x+dx, y+dy, inkCol)
			}
		}
	}
	text.write(x+n+8, y+4, fmt.Sprintf("%g cm", lengthCM))
	return nil
}
