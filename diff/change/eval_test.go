package change_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"testing"
	"time"

	"mien/asset"
	"mien/asset/invent"
	"mien/asset/mesh"
	"mien/asset/terms"
	"mien/diff"
	"mien/diff/result"
)

// inkPlaces are where invented people wear ink, by part of the scan.
var inkPlaces = map[asset.Part][]terms.Region{
	asset.PartBody: {terms.ForearmLeft, terms.ForearmRight, terms.UpperArmLeft, terms.UpperArmRight, terms.Chest, terms.BackUpper,
		terms.CalfLeft, terms.CalfRight, terms.ThighLeft, terms.ThighRight, terms.Abdomen, terms.ShoulderLeft},
	asset.PartHead: {terms.NeckFront, terms.NeckBack, terms.CheekLeft, terms.Forehead},
}

// meeting is one invented pair of scans and what truly changed between them.
type meeting struct {
	person   invent.Person
	part     asset.Part
	old, new invent.Look
	kind     terms.ItemKind // "" when nothing changed
	action   terms.Action
	region   terms.Region
	ink      invent.Ink // the ink that came or went
	a, b     invent.Capture
}

func someInk(rng *rand.Rand, part asset.Part, taken map[terms.Region]bool) invent.Ink {
	places := inkPlaces[part]
	for {
		r := places[rng.IntN(len(places))]
		if taken[r] {
			continue
		}
		taken[r] = true
		size := 6 + 4*rng.Float64()
		if part == asset.PartHead {
			size = 4 + 1.5*rng.Float64()
		}
		return invent.Ink{Region: r, Motif: rng.Uint64() % 1000, SizeCM: size, TurnDeg: 40 * (rng.Float64() - 0.5),
			Contrast: 10 + 15*rng.Float64(), ColourInks: rng.IntN(4) == 0}
	}
}

// capture is a session of its own: other triangles, atlas, light, place, posture, breath and noise.
func capture(rng *rand.Rand, part asset.Part) invent.Capture {
	c := invent.Capture{
		Seed: rng.Uint64(), GridTurnDeg: 40 * rng.Float64(), GridShift: mesh.Vec{rng.Float64(), rng.Float64(), rng.Float64()},
		OffsetM: mesh.Vec{0.2 * (rng.Float64() - 0.5), 0, 0.2 * (rng.Float64() - 0.5)}, TurnDeg: 10 * (rng.Float64() - 0.5),
		NoiseMm: 0.2, AtlasSeed: rng.Uint64(), Light: invent.RandomLight(rng.Uint64(), 0.15), Grain: 1.5, JPEGQuality: 90,
		SlipMm: 2 * rng.Float64(),
	}
	if part == asset.PartBody {
		c.BreathMm = 3 * rng.Float64()
		c.Joints = []invent.JointTurn{
			{Segment: terms.ArmUpperLeft, Axis: invent.Raise, Degrees: 5 * (rng.Float64() - 0.5)},
			{Segment: terms.ArmUpperRight, Axis: invent.Raise, Degrees: 5 * (rng.Float64() - 0.5)},
			{Segment: terms.ArmLowerLeft, Axis: invent.Bend, Degrees: 5 * rng.Float64()},
		}
	}
	return c
}

// family is whom the pairs are made of: the tuning family, or with MIEN_FAMILY=report the one that
// nothing was tuned on.
func family() invent.Family {
	if os.Getenv("MIEN_FAMILY") == "report" {
		return invent.Report
	}
	return invent.Tuning
}

