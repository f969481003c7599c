package texture

import "math"

// Sample returns the linear light at texture coordinate (u, v), bilinear between the four nearest
// texel centres. The origin is the top left corner; the centre of pixel (x, y) is at
// ((x+0.5)/W, (y+0.5)/H). Coordinates outside 0..1 repeat; neighbours beyond the border are those on
// it. An empty image gives black.
func (im *Image) Sample(u, v float64) [3]float32 {
	if im.W == 0 || im.H == 0 {
		return [3]float32{}
	}
	x0, x1, fx := neighbours(u, im.W)
	y0, y1, fy := neighbours(v, im.H)
	p00, p10 := im.Pix[3*(y0*im.W+x0):][:3], im.Pix[3*(y0*im.W+x1):][:3]
	p01, p11 := im.Pix[3*(y1*im.W+x0):][:3], im.Pix[3*(y1*im.W+x1):][:3]
	w00, w10, w01, w11 := (1-fx)*(1-fy), fx*(1-fy), (1-fx)*fy, fx*fy
	var out [3]float32
	for k := range out {
		out[k] = w00*Linear[p00[k]] + w10*Linear[p10[k]] + w01*Linear[p01[k]] + w11*Linear[p11[k]]
	}
	return out
}

// neighbours returns the two texels around coordinate t on a side of n texels and the weight of the
// second.
func neighbours(t float64, n int) (i0, i1 int, f float32) {
	if t < 0 || t > 1 {
		t -= math.Floor(t)
	}
	x := t*float64(n) - 0.5
	if !(x > 0) {
		return 0, 0, 0
	}
	i0 = int(x)
	if i0 >= n-1 {
		return n - 1, n - 1, 0
	}
	return i0, i0 + 1, float32(x - float64(i0))
}

// Half returns the image at half the size, each pixel the mean of 2 by 2 in linear light (an odd last
// row or column stands in twice), encoded back to sRGB. A side of 1 stays 1.
func (im *Image) Half() *Image {
	out := New(max(1, (im.W+1)/2), max(1, (im.H+1)/2))
	if im.W == 0 || im.H == 0 {
		return &Image{}
	}
	for y := 0; y < out.H; y++ {
		r0 := im.Pix[3*im.W*min(2*y, im.H-1):]
		r1 := im.Pix[3*im.W*min(2*y+1, im.H-1):]
		row := out.Pix[3*out.W*y:]
		for x := 0; x < out.W; x++ {
			a, b := 3*min(2*x, im.W-1), 3*min(2*x+1, im.W-1)
			for k := 0; k < 3; k++ {
				s := Linear[r0[a+k]] + Linear[r0[b+k]] + Linear[r1[a+k]] + Linear[r1[b+k]]
				row[3*x+k] = Encode8(s / 4)
			}
		}
	}
	return out
}

// Mips is an image with its successive halves, for sampling over an area.
type Mips struct {
	Level []*Image // Level[0] is the image itself, the last one is 1 by 1
}

// NewMips returns the chain of im. It costs a third of the image in memory.
func NewMips(im *Image) *Mips {
	m := &Mips{Level: []*Image{im}}
	for im.W > 1 || im.H > 1 {
		im = im.Half()
		m.Level = append(m.Level, im)
	}
	return m
}

// SampleArea returns the linear light at (u, v) averaged over a square of about footprint texels of
// the full image on a side: linear between the two nearest levels, bilinear in each. A footprint of 1
// or less is [Image.Sample].
func (m *Mips) SampleArea(u, v, footprint float64) [3]float32 {
	if !(footprint > 1) {
		return m.Level[0].Sample(u, v)
	}
	l := math.Log2(footprint)
	k := int(l)
	if k >= len(m.Level)-1 {
		return m.Level[len(m.Level)-1].Sample(u, v)
	}
	f := float32(l - float64(k))
	a, b := m.Level[k].Sample(u, v), m.Level[k+1].Sample(u, v)
	for c := range a {
		a[c] += f * (b[c] - a[c])
	}
	return a
}

// SampleArea is [Mips.SampleArea] for a caller that samples an image once; it builds the levels that
// it needs on every call.
func (im *Image) SampleArea(u, v, footprint float64) [3]float32 {
	m := &Mips{Level: []*Image{im}}
	for k := 0.5; k < footprint && (im.W > 1 || im.H > 1); k *= 2 {
		im = im.Half()
		m.Level = append(m.Level, im)
	}
	return m.SampleArea(u, v, footprint)
}
