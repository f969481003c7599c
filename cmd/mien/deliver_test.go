package main

import (
	"context"
	"strconv"
	"strings"

	"github.com/rogpeppe/go-internal/testscript"

	"mien/asset"
	"mien/asset/invent"
	"mien/asset/mesh"
	"mien/asset/terms"
)

// deliver makes a take of an invented person: deliver DIR CODE SEED PART [WORD...]. Words change the
// look (ink, shoes, beard, heavy, sleeve), the capture (again, arm) or break the file (any fault of
// [invent.Faults], other = another person stood in the rig); no=N numbers the take.
func deliver(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 4 {
		ts.Fatalf("usage: deliver DIR CODE SEED PART [WORD...]")
	}
	seed, err := strconv.ParseUint(args[2], 10, 64)
	ts.Check(err)
	shot := invent.Shot{Part: asset.Part(args[3]), Look: invent.Look{Hair: invent.Short, Shoes: invent.Shoe{Model: 1, Colours: [3]uint8{0, 1, 2}}},
		Capture: invent.Capture{Seed: seed, GridMm: 9, NoiseMm: .15, AtlasSeed: seed, TexSize: 768, JPEGQuality: 92, Grain: 1}}
	if shot.Part == asset.PartHead {
		shot.Capture.GridMm = 3.5
	}
	for _, w := range args[4:] {
		switch w {
		case "ink":
			shot.Look.Ink = append(shot.Look.Ink, invent.Ink{Region: terms.ForearmLeft, Motif: 1, SizeCM: 9, Contrast: 24})
		case "shoes":
			shot.Look.Shoes = invent.Shoe{Model: 4, Colours: [3]uint8{3, 2, 0}}
		case "beard":
			shot.Look.Beard = invent.FullBeard
		case "sleeve":
			shot.Look.Sleeves = []terms.Region{terms.ForearmLeft}
		case "again":
			c := &shot.Capture
			c.Seed, c.AtlasSeed, c.GridTurnDeg, c.GridShift, c.TurnDeg = seed+900, seed+77, 23, mesh.Vec{.3, .4, .1}, 4
			c.Light = invent.Light{Gain: [3]float64{1.05, 1, .94}}
		case "arm":
			shot.Capture.Joints = []invent.JointTurn{{Segment: terms.ArmUpperLeft, Axis: invent.Raise, Degrees: 6}}
		case "other":
			p := invent.NewPerson(invent.Tuning, seed+5000)
			shot.Person = &p
		default:
			if n, ok := strings.CutPrefix(w, "no="); ok {
				shot.Number, err = strconv.Atoi(n)
				ts.Check(err)
				continue
			}
			shot.Faults = append(shot.Faults, invent.Fault(w))
		}
	}
	_, err = invent.NewPerson(invent.Tuning, seed).Deliver(context.Background(), ts.MkAbs(args[0]), args[1], []invent.Shot{shot})
	ts.Check(err)
}
