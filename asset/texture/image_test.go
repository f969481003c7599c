package texture

import (
	"bytes"
	"encoding/binary"
	"errors"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

func noise(w, h int, seed uint64) *Image {
	im := New(w, h)
	r := rand.New(rand.NewPCG(seed, 1))
	for i := range im.Pix {
		im.Pix[i] = uint8(r.Uint32())
	}
	return im
}

func TestPNGRoundTripKeepsEveryPixel(t *testing.T) {
	im := noise(37, 21, 1)
	var a, b bytes.Buffer
	if err := errors.Join(EncodePNG(&a, im), EncodePNG(&b, im)); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(a.Bytes(), b.Bytes()) {
		t.Error("same pixels, other bytes")
	}
	got, info, err := Decode(&a, "skin.png", Limits{})
	if err != nil {
		t.Fatal(err)
	}
	if got.Hash() != im.Hash() || info.Format != "png" || info.Bits != 8 || len(info.Notes) != 0 {
		t.Errorf("round trip: equal %v, info %+v", got.Hash() == im.Hash(), info)
	}
}

func TestJPEGStaysNear(t *testing.T) {
	im := New(64, 48)
	for i := range im.Pix {
		im.Pix[i] = uint8(100 + 40*math.Sin(float64(i/3%64)/9))
	}
	var b bytes.Buffer
	if err := EncodeJPEG(&b, im, 95); err != nil {
		t.Fatal(err)
	}
	got, info, err := DecodeBytes(b.Bytes(), "skin.jpg", Limits{})
	if err != nil || info.Format != "jpeg" {
		t.Fatal(err, info)
	}
	for i := range im.Pix {
		if d := int(im.Pix[i]) - int(got.Pix[i]); d < -6 || d > 6 {
			t.Fatalf("byte %d: %d became %d", i, im.Pix[i], got.Pix[i])
		}
	}
}

func TestDepthGreyAlphaAndInkAreSaid(t *testing.T) {
	box := image.Rect(0, 0, 2, 1)
	deep := image.NewNRGBA64(box)
	deep.SetNRGBA64(0, 0, color.NRGBA64{0x8080, 0x1234, 0xffff, 0xffff})
	deep.SetNRGBA64(1, 0, color.NRGBA64{0x8080, 0x1234, 0xffff, 0x1000})
	grey := image.NewGray16(box)
	grey.SetGray16(0, 0, color.Gray16{0x4040})
	indexed := image.NewPaletted(box, color.Palette{color.NRGBA{9, 8, 7, 255}, color.NRGBA{200, 100, 50, 128}})
	indexed.Pix[1] = 1
	for _, c := range []struct {
		name string
		src  image.Image
		pix  []uint8
		want Info
	}{
		{"16 bit with alpha", deep, []uint8{128, 18, 255, 128, 18, 255}, Info{Bits: 16, Alpha: true}},
		{"16 bit grey", grey, []uint8{64, 64, 64, 0, 0, 0}, Info{Bits: 16, Grey: true}},
		{"indexed with alpha", indexed, []uint8{9, 8, 7, 200, 100, 50}, Info{Bits: 8, Alpha: true}},
	} {
		var b bytes.Buffer
		if err := png.Encode(&b, c.src); err != nil {
			t.Fatal(err)
		}
		got, info, err := DecodeBytes(b.Bytes(), c.name, Limits{})
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(got.Pix, c.pix) {
			t.Errorf("%s: pixels %v, want %v", c.name, got.Pix, c.pix)
		}
		if info.Bits != c.want.Bits || info.Grey != c.want.Grey || info.Alpha != c.want.Alpha {
			t.Errorf("%s: info %+v", c.name, info)
		}
	}

	ink := image.NewCMYK(box)
	ink.SetCMYK(0, 0, color.CMYK{0, 255, 255, 0})
	var info Info
	got := fromImage(ink, &info)
	if got.Pix[0] != 255 || got.Pix[1] != 0 || !info.CMYK || len(info.Notes) != 1 {
		t.Errorf("four inks: %v, %+v", got.Pix, info)
	}
}

func TestHostileSizes(t *testing.T) {
	var b bytes.Buffer
	if err := EncodePNG(&b, New(3, 3)); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		w, h uint32
		want string
	}{
		{50000, 50000, "big.png: 50000 x 50000 pixels, allowed 32768 on a side"},
		{30000, 30000, "big.png: 30000 x 30000 pixels are 900000000, allowed 268435456"},
		{9000, 9000, "big.png: says 9000 x 9000 pixels, its"},
	} {
		_, _, err := DecodeBytes(claim(b.Bytes(), c.w, c.h), "big.png", Limits{})
		if err == nil || !strings.HasPrefix(err.Error(), c.want) {
			t.Errorf("%d x %d: %v, want %q", c.w, c.h, err, c.want)
		}
	}
	if _, _, err := Decode(bytes.NewReader(make([]byte, 200)), "long.png", Limits{MaxBytes: 100}); err == nil || !strings.Contains(err.Error(), "allowed 100") {
		t.Errorf("file over the limit: %v", err)
	}
}

