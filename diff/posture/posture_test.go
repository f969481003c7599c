package posture

import (
	"context"
	"math"
	"os"
	"sort"
	"testing"

	"mien/asset"
	"mien/asset/invent"
	"mien/asset/mesh"
	"mien/asset/terms"
)

// trial is an old scan in rest pose, a new one in another pose on another grid, and the new one as it
// would be without the pose, vertex for vertex.
type trial struct {
	person         invent.Person
	old, new, rest *invent.Surface
}

func stage(t testing.TB, f invent.Family, seed uint64, look invent.Look, c invent.Capture, part asset.Part) trial {
	t.Helper()
	ctx := context.Background()
	p := invent.NewPerson(f, seed)
	grid := 11.0
	if part == asset.PartHead {
		grid = 4
	}
	make := func(l invent.Look, c invent.Capture) *invent.Surface {
		s, err := p.Surface(ctx, l, c, part)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	out := trial{person: p, old: make(invent.Look{}, invent.Capture{Seed: 1, GridMm: grid, NoiseMm: 0.2})}
	c.Seed, c.GridMm, c.GridTurnDeg, c.NoiseMm = 2, grid*0.93, 17, 0.2
	out.new = make(look, c)
	c.Joints, c.BreathMm = nil, 0
	out.rest = make(look, c)
	return out
}

// faults returns the absolute errors along the normal, mm, within 120 mm of joints and away from them.
func (r trial) faults(got [][3]float32) (close, away []float64) {
	joints := r.person.Joints()
	normals := r.rest.Mesh.VertexNormals()
	for v := range got {
		g := got[v]
		e := 1000 * (mesh.Vec{float64(g[0]), float64(g[1]), float64(g[2])}).Sub(r.rest.Mesh.At(uint32(v))).Dot(normals[v])
		a := r.rest.Anchor[v]
		d := math.Inf(1)
		for _, j := range joints {
			d = min(d, j.At.Sub(mesh.Vec{float64(a[0]), float64(a[1]), float64(a[2])}).Len())
		}
		if d < 0.12 {
			close = append(close, math.Abs(e))
		} else {
			away = append(away, math.Abs(e))
		}
	}
	sort.Float64s(close)
	sort.Float64s(away)
	return close, away
}

func quantile(s []float64, q float64) float64 {
	if len(s) == 0 {
		return 0
	}
	return s[int(q*float64(len(s)-1))]
}

func degrees(p *Pose, name string) float64 {
	for _, j := range p.Joints {
		if j.Name == name {
			return j.Degrees
		}
	}
	return math.NaN()
}

var raise8 = invent.Capture{BreathMm: 4, Joints: []invent.JointTurn{{Segment: terms.ArmUpperLeft, Axis: invent.Raise, Degrees: 8}}}

func TestRaisedArmAndBreathComeOut(t *testing.T) {
	seeds := []uint64{11}
	if os.Getenv("MIEN_FULL") != "" {
		seeds = []uint64{11, 12, 13, 14, 15, 16}
	}
	for _, f := range []invent.Family{invent.Tuning, invent.Report} {
		for _, seed := range seeds {
			r := stage(t, f, seed, invent.Look{}, raise8, asset.PartBody)
			p, err := Fit(context.Background(), r.old.Mesh, r.new.Mesh, Options{})
			if err != nil {
				t.Fatal(err)
			}
			near, away := r.faults(p.Positions)
			t.Logf("family %d seed %d: shoulder %.2f degrees, breath %.2f mm; near joints p99 %.2f mm, away p99 %.2f mm",
				f, seed, degrees(p, "shoulder-left"), p.BreathingMm, quantile(near, .99), quantile(away, .99))
			if d := degrees(p, "shoulder-left"); !p.Removed || math.Abs(d-8) > 0.5 {
				t.Errorf("shoulder %.2f degrees, want 8", d)
			}
			if math.Abs(p.BreathingMm-4) > 1 {
				t.Errorf("breath %.2f mm, want 4", p.BreathingMm)
			}
			if quantile(near, .99) > 1.8 || quantile(away, .99) > 1.5 {
				t.Errorf("errors at 99 %%: %.2f near joints, %.2f away", quantile(near, .99), quantile(away, .99))
			}
			for _, j := range p.Joints {
				if j.Name != "shoulder-left" && j.Degrees > 0.8 {
					t.Errorf("%s %.2f degrees, want 0", j.Name, j.Degrees)
				}
			}
		}
	}
}

func TestGrowthIsNotPosture(t *testing.T) {
	c := raise8
	c.BreathMm = 0
	r := stage(t, invent.Tuning, 12, invent.Look{HeavierMm: 5}, c, asset.PartBody)
	p, err := Fit(context.Background(), r.old.Mesh, r.new.Mesh, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if d := degrees(p, "shoulder-left"); math.Abs(d-8) > 0.6 {
		t.Errorf("shoulder %.2f degrees, want 8", d)
	}
	if math.Abs(p.BreathingMm) > 1 {
		t.Errorf("growth was taken for a breath of %.2f mm", p.BreathingMm)
	}
	again, _ := Fit(context.Background(), r.old.Mesh, r.new.Mesh, Options{})
	for v := range p.Positions {
		if p.Positions[v] != again.Positions[v] {
			t.Fatalf("vertex %d differs between two runs", v)
		}
	}
	near, away := r.faults(p.Positions)
	if quantile(near, .95) > 1 || quantile(away, .95) > 1 {
		t.Errorf("growth changed by %.2f mm near joints, %.2f away (95 %%)", quantile(near, .95), quantile(away, .95))
	}
}

// The same pose is left alone; then a uniform growth of 5 mm is put on by moving every vertex along its
// normal.
func TestSamePoseAndSwellingAreKept(t *testing.T) {
	r := stage(t, invent.Tuning, 13, invent.Look{}, invent.Capture{}, asset.PartBody)
	p, err := Fit(context.Background(), r.old.Mesh, r.new.Mesh, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if p.Removed || p.MovedMm != 0 {
		t.Errorf("posture of one pose: %+v", p.Joints)
	}
	for v := range p.Positions {
		if p.Positions[v] != r.new.Mesh.Pos[v] {
			t.Fatal("a vertex moved though nothing was removed")
		}
	}
	n := r.new.Mesh.VertexNormals()
	grown := r.new.Mesh.Clone()
	for v := range grown.Pos {
		q := grown.At(uint32(v)).Add(n[v].Scale(0.005))
		grown.Pos[v] = [3]float32{float32(q[0]), float32(q[1]), float32(q[2])}
	}
	p, err = Fit(context.Background(), r.old.Mesh, grown, Options{})
	if err != nil {
		t.Fatal(err)
	}
	var moved float64
	for v := range grown.Pos {
		g := p.Positions[v]
		d := mesh.Vec{float64(g[0]), float64(g[1]), float64(g[2])}.Sub(grown.At(uint32(v)))
		moved += math.Abs(d.Dot(n[v])) / float64(len(grown.Pos))
	}
	if moved > 0.0004 || math.Abs(p.BreathingMm) > 0.8 {
		t.Errorf("moved by %.2f mm on average, breath %.2f mm, want about 0", moved*1000, p.BreathingMm)
	}
}

func TestWithoutLabelsTheShapeDecides(t *testing.T) {
	r := stage(t, invent.Tuning, 15, invent.Look{}, raise8, asset.PartBody)
	old, newer := *r.old.Mesh, *r.new.Mesh
	old.Label, newer.Label = nil, nil
	p, err := Fit(context.Background(), &old, &newer, Options{})
	if err != nil {
		t.Fatal(err)
	}
	near, away := r.faults(p.Positions)
	t.Logf("shoulder %.2f degrees, breath %.2f; p99 %.2f near joints, %.2f away; %s", degrees(p, "shoulder-left"), p.BreathingMm, quantile(near, .99), quantile(away, .99), p.Note)
	if d := degrees(p, "shoulder-left"); p.Note == "" || math.Abs(d-8) > 1.5 {
		t.Errorf("shoulder %.2f degrees, note %q", d, p.Note)
	}
	old.Label = r.old.Mesh.Label
	p, err = Fit(context.Background(), &old, &newer, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if d := degrees(p, "shoulder-left"); p.Note == "" || math.Abs(d-8) > 1 {
		t.Errorf("labels carried over: shoulder %.2f degrees, note %q", d, p.Note)
	}
}

func TestHeadTurnsAgainstNeck(t *testing.T) {
	r := stage(t, invent.Tuning, 16, invent.Look{}, invent.Capture{Joints: []invent.JointTurn{{Segment: terms.Head, Axis: invent.Bend, Degrees: 6}}}, asset.PartHead)
	p, err := Fit(context.Background(), r.old.Mesh, r.new.Mesh, Options{})
	if err != nil {
		t.Fatal(err)
	}
	near, away := r.faults(p.Positions)
	t.Logf("neck %.2f degrees; p99 %.2f near, %.2f away", degrees(p, "neck"), quantile(near, .99), quantile(away, .99))
	if d := degrees(p, "neck"); !p.Removed || math.Abs(d-6) > 1 {
		t.Errorf("neck %.2f degrees, want 6", d)
	}
}

// Hair and shoes come and go; neither may turn the head or the feet.
func TestHairAndShoesAreNoPosture(t *testing.T) {
	look := invent.Look{Hair: invent.Curly, Beard: invent.FullBeard, Shoes: invent.Shoe{Model: 2}}
	r := stage(t, invent.Tuning, 18, look, invent.Capture{}, asset.PartBody)
	p, err := Fit(context.Background(), r.old.Mesh, r.new.Mesh, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, j := range p.Joints {
		if j.Degrees > 0.5 {
			t.Errorf("%s turned by %.2f degrees, want 0", j.Name, j.Degrees)
		}
	}
}