// meet makes pair n of a part. Kinds of change come in turn, nothing every other time.
func meet(n int, part asset.Part) meeting {
	rng := rand.New(rand.NewPCG(uint64(n), 77))
	m := meeting{person: invent.NewPerson(family(), uint64(1000+n/4)), part: part}
	taken := map[terms.Region]bool{}
	look := invent.Look{Freckles: rng.Float64(), Hair: invent.HairStyle(rng.IntN(4)), Beard: invent.BeardStyle(rng.IntN(4)),
		Shoes: invent.Shoe{Model: 1 + rng.IntN(3), Colours: [3]uint8{1, 2, 3}}}
	for range 1 + rng.IntN(2) {
		look.Ink = append(look.Ink, someInk(rng, part, taken))
	}
	m.old, m.new = look, look
	m.a, m.b = capture(rng, part), capture(rng, part)
	m.new.TanDE = 4 * rng.Float64()
	if n%2 == 0 {
		return m
	}
	ink := someInk(rng, part, taken)
	m.kind, m.region, m.ink = terms.Tattoo, ink.Region, ink
	with := look
	with.Ink = append(append([]invent.Ink(nil), look.Ink...), ink)
	switch n / 2 % 3 {
	case 0:
		m.action, m.new.Ink = terms.Added, with.Ink
	case 1:
		m.action, m.old.Ink = terms.Removed, with.Ink
	case 2:
		longer := append([]invent.Ink(nil), with.Ink...)
		longer[len(longer)-1].Extended = 2
		m.action, m.old.Ink, m.new.Ink = terms.Altered, with.Ink, longer
	}
	return m
}

// tally counts right and wrong findings.
type tally struct {
	pairs, planted, found, otherAction, unchanged, clean, wrong int
	areaError                                                   float64 // sum of |log(found/true)|
}

func (m *meeting) run(t *testing.T, n int, sum *tally) {
	truth, err := m.person.Changes(t.Context(), m.old, m.new, m.part)
	if err != nil {
		t.Fatal(err)
	}
	start := time.Now()
	r := m.compare(t)
	line := fmt.Sprintf("%d %s %.1fs causes %v ", n, m.part, time.Since(start).Seconds(), r.Causes)
	sum.pairs++
	if m.kind == "" {
		sum.unchanged++
		if len(r.Findings) == 0 {
			sum.clean++
		}
	}
	trueArea := 0.0
	for _, c := range truth {
		if c.Kind == m.kind {
			trueArea = c.AreaCM2
			line += fmt.Sprintf("TRUE %s %s %s %.1f cm2 contrast %.0f tone %d ", c.Kind, c.Action, c.Region, c.AreaCM2, m.ink.Contrast, m.person.Tone)
		}
	}
	counts := trueArea >= leastTruth(m.part)
	if counts {
		sum.planted++
	}
	hit := false
	for _, f := range r.Findings {
		right := m.kind != "" && f.Kind == string(m.kind) && near(f.Region, m.region)
		switch {
		case !right:
			sum.wrong++
		case !counts:
		case f.Action != string(m.action):
			sum.otherAction++
		case !hit:
			hit = true
			sum.found++
			sum.areaError += math.Abs(math.Log(f.AreaCM2 / trueArea))
		}
		line += fmt.Sprintf("| %s %s %s %.1f cm2 %.2f %v ", f.Kind, f.Action, f.Region, f.AreaCM2, f.Confidence, f.Because)
	}
	if counts && !hit {
		line = "MISS " + line
	}
	for _, s := range r.Spots {
		if s.Layer == result.Colour {
			line += fmt.Sprintf("[%s %.1f cm2 %.1f de %v]", s.ID, s.AreaCM2, s.Mean, s.Regions)
		}
	}
	t.Log(line)
}

// leastTruth is the true area of ink from which a change must be found, cm2.
func leastTruth(part asset.Part) float64 {
	if part == asset.PartHead {
		return 2
	}
	return 4
}

// near reports whether a finding's region is the planted one or a neighbour of the same limb or part.
func near(name string, want terms.Region) bool {
	r, err := terms.ParseRegion(name)
	return err == nil && (r == want || r.Segment() == want.Segment())
}

// TestInkOfInventedPeople runs one pair of heads without and one with a change; MIEN_PAIRS asks for
// that many pairs of heads and of bodies and reports them.
func TestInkOfInventedPeople(t *testing.T) {
	pairs, many := []int{0, 3}, os.Getenv("MIEN_PAIRS")
	parts := []asset.Part{asset.PartHead}
	if many != "" {
		n, err := strconv.Atoi(many)
		if err != nil {
			t.Fatal(err)
		}
		pairs = nil
		for k := range n {
			pairs = append(pairs, k)
		}
		parts = append(parts, asset.PartBody)
	}
	for _, part := range parts {
		var sum tally
		for _, n := range pairs {
			m := meet(n, part)
			m.run(t, n, &sum)
		}
		t.Logf("%s: %+v", part, sum)
		if many == "" && (sum.found < sum.planted || sum.clean < sum.unchanged || sum.wrong > 0) {
			t.Errorf("%s: %+v", part, sum)
		}
	}
}

