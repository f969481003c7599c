package picture

import (
	"bytes"
	"image"
	"image/png"
	"math/rand/v2"
	"testing"
)

// Noise does not compress: it gets fewer colours and then fewer pixels until it fits.
func TestWritePNGKeepsToItsSize(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for _, side := range []int{40, 200, 480} {
		im := image.NewRGBA(image.Rect(0, 0, side, side))
		for i := range im.Pix {
			im.Pix[i] = uint8(r.Uint32())
			if i%4 == 3 {
				im.Pix[i] = 255
			}
		}
		var b bytes.Buffer
		if err := WritePNG(&b, im, 0); err != nil {
			t.Fatal(err)
		}
		got, err := png.Decode(bytes.NewReader(b.Bytes()))
		if err != nil {
			t.Fatal(err)
		}
		if b.Len() > DefaultBytes {
			t.Errorf("%d pixels: %d bytes, allowed %d", side, b.Len(), DefaultBytes)
		}
		if w := got.Bounds().Dx(); side == 40 && w != 40 || w < side/4 {
			t.Errorf("%d pixels became %d", side, w)
		}
	}
}

// A picture of few colours keeps each of them within the 6 bits that the choice works on.
func TestReduceKeepsFewColours(t *testing.T) {
	im := image.NewRGBA(image.Rect(0, 0, 64, 64))
	for i := 0; i < len(im.Pix); i += 4 {
		k := uint8(i / 4 % 7)
		im.Pix[i], im.Pix[i+1], im.Pix[i+2], im.Pix[i+3] = 30*k, 255-20*k, 11*k, 255
	}
	out := reduce(im, 16)
	for y := 0; y < 64; y++ {
		for x := 0; x < 64; x++ {
			a, b := im.RGBAAt(x, y), out.At(x, y)
			r, g, bl, _ := b.RGBA()
			for _, d := range []int{int(a.R) - int(r>>8), int(a.G) - int(g>>8), int(a.B) - int(bl>>8)} {
				if d < -4 || d > 4 {
					t.Fatalf("%d,%d: %v became %v", x, y, a, b)
				}
			}
		}
	}
}

func TestNiceLimit(t *testing.T) {
	for v, want := range map[float64]float64{0: 1, 0.7: 0.8, 1: 1, 1.2: 1.5, 3.1: 4, 7: 8, 9: 10, 11: 15, 61: 80} {
		if got := NiceLimit(v); got < want*(1-1e-9) || got > want*(1+1e-9) {
			t.Errorf("%v: got %v, want %v", v, got, want)
		}
	}
}

func TestTextIsCutToItsRoom(t *testing.T) {
	p, err := newPen(image.NewRGBA(image.Rect(0, 0, 10, 10)), 13, inkCol)
	if err != nil {
		t.Fatal(err)
	}
	long := "left forearm, new ink on bare skin, light and tan and posture ruled out, and so on and on"
	lines := p.lines(long, 200, 2)
	if len(lines) != 2 {
		t.Fatalf("%q", lines)
	}
	for _, l := range lines {
		if p.width(l) > 200 {
			t.Errorf("%q is %d pixels wide", l, p.width(l))
		}
	}
	if got := p.lines("short", 200, 2); len(got) != 1 || got[0] != "short" {
		t.Errorf("%q", got)
	}
}
