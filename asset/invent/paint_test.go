package invent

import (
	"bytes"
	"context"
	"math"
	"testing"

	"mien/asset"
	"mien/asset/mesh"
	"mien/asset/terms"
	"mien/asset/texture"
)

func person(family Family, seed uint64, tone int) Person {
	p := NewPerson(family, seed)
	p.Tone = tone
	return p
}

func inked() Look {
	return Look{
		Ink: []Ink{
			{Region: terms.ForearmLeft, Motif: 10, SizeCM: 11, Contrast: 18},
			{Region: terms.UpperArmRight, Motif: 11, SizeCM: 9, Contrast: 22, Extended: 2},
			{Region: terms.BackUpper, Motif: 17, SizeCM: 18, Contrast: 14},
		},
		Hair: Cropped, KitColours: [2]uint8{5, 4},
	}
}

func TestInkIsAsStrongAsAsked(t *testing.T) {
	for tone := 0; tone < 6; tone++ {
		for _, contrast := range []float64{6, 10, 20, 30} {
			for _, coloured := range []bool{false, true} {
				p := person(Tuning, uint64(tone), tone)
				skin := p.skin()
				d := inkShift(skin, Ink{Motif: uint64(7 * tone), Contrast: contrast, ColourInks: coloured})
				on := texture.Lab{skin[0] + float64(d[0]), skin[1] + float64(d[1]), skin[2] + float64(d[2])}
				rgb := texture.LinearFromLab(on)
				for k := range rgb {
					rgb[k] = min(max(rgb[k], 0), 1)
				}
				seen := texture.LabFromLinear(rgb)
				if got := texture.DE00(skin, seen); math.Abs(got-contrast) > 0.1*contrast {
					t.Errorf("band %d, asked %g dE00 (coloured %v): got %.2f", tone, contrast, coloured, got)
				}
			}
		}
	}
}

// Contrast as a camera sees it: the same hand with and without ink, where the mask is full.
func TestInkIsSeenAsStrongAsAsked(t *testing.T) {
	ink := Ink{Region: terms.HandLeft, Motif: 10, SizeCM: 5}
	for tone := 0; tone < 6; tone++ {
		p := person(Tuning, uint64(11+tone), tone)
		ink.Contrast = 8 + 3*float64(tone)
		cap := Capture{GridMm: 5, TexSize: 384}
		bare, s, err := p.Take(context.Background(), Look{}, cap, asset.PartHandLeft)
		if err != nil {
			t.Fatal(err)
		}
		inked, _, err := p.Take(context.Background(), Look{Ink: []Ink{ink}}, cap, asset.PartHandLeft)
		if err != nil {
			t.Fatal(err)
		}
		d := p.drawn(ink, 0.1)
		var sum, n float64
		for i, tri := range s.Mesh.Tri {
			q := blend3(s.Anchor[tri[0]], s.Anchor[tri[1]], s.Anchor[tri[2]], 1./3, 1./3)
			if d.cover(q, s.AnchorNormal[tri[0]]) < 0.999 {
				continue
			}
			u, v := middleUV(s.Mesh, i)
			sum += texture.DE00(texture.LabFromLinear(bare.BaseColor[0].Sample(u, v)), texture.LabFromLinear(inked.BaseColor[0].Sample(u, v)))
			n++
		}
		if got := sum / n; n < 20 || math.Abs(got-ink.Contrast) > 0.1*ink.Contrast {
			t.Errorf("band %d: asked %g dE00, seen %.2f at %.0f places", tone, ink.Contrast, got, n)
		}
	}
}

func TestSkinBandsAreSkin(t *testing.T) {
	last := 101.0
	for tone := 0; tone < 6; tone++ {
		for seed := uint64(0); seed < 20; seed++ {
			c := person(Report, seed, tone).skin()
			rgb := texture.LinearFromLab(c)
			if !(rgb[0] > rgb[1] && rgb[1] > rgb[2] && rgb[2] > 0 && rgb[0] < 1) {
				t.Errorf("band %d seed %d: linear light %v is no skin", tone, seed, rgb)
			}
		}
		if l := skinTones[tone][0]; l >= last {
			t.Errorf("band %d is not darker than the one before", tone)
		} else {
			last = l
		}
	}
}