// TestKindsOfInventedPeople makes one change of each kind at a time, when MIEN_PAIRS is set.
func TestKindsOfInventedPeople(t *testing.T) {
	if os.Getenv("MIEN_PAIRS") == "" {
		return
	}
	base := invent.Look{Hair: invent.Short, Beard: invent.ShortBeard, Shoes: invent.Shoe{Model: 1, Colours: [3]uint8{1, 2, 3}}}
	change := func(f func(l *invent.Look)) invent.Look { l := base; f(&l); return l }
	for k, c := range []struct {
		part     asset.Part
		old, new invent.Look
		kind     terms.ItemKind
		action   terms.Action
	}{
		{asset.PartHead, base, change(func(l *invent.Look) { l.Beard = invent.NoBeard }), terms.FacialHair, terms.Removed},
		{asset.PartHead, base, change(func(l *invent.Look) { l.Beard = invent.FullBeard }), terms.FacialHair, terms.Altered},
		{asset.PartHead, change(func(l *invent.Look) { l.Beard = invent.NoBeard }), change(func(l *invent.Look) { l.Beard = invent.Stubble }), terms.FacialHair, terms.Added},
		{asset.PartHead, base, change(func(l *invent.Look) { l.Hair = invent.Curly }), terms.Hair, terms.Altered},
		{asset.PartHead, base, change(func(l *invent.Look) { l.Hair = invent.Bald }), terms.Hair, terms.Removed},
		{asset.PartHead, change(func(l *invent.Look) { l.Hair = invent.Bald }), change(func(l *invent.Look) { l.Hair = invent.Cropped }), terms.Hair, terms.Added},
		{asset.PartHead, base, change(func(l *invent.Look) { l.Headband = true }), terms.Accessory, terms.Added},
		{asset.PartHead, base, base, "", ""},
		{asset.PartBody, base, change(func(l *invent.Look) { l.Shoes.Model = 2 }), terms.Footwear, terms.Altered},
		{asset.PartBody, base, change(func(l *invent.Look) { l.Shoes.Colours = [3]uint8{5, 4, 6} }), terms.Footwear, terms.Altered},
		{asset.PartBody, change(func(l *invent.Look) { l.Shoes = invent.Shoe{} }), base, terms.Footwear, terms.Added},
		{asset.PartBody, base, change(func(l *invent.Look) { l.Sleeves = []terms.Region{terms.ForearmLeft} }), terms.Accessory, terms.Added},
		{asset.PartBody, base, change(func(l *invent.Look) { l.HeavierMm = 8 }), terms.Physique, terms.Altered},
		{asset.PartBody, base, base, "", ""},
	} {
		t.Run(fmt.Sprintf("%d-%s", k, c.part), func(t *testing.T) {
			rng := rand.New(rand.NewPCG(uint64(k), 5))
			m := meeting{person: invent.NewPerson(family(), uint64(3000+k)), part: c.part, old: c.old, new: c.new}
			m.a, m.b = capture(rng, c.part), capture(rng, c.part)
			r := m.compare(t)
			hit, extra := c.kind == "", 0
			line := ""
			for _, f := range r.Findings {
				if f.Kind == string(c.kind) && f.Action == string(c.action) {
					hit = true
				} else {
					extra++
				}
				line += fmt.Sprintf("| %s %s %s %.1f cm2 %.2f %v ", f.Kind, f.Action, f.Region, f.AreaCM2, f.Confidence, f.Because)
			}
			t.Logf("%s %s %s: hit %v, %d more %s", c.part, c.kind, c.action, hit, extra, line)
			if !hit {
				t.Errorf("%s %s %s: %s", c.part, c.kind, c.action, line)
			}
		})
	}
}

// compare takes both scans and compares them.
func (m *meeting) compare(t *testing.T) *diff.Result {
	t.Helper()
	old, _, err := m.person.Take(t.Context(), m.old, m.a, m.part)
	if err != nil {
		t.Fatal(err)
	}
	now, _, err := m.person.Take(t.Context(), m.new, m.b, m.part)
	if err != nil {
		t.Fatal(err)
	}
	r, _, err := diff.Compare(t.Context(), old, now, diff.Settings{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return r
}
