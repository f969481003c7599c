package picture

import (
	"bytes"
	"context"
	"image/png"
	"io"
	"math"
	"testing"

	"mien/asset"
	"mien/asset/invent"
	"mien/asset/mesh"
	"mien/asset/terms"
	"mien/asset/texture"
)

// athlete returns a sheet about new ink on a left forearm, with a made-up difference around it.
func athlete(t *testing.T) Sheet {
	t.Helper()
	ctx := context.Background()
	p := invent.NewPerson(invent.Tuning, 7)
	look := invent.Look{Hair: invent.Short, Beard: invent.ShortBeard, Shoes: invent.Shoe{Model: 2, Colours: [3]uint8{1, 2, 3}}}
	inked := look
	inked.Ink = []invent.Ink{{Region: terms.ForearmLeft, Motif: 3, SizeCM: 9, Contrast: 25}}
	capture := invent.Capture{GridMm: 10, TexSize: 1024}
	before, _, err := p.Take(ctx, look, capture, asset.PartBody)
	if err != nil {
		t.Fatal(err)
	}
	after, _, err := p.Take(ctx, inked, capture, asset.PartBody)
	if err != nil {
		t.Fatal(err)
	}
	var lo, hi, sum mesh.Vec
	n := 0
	for i, l := range after.Mesh.Label {
		if terms.Region(l) != terms.ForearmLeft {
			continue
		}
		q := after.Mesh.At(uint32(i))
		if n == 0 {
			lo, hi = q, q
		}
		for k := range q {
			lo[k], hi[k] = min(lo[k], q[k]), max(hi[k], q[k])
		}
		sum = sum.Add(q)
		n++
	}
	centre := sum.Scale(1 / float64(n))
	heat := make([]float32, len(after.Mesh.Pos))
	for i := range heat {
		d := after.Mesh.At(uint32(i)).Sub(centre).Add(mesh.Vec{0, -0.02, 0})
		heat[i] = float32(20 * math.Exp(-d.Dot(d)/0.002))
		if terms.Region(after.Mesh.Label[i]) == terms.HandLeft {
			heat[i] = float32(math.NaN())
		}
	}
	return Sheet{
		Before: prepare(t, Scene{Mesh: before.Mesh, BaseColor: before.BaseColor, Even: true}),
		After:  prepare(t, Scene{Mesh: after.Mesh, BaseColor: after.BaseColor, Even: true}),
		Change: prepare(t, Scene{Mesh: after.Mesh, Heat: heat}), Unit: "dE00",
		BeforeNote: "2026-01-12a-studio", AfterNote: "2026-10-03a-road",
		Caption: "ath-0147: left forearm, new ink, 41 cm2",
		Detail:  "Confidence 0.86. Local contrast appeared on bare skin on both sides of the seam; light, tan and posture ruled out.",
		Centre:  centre, Bounds: [2]mesh.Vec{lo, hi},
	}
}

func prepare(t testing.TB, s Scene) *Renderer {
	t.Helper()
	r, err := NewRenderer(s)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestEvidenceSheet(t *testing.T) {
	s := athlete(t)
	im, err := Evidence(context.Background(), s, 0)
	if err != nil {
		t.Fatal(err)
	}
	keep(t, "evidence.png", im)
	again, err := Evidence(context.Background(), s, 0)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(im.Pix, again.Pix) {
		t.Error("two runs differ")
	}
	var a bytes.Buffer
	if err := WritePNG(&a, im, 0); err != nil {
		t.Fatal(err)
	}
	n := a.Len()
	if a.Len() > DefaultBytes {
		t.Errorf("%d bytes, allowed %d", a.Len(), DefaultBytes)
	}
	small, err := png.Decode(&a)
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%v of %v in %d bytes", small.Bounds().Size(), im.Bounds().Size(), n)
	keep(t, "evidence-small.png", small)
	around, err := Turnaround(context.Background(), s.After, 420)
	if err != nil {
		t.Fatal(err)
	}
	keep(t, "turnaround.png", around)
}

func BenchmarkEvidence(b *testing.B) {
	m := sphere(mesh.Vec{}, 0.4, 400, 600) // 479,000 triangles
	heat := make([]float32, len(m.Pos))
	for i, p := range m.Pos {
		heat[i] = 9 * p[0]
	}
	im := squares(2048, 40)
	s := Scene{Mesh: m, BaseColor: []*texture.Image{im}}
	r := prepare(b, s)
	change, err := r.Measured(nil, NewPoints(m.Pos, nil, heat, 0.002), 0)
	if err != nil {
		b.Fatal(err)
	}
	sheet := Sheet{Before: r, After: r, Change: change, Unit: "mm",
		Centre: mesh.Vec{0, 0, 0.4}, Bounds: [2]mesh.Vec{{-0.05, -0.05, 0.38}, {0.05, 0.05, 0.4}}}
	for b.Loop() {
		out, err := Evidence(context.Background(), sheet, 0)
		if err != nil {
			b.Fatal(err)
		}
		if err := WritePNG(io.Discard, out, 0); err != nil {
			b.Fatal(err)
		}
	}
}
