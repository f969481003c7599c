package diff

import (
	"bytes"
	"context"
	"encoding/json"
	"math"
	"os"
	"runtime"
	"slices"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"mien/asset"
	"mien/asset/invent"
	"mien/asset/mesh"
	"mien/asset/terms"
	"mien/diff/result"
)

var ctx = context.Background()

// head takes a coarse head of one invented person; b is another day's capture of it.
func head(t *testing.T, look invent.Look, again bool) *Scan {
	t.Helper()
	c := invent.Capture{Seed: 1, GridMm: 5, TexSize: 512, AtlasSeed: 1, NoiseMm: .2}
	if again {
		c.Seed, c.AtlasSeed, c.GridTurnDeg, c.GridShift = 2, 2, 31, mesh.Vec{.3, .6, .1}
		c.OffsetM, c.TurnDeg, c.Light = mesh.Vec{.4, 0, -.3}, 40, invent.RandomLight(3, .5)
	}
	return taken(t, look, c, asset.PartHead)
}

func taken(t *testing.T, look invent.Look, c invent.Capture, part asset.Part) *Scan {
	t.Helper()
	s, _, err := invent.NewPerson(invent.Tuning, 11).Take(ctx, look, c, part)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func compared(t *testing.T, old, new *Scan) (*Result, *Detail) {
	t.Helper()
	r, d, err := Compare(ctx, old, new, Settings{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	valid(t, r)
	return r, d
}

func valid(t *testing.T, r *Result) []byte {
	t.Helper()
	text, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	file, err := os.Open("../testdata/schema/compare-1.json")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	doc, err := jsonschema.UnmarshalJSON(file)
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("compare-1.json", doc); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("compare-1.json")
	if err != nil {
		t.Fatal(err)
	}
	v, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Validate(v); err != nil {
		t.Errorf("document breaks its schema: %v\n%s", err, text)
	}
	return text
}

func TestEqualContentIsTheSame(t *testing.T) {
	a := head(t, invent.Look{}, false)
	b := *a
	b.Name, b.Hash = "renamed", asset.Hash{}
	b.Mesh = a.Mesh.Clone()
	r, d := compared(t, a, &b)
	if r.Verdict != result.Same || d != nil || len(r.Spots) != 0 || r.Alignment != nil {
		t.Errorf("%+v", r)
	}
}

// Another topology, place, turn, light and atlas, with noise: nothing changed.
func TestAnotherCaptureIsTheSame(t *testing.T) {
	look := invent.Look{Hair: invent.Short, Beard: invent.Stubble}
	r, d := compared(t, head(t, look, false), head(t, look, true))
	if r.Verdict != result.Same || len(r.Spots) != 0 || len(r.Findings) != 0 {
		t.Errorf("%s %+v, spots %+v, findings %+v", r.Verdict, r.Layers, r.Spots, r.Findings)
	}
	if len(d.HeatNewMm) != len(d.New.Pos) || len(d.HeatOldMm) != len(d.Old.Pos) {
		t.Error("heat does not fit the meshes")
	}
}

// Exchanging old and new exchanges added and removed, with about the same areas.
func TestSwap(t *testing.T) {
	a := head(t, invent.Look{Hair: invent.Short}, false)
	b := head(t, invent.Look{Hair: invent.Short, Ink: []invent.Ink{{Region: terms.NeckFront, Motif: 2, SizeCM: 5, Contrast: 18}}}, true)
	there, _ := compared(t, a, b)
	back, _ := compared(t, b, a)
	if len(there.Findings) != 1 || len(back.Findings) != 1 {
		t.Fatalf("%+v and %+v", there.Findings, back.Findings)
	}
	f, g := there.Findings[0], back.Findings[0]
	if f.Kind != "tattoo" || g.Kind != "tattoo" || f.Action != "added" || g.Action != "removed" || f.Region != g.Region {
		t.Errorf("%+v and %+v", f, g)
	}
	if math.Abs(f.AreaCM2/g.AreaCM2-1) > .1 {
		t.Errorf("%.2f cm2 added, %.2f cm2 removed", f.AreaCM2, g.AreaCM2)
	}
}

func TestTheSameBytesTwice(t *testing.T) {
	a, b := head(t, invent.Look{}, false), head(t, invent.Look{Beard: invent.FullBeard}, true)
	r, _ := compared(t, a, b)
	old := runtime.GOMAXPROCS(1)
	s, _ := compared(t, a, b)
	runtime.GOMAXPROCS(old)
	if !bytes.Equal(valid(t, r), valid(t, s)) {
		t.Error("the document depends on the number of workers")
	}
}

// A smooth bump 3 mm high and over 5 cm wide on the back of the head, and the same dent.
func TestBumpIsFoundWithItsHeight(t *testing.T) {
	for _, high := range []float64{3, -3} {
		a, b := head(t, invent.Look{}, false), head(t, invent.Look{}, true)
		bump(b.Mesh, high)
		r, _ := compared(t, a, b)
		if r.Layers.Shape != result.Changed || len(r.Spots) == 0 {
			t.Fatalf("%g mm: %+v", high, r.Layers)
		}
		s := r.Spots[0]
		if math.Abs(s.Peak-high) > .5 || s.AreaCM2 < 15 {
			t.Errorf("peak %.2f mm over %.1f cm2, want %g", s.Peak, s.AreaCM2, high)
		}
	}
}

// bump raises the surface about the position that is highest along +Y, with a flat top of 2.5 cm radius
// that fades out at 4 cm.
func bump(m *mesh.Mesh, highMm float64) {
	top := 0
	for i := range m.Pos {
		if m.Pos[i][1] > m.Pos[top][1] {
			top = i
		}
	}
	c, n := m.At(uint32(top)), m.VertexNormals()
	for i := range m.Pos {
		p := m.At(uint32(i))
		t := min(1, max(0, (.04-p.Sub(c).Len())/.015))
		q := p.Add(n[i].Scale(highMm / 1000 * t * t * (3 - 2*t)))
		m.Pos[i] = [3]float32{float32(q[0]), float32(q[1]), float32(q[2])}
	}
}

func TestFaultsAreNotChanges(t *testing.T) {
	a := head(t, invent.Look{}, false)
	scaled := head(t, invent.Look{}, true)
	s := 1.008
	scaled.Mesh.Transform([16]float64{s, 0, 0, 0, 0, s, 0, 0, 0, 0, s, 0, 0, 0, 0, 1})
	r, _ := compared(t, a, scaled)
	if r.Verdict == result.Changed || !slices.Contains(r.Causes, result.CauseScale) {
		t.Errorf("8 per mille larger: %s, causes %v, reasons %v", r.Verdict, r.Causes, r.Reasons)
	}
	r, _ = compared(t, a, &Scan{Name: "ball", Mesh: ball(), Part: asset.PartHead})
	if r.Verdict != result.CannotTell || len(r.Reasons) == 0 {
		t.Errorf("a head against a ball: %s, %v", r.Verdict, r.Reasons)
	}
}

func TestFaultyInputIsNamed(t *testing.T) {
	a := head(t, invent.Look{}, false)
	if _, _, err := Compare(ctx, a, &Scan{Name: "empty.glb"}, Settings{}, nil); err == nil || !strings.Contains(err.Error(), "empty.glb") {
		t.Errorf("got %v", err)
	}
	stop, cancel := context.WithCancel(ctx)
	cancel()
	if _, _, err := Compare(stop, a, head(t, invent.Look{}, true), Settings{}, nil); err == nil {
		t.Error("a cancelled comparison gave a result")
	}
}

func ball() *mesh.Mesh {
	m := &mesh.Mesh{}
	const rows, cols = 60, 90
	for i := 0; i <= rows; i++ {
		s, c := math.Sincos(math.Pi * float64(i) / rows)
		for j := 0; j < cols; j++ {
			sj, cj := math.Sincos(2 * math.Pi * float64(j) / cols)
			m.Pos = append(m.Pos, [3]float32{float32(.1 * s * cj), float32(.1 * c), float32(.1 * s * sj)})
		}
	}
	id := func(i, j int) uint32 { return uint32(i*cols + j%cols) }
	for i := 0; i < rows; i++ {
		for j := 0; j < cols; j++ {
			m.Tri = append(m.Tri, [3]uint32{id(i, j), id(i, j+1), id(i+1, j)}, [3]uint32{id(i, j+1), id(i+1, j+1), id(i+1, j)})
		}
	}
	return m
}
