package picture

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io"
	"slices"

	"golang.org/x/image/draw"
)

// DefaultBytes is the size that [WritePNG] keeps to when it is given none.
const DefaultBytes = 150_000

// WritePNG writes im as a PNG of at most limit bytes (0 is [DefaultBytes]): as it is when that fits,
// else with 256 colours chosen for it, else smaller, down to a quarter of its sides. Same picture, same
// bytes.
func WritePNG(w io.Writer, im *image.RGBA, limit int) error {
	if limit == 0 {
		limit = DefaultBytes
	}
	e := png.Encoder{CompressionLevel: png.BestCompression}
	var b bytes.Buffer
	encode := func(im image.Image) error {
		b.Reset()
		return e.Encode(&b, im)
	}
	if im.Rect.Dx()*im.Rect.Dy() <= limit { // larger ones hardly ever fit in full colour
		if err := encode(im); err != nil {
			return err
		}
	}
	for k := 0; b.Len() == 0 || b.Len() > limit; k++ {
		if k > 8 {
			return fmt.Errorf("picture: %d by %d pixels do not fit in %d bytes", im.Rect.Dx(), im.Rect.Dy(), limit)
		}
		small := im
		if k > 0 {
			f := 1 - 0.09*float64(k)
			small = image.NewRGBA(image.Rect(0, 0, max(1, int(float64(im.Rect.Dx())*f)), max(1, int(float64(im.Rect.Dy())*f))))
			draw.CatmullRom.Scale(small, small.Rect, im, im.Rect, draw.Src, nil)
		}
		if err := encode(reduce(small, 256)); err != nil {
			return err
		}
	}
	_, err := w.Write(b.Bytes())
	return err
}

// reduce returns im in at most n colours. Those of a legend that stands in the picture are kept as they
// are, so that its bar shows no bands.
//
// Source: the median cut of Heckbert 1982 [from memory], on 6 bits a channel.
func reduce(im *image.RGBA, n int) *image.Paletted {
	count := make([]int32, 1<<18)
	for i := 0; i+3 < len(im.Pix); i += 4 {
		count[bin(im.Pix[i:])]++
	}
	palette := legendColors(count)
	kept := make([]bool, 1<<18)
	for _, c := range palette {
		r := c.(color.RGBA)
		kept[bin([]uint8{r.R, r.G, r.B})] = true
	}
	var used, rest []int32
	for c, k := range count {
		if k > 0 {
			used = append(used, int32(c))
			if !kept[c] {
				rest = append(rest, int32(c))
			}
		}
	}
	if len(rest) > 0 {
		for _, b := range cutBoxes(rest, count, n-len(palette)) {
			palette = append(palette, mean(b, count))
		}
	}
	index := make([]uint8, 1<<18)
	for _, c := range used {
		index[c] = nearest(palette, c)
	}
	out := image.NewPaletted(im.Rect, palette)
	for i := range out.Pix {
		out.Pix[i] = index[bin(im.Pix[4*i:])]
	}
	return out
}

// legendColors returns the colours of each arm of the heat map whose whole bar stands in the picture.
func legendColors(count []int32) color.Palette {
	const step = 5
	var out color.Palette
	for arm := range heatTable {
		var bar color.Palette
		there := 0
		for i := 0; i <= heatSteps; i += step {
			c := screen(heatTable[arm][i])
			bar = append(bar, c)
			if count[bin([]uint8{c.R, c.G, c.B})] > 0 {
				there++
			}
		}
		if there*10 >= len(bar)*9 {
			out = append(out, bar...)
		}
	}
	return out
}

// mean returns the colour of a box.
func mean(box, count []int32) color.RGBA {
	var sum [3]int64
	var total int64
	for _, c := range box {
		k := int64(count[c])
		for a := range sum {
			sum[a] += k * int64(4*channel(c, a)+2)
		}
		total += k
	}
	return color.RGBA{uint8(sum[0] / total), uint8(sum[1] / total), uint8(sum[2] / total), 255}
}

// nearest returns the place of the palette's colour nearest to the middle of bin c, the first of equals.
func nearest(palette color.Palette, c int32) uint8 {
	best, at := int32(1<<30), 0
	for i, p := range palette {
		q := p.(color.RGBA)
		var d int32
		for a, v := range [3]uint8{q.R, q.G, q.B} {
			x := int32(v) - (4*channel(c, a) + 2)
			d += x * x
		}
		if d < best {
			best, at = d, i
		}
	}
	return uint8(at)
}

func bin(p []uint8) int32 {
	return int32(p[0]>>2)<<12 | int32(p[1]>>2)<<6 | int32(p[2]>>2)
}

func channel(c int32, a int) int32 { return c >> (12 - 6*a) & 63 }

// cutBoxes splits the colours into at most n boxes, each time the one whose spread over pixels is
// greatest, at the median of its longest side.
func cutBoxes(used, count []int32, n int) [][]int32 {
	boxes := [][]int32{used}
	for len(boxes) < n {
		best, at, axis := int64(0), -1, 0
		for i, b := range boxes {
			weight, a := spread(b, count)
			if weight > best {
				best, at, axis = weight, i, a
			}
		}
		if at < 0 {
			break
		}
		b := boxes[at]
		slices.SortStableFunc(b, func(x, y int32) int { return int(channel(x, axis) - channel(y, axis)) })
		total, half := int64(0), int64(0)
		for _, c := range b {
			total += int64(count[c])
		}
		k := 0
		for k < len(b)-1 && (half < total/2 || k == 0) {
			half += int64(count[b[k]])
			k++
		}
		boxes[at] = b[:k:k]
		boxes = append(boxes, b[k:])
	}
	return boxes
}

// spread returns how much a box would gain from a cut, 0 for a single colour, and its longest side.
func spread(b, count []int32) (weight int64, axis int) {
	if len(b) < 2 {
		return 0, 0
	}
	total := int64(0)
	for _, c := range b {
		total += int64(count[c])
	}
	longest := int32(0)
	for a := 0; a < 3; a++ {
		lo, hi := int32(63), int32(0)
		for _, c := range b {
			lo, hi = min(lo, channel(c, a)), max(hi, channel(c, a))
		}
		if hi-lo > longest {
			longest, axis = hi-lo, a
		}
	}
	// The square of the side and the root of the count: rare colours get their share.
	root := int64(1)
	for root*root < total {
		root++
	}
	return int64(longest) * int64(longest) * root, axis
}