// The mask summed over texels of a fine flat patch against the integral over triangles of the body.
func TestInkAreaIsTheIntegralOfItsMask(t *testing.T) {
	p := person(Tuning, 4, 1)
	ink := Ink{Region: terms.BackUpper, Motif: 11, SizeCM: 8, Contrast: 20}
	coarse, err := p.Surface(context.Background(), Look{}, Capture{GridMm: 8}, asset.PartBody)
	if err != nil {
		t.Fatal(err)
	}
	fine, err := p.Surface(context.Background(), Look{}, Capture{GridMm: 6, GridTurnDeg: 31}, asset.PartBody)
	if err != nil {
		t.Fatal(err)
	}
	a, b := p.InkAreaCM2(coarse, ink), p.InkAreaCM2(fine, ink)
	if math.Abs(a-b) > 0.01*b {
		t.Errorf("ink covers %.3f cm2 on 8 mm edges, %.3f on 6 mm", a, b)
	}
	c := artwork(p.Family, ink, 0)
	var flat float64
	for _, v := range c.cover {
		flat += float64(v)
	}
	flat /= c.perCM * c.perCM
	if got := p.InkAreaCM2(plate(p.Place(ink.Region, 0, 0)), ink); math.Abs(got-flat) > 0.01*flat {
		t.Errorf("ink covers %.3f cm2 of a flat plate, its mask has %.3f", got, flat)
	}
	if b < flat*0.99 || b > flat*1.15 {
		t.Errorf("ink covers %.3f cm2 on the back, its mask has %.3f flat", b, flat)
	}
}

// plate is a flat surface of 20 cm through a placement.
func plate(pl Placement) *Surface {
	s := &Surface{Mesh: &mesh.Mesh{}}
	const n = 20
	for i := 0; i <= n; i++ {
		for j := 0; j <= n; j++ {
			q := pl.CentreM.Add(pl.Along.Scale(0.2 * (float64(i)/n - .5))).Add(pl.Around.Scale(0.2 * (float64(j)/n - .5)))
			s.Mesh.Pos = append(s.Mesh.Pos, single(q))
			s.AnchorNormal = append(s.AnchorNormal, single(pl.Normal))
		}
	}
	for i := uint32(0); i < n; i++ {
		for j := uint32(0); j < n; j++ {
			a, b := i*(n+1)+j, (i+1)*(n+1)+j
			s.Mesh.Tri = append(s.Mesh.Tri, [3]uint32{a, b, b + 1}, [3]uint32{a, b + 1, a + 1})
		}
	}
	s.Anchor, s.Clean = s.Mesh.Pos, s.Mesh.Pos
	return s
}

func TestExtendedArtworkContainsTheOldOne(t *testing.T) {
	for _, family := range []Family{Tuning, Report} {
		for motif := uint64(20); motif < 25; motif++ {
			a := artwork(family, Ink{Motif: motif, SizeCM: 10}, 0)
			b := artwork(family, Ink{Motif: motif, SizeCM: 10, Extended: 1}, 0)
			more := 0
			for y := -4.8; y < 4.8; y += 0.07 {
				for x := -8.0; x < 8; x += 0.07 {
					if u, v := a.at(x, y), b.at(x, y); v < u-0.35 {
						t.Fatalf("family %d motif %d: at (%.1f, %.1f) cover falls from %.2f to %.2f", family, motif, x, y, u, v)
					} else if v > u+0.5 {
						more++
					}
				}
			}
			if more < 100 {
				t.Errorf("family %d motif %d: extending adds nothing", family, motif)
			}
		}
	}
}

// The same skin under two atlases has the same colour away from the edges of charts.
func TestPaintDoesNotDependOnTheAtlas(t *testing.T) {
	p := person(Tuning, 2, 2)
	look := inked()
	var pictures [2]*texture.Image
	var meshes [2]*mesh.Mesh
	for i := range pictures {
		s, err := p.Surface(context.Background(), look, Capture{GridMm: 10}, asset.PartBody)
		if err != nil {
			t.Fatal(err)
		}
		if pictures[i], err = p.Paint(context.Background(), look, Capture{AtlasSeed: uint64(i), TexSize: 1024}, s); err != nil {
			t.Fatal(err)
		}
		meshes[i] = s.Mesh
	}
	n, far, moved := 0, 0, 0
	for t := range meshes[0].Tri {
		if meshes[0].TriUV[t] == meshes[1].TriUV[t] {
			moved++
		}
		if !interior(meshes[0], t) || !interior(meshes[1], t) {
			continue
		}
		var l [2]texture.Lab
		for i, m := range meshes {
			u, v := middleUV(m, t)
			l[i] = texture.LabFromLinear(pictures[i].Sample(u, v))
		}
		n++
		if texture.DE00(l[0], l[1]) > 1.5 {
			far++
		}
	}
	// Ink's own edges are sharper than a texel, so a few samples on them may differ.
	if share := float64(far) / float64(n); n < 10000 || share > 0.02 {
		t.Errorf("%d of %d samples differ by more than 1.5 dE00 between two atlases", far, n)
	}
	if moved > n/10 {
		t.Errorf("%d triangles have the same texture coordinates under two seeds", moved)
	}
}

