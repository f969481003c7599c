package check

import (
	"context"
	"path/filepath"
	"testing"

	"mien/asset"
	"mien/asset/invent"
	"mien/asset/scan"
)

func TestFaultsOfADeliveryAreNamed(t *testing.T) {
	for _, c := range []struct {
		fault invent.Fault
		part  asset.Part
		code  string // "" for what one take alone cannot show
	}{
		{invent.Centimetres, asset.PartBody, "unit-guessed"},
		{invent.ZUp, asset.PartBody, "axes"},
		{invent.FacingBack, asset.PartBody, "facing"},
		{invent.FlippedV, asset.PartHead, "uv-flipped"},
		{invent.Hole, asset.PartBody, "holes"},
		{invent.Membranes, asset.PartHead, "membrane"},
		{invent.Membranes, asset.PartBody, "membrane"},
		{invent.Floor, asset.PartBody, "stand"},
		{invent.NoTexture, asset.PartHead, "texture-missing"},
		{invent.Mirrored, asset.PartHead, ""}, // needs the scan before
	} {
		p := invent.NewPerson(invent.Tuning, 31)
		dir := t.TempDir()
		grid := 10.0
		if c.part == asset.PartHead {
			grid = 4
		}
		names, err := p.Deliver(context.Background(), dir, "ath-0031", []invent.Shot{{Part: c.part,
			Capture: invent.Capture{Seed: 1, GridMm: grid, NoiseMm: 0.2, TexSize: 640}, Faults: []invent.Fault{c.fault}}})
		if err != nil {
			t.Fatal(err)
		}
		s, err := scan.LoadFile(context.Background(), filepath.Join(dir, names[0]), scan.Options{Part: c.part})
		if err != nil {
			t.Errorf("%s %s: %v", c.fault, c.part, err)
			continue
		}
		got := codes(t, s)
		if _, ok := got[c.code]; c.code != "" && !ok {
			t.Errorf("%s %s: want %s, got %v", c.fault, c.part, c.code, got)
		}
		if c.code == "" && len(got) > 0 {
			t.Errorf("%s %s: got %v, want nothing", c.fault, c.part, got)
		}
		t.Logf("%s %s: %v", c.fault, c.part, got)
	}
}
