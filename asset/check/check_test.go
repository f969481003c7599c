package check

import (
	"context"
	"math"
	"testing"

	"mien/asset"
	"mien/asset/mesh"
	"mien/asset/scan"
	"mien/asset/texture"
)

// bean returns a closed body-sized ellipsoid with a spherical atlas in the upper half of a textured
// image, and two toes in front.
func bean() *scan.Scan {
	const rows, cols = 90, 120
	m := &mesh.Mesh{}
	put := func(phi, lon float64) {
		s, c := math.Sincos(lon)
		y := 0.9 - 0.9*math.Cos(phi)
		r := math.Sin(phi)
		z := 0.2 * r * c
		if y < 0.1 { // feet reach forward
			z += 0.12 * (1 - y/0.1)
		}
		m.Pos = append(m.Pos, [3]float32{float32(0.3 * r * s), float32(y), float32(z)})
	}
	put(0, 0)
	for k := 1; k < rows; k++ {
		for i := 0; i < cols; i++ {
			put(math.Pi*float64(k)/rows, 2*math.Pi*float64(i)/cols)
		}
	}
	put(math.Pi, 0)
	at := func(k, i int) uint32 {
		switch k {
		case 0:
			return 0
		case rows:
			return uint32(len(m.Pos) - 1)
		}
		return uint32(1 + (k-1)*cols + i%cols)
	}
	uv := func(k, i int) uint32 {
		m.UV = append(m.UV, [2]float32{float32(i) / cols, 0.02 + 0.55*float32(k)/rows})
		return uint32(len(m.UV) - 1)
	}
	tri := func(a, b, c [2]int) {
		m.Tri = append(m.Tri, [3]uint32{at(a[0], a[1]), at(b[0], b[1]), at(c[0], c[1])})
		m.TriUV = append(m.TriUV, [3]uint32{uv(a[0], a[1]), uv(b[0], b[1]), uv(c[0], c[1])})
	}
	for k := 0; k < rows; k++ {
		for i := 0; i < cols; i++ {
			if k > 0 {
				tri([2]int{k, i}, [2]int{k, i + 1}, [2]int{k + 1, i})
			}
			if k < rows-1 {
				tri([2]int{k, i + 1}, [2]int{k + 1, i + 1}, [2]int{k + 1, i})
			}
		}
	}
	if m.Volume() < 0 {
		m.Flip()
	}
	img := &texture.Image{W: 1024, H: 1024, Pix: make([]uint8, 3*1024*1024)}
	for y := 0; y < 1024; y++ {
		for x := 0; x < 1024; x++ {
			i := 3 * (y*1024 + x)
			if y < 620 {
				img.Pix[i], img.Pix[i+1], img.Pix[i+2] = uint8(150+(x*7+y*13)%40), uint8(100+(x*5+y*3)%30), 90
			} else {
				img.Pix[i], img.Pix[i+1], img.Pix[i+2] = 128, 128, 128
			}
		}
	}
	return &scan.Scan{Name: "bean", Part: asset.PartBody, Pose: asset.PoseA, Mesh: m, BaseColor: []*texture.Image{img}}
}

func codes(t *testing.T, s *scan.Scan) map[string]Severity {
	t.Helper()
	is, err := Take(context.Background(), s)
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]Severity{}
	for _, i := range is {
		if i.Message == "" || i.Got == "" || i.Allowed == "" || i.Part == "" {
			t.Errorf("incomplete issue %+v", i)
		}
		out[i.Code] = i.Severity
	}
	return out
}

func TestSoundTakeHasNoIssue(t *testing.T) {
	if got := codes(t, bean()); len(got) != 0 {
		t.Errorf("got %v", got)
	}
}