// interior reports whether triangle t and its neighbours lie on one chart.
func interior(m *mesh.Mesh, t int) bool {
	if m.Tri[t][0] == m.TriUV[t][0] && t == 0 {
		return false
	}
	u, v := middleUV(m, t)
	for _, w := range m.TriUV[t] {
		if math.Hypot(float64(m.UV[w][0])-u, float64(m.UV[w][1])-v) < 1.5/1024 {
			return false
		}
	}
	return true
}

func middleUV(m *mesh.Mesh, t int) (u, v float64) {
	for _, w := range m.TriUV[t] {
		u += float64(m.UV[w][0]) / 3
		v += float64(m.UV[w][1]) / 3
	}
	return u, v
}

func TestTakesAreDeterministic(t *testing.T) {
	p := person(Report, 6, 3)
	cap := Capture{GridMm: 12, TexSize: 256, NoiseMm: .2, SlipMm: 2, Grain: 2, JPEGQuality: 90, Light: RandomLight(3, .1), Seed: 9, AtlasSeed: 5}
	a, _, err := p.Take(context.Background(), inked(), cap, asset.PartBody)
	if err != nil {
		t.Fatal(err)
	}
	b, _, err := p.Take(context.Background(), inked(), cap, asset.PartBody)
	if err != nil {
		t.Fatal(err)
	}
	if a.Hash != b.Hash || !bytes.Equal(a.BaseColor[0].Pix, b.BaseColor[0].Pix) {
		t.Error("two takes with the same arguments differ")
	}
	if err := a.Mesh.Check(); err != nil {
		t.Error(err)
	}
	cap.Seed++
	c, _, err := p.Take(context.Background(), inked(), cap, asset.PartBody)
	if err != nil {
		t.Fatal(err)
	}
	if c.Hash == a.Hash {
		t.Error("another seed gives the same take")
	}
}

func TestLightScalesTheWholePicture(t *testing.T) {
	p := person(Tuning, 1, 1)
	var mean [2][3]float64
	for i, l := range []Light{{}, {Gain: [3]float64{1.1, 1, .9}}} {
		s, _, err := p.Take(context.Background(), Look{}, Capture{GridMm: 14, TexSize: 256, Light: l}, asset.PartBody)
		if err != nil {
			t.Fatal(err)
		}
		for k, v := range s.BaseColor[0].Pix {
			mean[i][k%3] += float64(texture.Linear[v])
		}
	}
	if r := mean[1][0] / mean[0][0]; r < 1.02 {
		t.Errorf("red rose by %.3f only", r)
	}
	if r := mean[1][2] / mean[0][2]; r > 0.98 {
		t.Errorf("blue fell to %.3f only", r)
	}
}

func TestTanDarkensExposedSkinByItsAmount(t *testing.T) {
	p := person(Tuning, 8, 2)
	k := painter{p: p, look: Look{TanDE: 4}, fine: 1, tone: p.skin(), face: newFaceMarks(p)}
	for _, c := range []struct {
		region terms.Region
		want   float64
	}{{terms.ForearmLeft, 4}, {terms.CheekRight, 4}, {terms.Abdomen, 0}, {terms.ThighLeft, 0}} {
		q := single(p.Place(c.region, 0, 0).CentreM)
		k.region = c.region
		e := k.exposure(q, c.region)
		a, b := k.skinAt(q, [3]float32{0, 0, 1}, e), k.skinAt(q, [3]float32{0, 0, 1}, 0)
		d := math.Sqrt(float64((a[0]-b[0])*(a[0]-b[0]) + (a[1]-b[1])*(a[1]-b[1]) + (a[2]-b[2])*(a[2]-b[2])))
		if math.Abs(d-c.want) > 0.05 {
			t.Errorf("%s: tan of 4 dEab shifts it by %.2f, want %g", c.region, d, c.want)
		}
	}
}

func BenchmarkPaintBody1024(b *testing.B) {
	p := person(Tuning, 3, 2)
	s, err := p.Surface(context.Background(), inked(), Capture{}, asset.PartBody)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := p.Paint(context.Background(), inked(), Capture{Grain: 1}, s); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkPaintHead1024(b *testing.B) {
	p := person(Tuning, 3, 2)
	s, err := p.Surface(context.Background(), inked(), Capture{}, asset.PartHead)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := p.Paint(context.Background(), inked(), Capture{Grain: 1}, s); err != nil {
			b.Fatal(err)
		}
	}
}
