package texture

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
)

// Source: IEC 61966-2-1:1999; encode(0.18) by computation from its formula.
func TestSRGBCurve(t *testing.T) {
	if got := EncodeSRGB(0.18); math.Abs(got-0.4613561) > 5e-8 {
		t.Errorf("EncodeSRGB(0.18) = %.7f, want 0.4613561", got)
	}
	for c := 0; c < 256; c++ {
		if got := Encode8(Linear[c]); int(got) != c {
			t.Errorf("code %d comes back as %d", c, got)
		}
	}
	for i := 0; i <= 100000; i++ {
		v := float32(i) / 100000
		want := EncodeSRGB(float64(v)) * 255
		if got := float64(Encode8(v)); math.Abs(got-want) > 0.5+1e-4 {
			t.Fatalf("Encode8(%g) = %g, curve says %g", v, got, want)
		}
	}
	for _, v := range []float32{float32(math.NaN()), -1, float32(math.Inf(-1))} {
		if Encode8(v) != 0 {
			t.Errorf("Encode8(%v) = %d, want 0", v, Encode8(v))
		}
	}
	if Encode8(2) != 255 {
		t.Errorf("Encode8(2) = %d, want 255", Encode8(2))
	}
}

// Values by computation with the white (0.9505, 1, 1.0890), the row sums of the matrix of
// IEC 61966-2-1:1999.
func TestLabPrimaries(t *testing.T) {
	for _, c := range []struct {
		rgb  [3]uint8
		want Lab
	}{
		{[3]uint8{255, 0, 0}, Lab{53.2329, 80.1053, 67.2228}},
		{[3]uint8{0, 255, 0}, Lab{87.7370, -86.1884, 83.1861}},
		{[3]uint8{0, 0, 255}, Lab{32.3026, 79.1936, -107.8537}},
		{[3]uint8{255, 255, 255}, Lab{100, 0, 0}},
		{[3]uint8{0, 0, 0}, Lab{0, 0, 0}},
	} {
		got := LabFromSRGB8(c.rgb[0], c.rgb[1], c.rgb[2])
		for k := range got {
			if math.Abs(got[k]-c.want[k]) > 6e-5 {
				t.Errorf("%v: Lab %.4f, want %.4f", c.rgb, got, c.want)
				break
			}
		}
		back := LinearFromLab(got)
		for k := range back {
			if math.Abs(float64(back[k]-Linear[c.rgb[k]])) > 1e-6 {
				t.Errorf("%v: back to %v", c.rgb, back)
				break
			}
		}
	}
}

// The file names its source: Sharma, Wu, Dalal 2005, Table 1.
func TestDE00PublishedPairs(t *testing.T) {
	b, err := os.ReadFile("testdata/ciede2000_34.csv")
	if err != nil {
		t.Fatal(err)
	}
	r := csv.NewReader(strings.NewReader(string(b)))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) != 35 {
		t.Fatalf("%d rows, want a head and 34 pairs", len(rows))
	}
	for _, row := range rows[1:] {
		var f [8]float64
		for i := range f {
			if f[i], err = strconv.ParseFloat(row[i], 64); err != nil {
				t.Fatal(err)
			}
		}
		p, q := Lab{f[1], f[2], f[3]}, Lab{f[4], f[5], f[6]}
		for _, got := range []float64{DE00(p, q), DE00(q, p)} {
			if math.Abs(got-f[7]) > 5e-5+1e-9 {
				t.Errorf("pair %s: %.6f, want %.4f", row[0], got, f[7])
			}
		}
		if d := DE00(p, p); d != 0 {
			t.Errorf("pair %s: a colour differs from itself by %g", row[0], d)
		}
	}
}

func BenchmarkDE00(b *testing.B) {
	p, q := Lab{60, 15, 20}, Lab{48, 12, 12}
	for b.Loop() {
		p[0] += DE00(p, q) * 1e-9
	}
}

func BenchmarkLabFromLinear(b *testing.B) {
	p := [3]float32{0.4, 0.3, 0.2}
	for b.Loop() {
		p[0] = 0.4 + float32(LabFromLinear(p)[0])*1e-9
	}
}