// claim returns the PNG with another size in its header and the header's checksum mended.
func claim(b []byte, w, h uint32) []byte {
	b = append([]byte(nil), b...)
	binary.BigEndian.PutUint32(b[16:], w)
	binary.BigEndian.PutUint32(b[20:], h)
	binary.BigEndian.PutUint32(b[29:], crc32.ChecksumIEEE(b[12:29]))
	return b
}

func TestBrokenFilesAreNamed(t *testing.T) {
	var p, j bytes.Buffer
	im := noise(64, 64, 2)
	if err := errors.Join(EncodePNG(&p, im), EncodeJPEG(&j, im, 90)); err != nil {
		t.Fatal(err)
	}
	for name, b := range map[string][]byte{"cut.png": p.Bytes()[:p.Len()/2], "cut.jpg": j.Bytes()[:j.Len()/2]} {
		_, _, err := DecodeBytes(b, name, Limits{})
		if !errors.Is(err, io.ErrUnexpectedEOF) || !strings.HasPrefix(err.Error(), name+": truncated") {
			t.Errorf("%s: %v", name, err)
		}
	}
	_, _, err := DecodeBytes([]byte("II*\x00rest of it"), "base.tif", Limits{})
	var u *UnsupportedError
	if !errors.As(err, &u) || err.Error() != "base.tif: unsupported: tiff, allowed are png and jpeg" {
		t.Errorf("tiff: %v", err)
	}
	if _, _, err := DecodeBytes([]byte("hello"), "notes.txt", Limits{}); err == nil || errors.As(err, &u) {
		t.Errorf("text: %v", err)
	}
}

func TestSampleIsBilinearInLinearLight(t *testing.T) {
	im := &Image{W: 2, H: 1, Pix: []uint8{0, 0, 0, 255, 255, 255}}
	for _, c := range []struct {
		u    float64
		want float32
	}{{0, 0}, {0.25, 0}, {0.5, 0.5}, {0.625, 0.75}, {0.75, 1}, {1, 1}, {1.5, 0.5}, {-0.25, 1}} {
		if got := im.Sample(c.u, 0.5); math.Abs(float64(got[0]-c.want)) > 1e-6 {
			t.Errorf("u = %g: %g, want %g", c.u, got[0], c.want)
		}
	}
	top := &Image{W: 1, H: 2, Pix: []uint8{255, 0, 0, 0, 255, 0}}
	if got := top.Sample(0.5, 0); got[0] != 1 || got[1] != 0 {
		t.Errorf("v = 0 is not the top row: %v", got)
	}
}

func TestHalvesKeepTheMeanLight(t *testing.T) {
	im := noise(64, 32, 3)
	mean := func(im *Image) (s float64) {
		for _, c := range im.Pix {
			s += float64(Linear[c])
		}
		return s / float64(len(im.Pix))
	}
	m := NewMips(im)
	if n := len(m.Level); n != 7 || m.Level[6].W != 1 || m.Level[6].H != 1 {
		t.Fatalf("%d levels, last %d x %d", n, m.Level[n-1].W, m.Level[n-1].H)
	}
	for k, l := range m.Level {
		if d := math.Abs(mean(l) - mean(im)); d > 0.004 {
			t.Errorf("level %d: mean light moved by %g", k, d)
		}
	}
	odd := noise(5, 3, 4).Half()
	if odd.W != 3 || odd.H != 2 {
		t.Errorf("half of 5 x 3 is %d x %d, want 3 x 2", odd.W, odd.H)
	}
	for _, f := range []float64{0.5, 1, 1.7, 4, 100} {
		if a, b := m.SampleArea(0.3, 0.6, f), im.SampleArea(0.3, 0.6, f); a != b {
			t.Errorf("footprint %g: chain %v, image %v", f, a, b)
		}
	}
}

func FuzzDecode(f *testing.F) {
	var p, j bytes.Buffer
	_ = EncodePNG(&p, noise(8, 8, 5))
	_ = EncodeJPEG(&j, noise(8, 8, 5), 80)
	f.Add(p.Bytes())
	f.Add(j.Bytes())
	f.Add(claim(p.Bytes(), 4000, 4000))
	f.Fuzz(func(t *testing.T, b []byte) {
		im, _, err := DecodeBytes(b, "fuzz", Limits{MaxPixels: 1 << 22})
		if err == nil && len(im.Pix) != 3*im.W*im.H {
			t.Fatalf("%d x %d with %d bytes", im.W, im.H, len(im.Pix))
		}
	})
}

func BenchmarkDecodeJPEG1024(b *testing.B) {
	var j bytes.Buffer
	if err := jpeg.Encode(&j, noise(1024, 1024, 6).RGBA(), nil); err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, _, err := DecodeBytes(j.Bytes(), "", Limits{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkSample(b *testing.B) {
	im := noise(1024, 1024, 7)
	u := 0.1
	for b.Loop() {
		u += float64(im.Sample(u, 0.3)[0])*1e-9 + 0.001
	}
}
