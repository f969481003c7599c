package check

import (
	"context"
	"testing"

	"mien/asset"
	"mien/asset/invent"
)

func TestSoundPeopleHaveOnlyNotes(t *testing.T) {
	looks := []invent.Look{
		{},
		{Hair: invent.Short, Beard: invent.FullBeard, Shoes: invent.Shoe{Model: 1}},
		{Hair: invent.Curly, Headband: true, Shoes: invent.Shoe{Model: 4}, HeavierMm: 6},
		{Hair: invent.Long, Beard: invent.Stubble, Shoes: invent.Shoe{Model: 6}, MuscleMm: 4},
	}
	n := 0
	for _, f := range []invent.Family{invent.Tuning, invent.Report} {
		for i, look := range looks {
			for k, part := range []asset.Part{asset.PartBody, asset.PartHead} {
				if (i+int(f))%2 != k {
					continue
				}
				grid := []float64{10, 4}[k]
				p := invent.NewPerson(f, uint64(20+i))
				s, _, err := p.Take(context.Background(), look, invent.Capture{Seed: uint64(i), GridMm: grid, NoiseMm: 0.2, AtlasSeed: uint64(i), TexSize: 600}, part)
				if err != nil {
					t.Fatal(err)
				}
				is, err := Take(context.Background(), s)
				if err != nil {
					t.Fatal(err)
				}
				n++
				for _, k := range is {
					if k.Severity != Note {
						t.Errorf("family %d look %d %s: %+v", f, i, part, k)
					}
				}
			}
		}
	}
	t.Logf("%d sound takes", n)
}