func TestEachFaultIsNamed(t *testing.T) {
	scale := func(f float64) func(s *scan.Scan) {
		return func(s *scan.Scan) {
			s.Mesh.Transform([16]float64{f, 0, 0, 0, 0, f, 0, 0, 0, 0, f, 0, 0, 0, 0, 1})
		}
	}
	for _, c := range []struct {
		code  string
		sev   Severity
		fault func(s *scan.Scan)
	}{
		{"unit", Refuse, scale(100)},
		{"unit", Refuse, scale(0.001)},
		{"axes", Refuse, func(s *scan.Scan) { s.Mesh.Transform([16]float64{1, 0, 0, 0, 0, 0, 1, 0, 0, -1, 0, 0, 0, 0, 0, 1}) }},
		{"facing", Warn, func(s *scan.Scan) { s.Mesh.Transform([16]float64{-1, 0, 0, 0, 0, 1, 0, 0, 0, 0, -1, 0, 0, 0, 0, 1}) }},
		{"inside-out", Refuse, func(s *scan.Scan) { s.Mesh.Flip() }},
		{"winding-mixed", Warn, func(s *scan.Scan) {
			for i := 0; i < len(s.Mesh.Tri); i += 20 {
				t := &s.Mesh.Tri[i]
				t[1], t[2] = t[2], t[1]
			}
		}},
		{"mesh-empty", Refuse, func(s *scan.Scan) { s.Mesh.Tri = nil }},
		{"mesh-broken", Refuse, func(s *scan.Scan) { s.Mesh.Pos[7][1] = float32(math.NaN()) }},
		{"mesh-broken", Refuse, func(s *scan.Scan) { s.Mesh.UV[7][1] = float32(math.NaN()) }},
		{"few-triangles", Warn, func(s *scan.Scan) { s.Mesh.Tri, s.Mesh.TriUV = s.Mesh.Tri[:5000], s.Mesh.TriUV[:5000] }},
		{"holes", Warn, func(s *scan.Scan) {
			s.Mesh.Tri = append(s.Mesh.Tri[:9000:9000], s.Mesh.Tri[9100:]...)
			s.Mesh.TriUV = append(s.Mesh.TriUV[:9000:9000], s.Mesh.TriUV[9100:]...)
		}},
		{"faces-without-area", Warn, func(s *scan.Scan) {
			for i := 0; i < 400; i++ {
				s.Mesh.Tri = append(s.Mesh.Tri, [3]uint32{uint32(i), uint32(i), uint32(i + 1)})
				s.Mesh.TriUV = append(s.Mesh.TriUV, [3]uint32{})
			}
		}},
		{"faces-twice", Warn, func(s *scan.Scan) {
			s.Mesh.Tri = append(s.Mesh.Tri, s.Mesh.Tri[:100]...)
			s.Mesh.TriUV = append(s.Mesh.TriUV, s.Mesh.TriUV[:100]...)
		}},
		{"edges-shared", Warn, func(s *scan.Scan) {
			s.Mesh.Tri = append(s.Mesh.Tri, s.Mesh.Tri[:100]...)
			s.Mesh.TriUV = append(s.Mesh.TriUV, s.Mesh.TriUV[:100]...)
		}},
		{"specks", Warn, func(s *scan.Scan) {
			for i := 0; i < 60; i++ {
				k := uint32(len(s.Mesh.Pos))
				x := float32(0.4 + 0.001*float64(i))
				s.Mesh.Pos = append(s.Mesh.Pos, [3]float32{x, 1, 0}, [3]float32{x, 1.001, 0}, [3]float32{x, 1, 0.001})
				s.Mesh.Tri = append(s.Mesh.Tri, [3]uint32{k, k + 1, k + 2})
				s.Mesh.TriUV = append(s.Mesh.TriUV, [3]uint32{})
			}
		}},
		{"floor", Warn, func(s *scan.Scan) {
			k := uint32(len(s.Mesh.Pos))
			s.Mesh.Pos = append(s.Mesh.Pos, [3]float32{-.6, 0, -.6}, [3]float32{.6, 0, -.6}, [3]float32{.6, 0, .6}, [3]float32{-.6, 0, .6})
			s.Mesh.Tri = append(s.Mesh.Tri, [3]uint32{k, k + 2, k + 1}, [3]uint32{k, k + 3, k + 2})
			s.Mesh.TriUV = append(s.Mesh.TriUV, [3]uint32{}, [3]uint32{})
		}},
		{"membrane", Warn, func(s *scan.Scan) {
			k := uint32(len(s.Mesh.Pos))
			s.Mesh.Pos = append(s.Mesh.Pos, [3]float32{0, 1.8, 0}, [3]float32{0.2, 1.8, 0}, [3]float32{0, 1.8, 0.2})
			s.Mesh.Tri = append(s.Mesh.Tri, [3]uint32{k, k + 2, k + 1})
			s.Mesh.TriUV = append(s.Mesh.TriUV, [3]uint32{})
		}},
		{"uv-missing", Warn, func(s *scan.Scan) { s.Mesh.TriUV = nil }},
		{"uv-outside", Warn, func(s *scan.Scan) {
			for i := 0; i < 3000; i++ {
				s.Mesh.UV[i][0] += 2
			}
		}},
		{"uv-flipped", Warn, func(s *scan.Scan) {
			for i := range s.Mesh.UV {
				s.Mesh.UV[i][1] = 1 - s.Mesh.UV[i][1]
			}
		}},
		{"texture-missing", Warn, func(s *scan.Scan) { s.BaseColor = nil }},
		{"texture-black", Warn, func(s *scan.Scan) { clear(s.BaseColor[0].Pix) }},
		{"texture-coarse", Warn, func(s *scan.Scan) {
			s.BaseColor[0] = &texture.Image{W: 64, H: 64, Pix: append([]uint8(nil), s.BaseColor[0].Pix[:3*64*64]...)}
		}},
	} {
		s := bean()
		c.fault(s)
		if got := codes(t, s); got[c.code] != c.sev {
			t.Errorf("%s: want %s, got %v", c.code, c.sev, got)
		}
	}
}

func TestRepeatsNamesTheFirst(t *testing.T) {
	a, b, c := bean(), bean(), bean()
	a.Name, b.Name, c.Name = "one", "two", "three"
	b.Mesh.Pos[5][0] += 1e-6
	got := Repeats([]*scan.Scan{a, b, c})
	if len(got) != 1 || got[0].Message != "three: same content as one" {
		t.Errorf("got %+v", got)
	}
}

func TestWorst(t *testing.T) {
	if w := Worst([]Issue{{Severity: Note}, {Severity: Refuse}, {Severity: Warn}}); w != Refuse {
		t.Errorf("got %q", w)
	}
	if w := Worst(nil); w != "" {
		t.Errorf("got %q", w)
	}
}
