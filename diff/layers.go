package diff

import (
	"context"
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"mien/asset/measure"
	"mien/asset/terms"
	"mien/diff/change"
	"mien/diff/colour"
	"mien/diff/result"
	"mien/diff/surface"
)

const (
	colourBodyMm = 2.0 // spacing of colour samples on a body
	colourHeadMm = 1.5
	hiddenShare  = 0.05 // of a measure's surface under hair, above which it is not compared
)

// colour compares base colours on a denser sampling of the same two surfaces.
func (c *comparison) colour(ctx context.Context) error {
	d := c.detail
	if !c.trusted {
		c.res.Colour = &result.ColourLayer{WhyNot: "the scans could not be placed on each other"}
		c.res.Layers.Colour = result.CannotTell
		return nil
	}
	if !coloured(c.old) || !coloured(c.new) {
		return c.compareColour(ctx, d.NewToOld, d.OldToNew)
	}
	o := surface.Options{SpacingMm: colourBodyMm, MaxPairMm: c.set.MaxPairMm, MaxFaceDegrees: c.set.MaxFaceDegrees}
	if d.newSide.AreaM2() < smallM2 {
		o.SpacingMm = colourHeadMm
	}
	newToOld, err := surface.Measure(ctx, d.newSide, d.oldSide, o)
	if err != nil {
		return err
	}
	o.FromIsOld = true
	oldToNew, err := surface.Measure(ctx, d.oldSide, d.newSide, o)
	if err != nil {
		return err
	}
	return c.compareColour(ctx, newToOld, oldToNew)
}

func (c *comparison) compareColour(ctx context.Context, newToOld, oldToNew *surface.Field) error {
	old, new := *c.old, *c.new
	old.Mesh, new.Mesh = c.detail.Old, c.detail.New
	out, err := colour.Compare(ctx, colour.Input{
		Old: &old, New: &new, NewToOld: newToOld, OldToNew: oldToNew,
		Options: colour.Options{ToleranceDE00: c.set.ToleranceDE00, MinSpotCM2: c.set.MinSpotCM2},
	})
	if err != nil {
		return err
	}
	c.colourOut, c.detail.Colour = out, out
	layer := out.Layer // a copy: a pointer into out would keep its fields alive with the document
	c.res.Colour = &layer
	c.res.Layers.Colour = out.Verdict
	c.res.Reasons = append(c.res.Reasons, out.Reasons...)
	for _, k := range out.Causes {
		c.cause(k)
	}
	for k := range out.Spots {
		out.Spots[k].ID = spotID(len(c.res.Spots))
		c.res.Spots = append(c.res.Spots, out.Spots[k])
	}
	return nil
}

func coloured(s *Scan) bool {
	return slices.ContainsFunc(s.BaseColor, func(im *Image) bool { return im != nil })
}

// measures takes the body measures of both scans, each in its own posture. What posture and breath did to
// a measure widens its limit.
func (c *comparison) measures(ctx context.Context) error {
	if !c.trusted {
		c.res.Layers.Measures = result.CannotTell
		return nil
	}
	before, err := measure.Body(ctx, c.detail.Old)
	if err != nil {
		return err
	}
	after, err := measure.Body(ctx, c.posedMesh)
	if err != nil {
		return err
	}
	rested := after
	if c.detail.New != c.posedMesh {
		if rested, err = measure.Body(ctx, c.detail.New); err != nil {
			return err
		}
	}
	verdict := result.NotCompared
	for _, b := range before {
		i := find(after, b.Name)
		if i < 0 || !b.OK && !after[i].OK {
			continue
		}
		m := result.Measurement{Name: b.Name, Unit: b.Unit}
		if b.OK {
			m.Old = &b.Value
		}
		if after[i].OK {
			m.New = &after[i].Value
		}
		if b.OK && after[i].OK {
			if c.hidden(b.Name) {
				c.res.Measurements = append(c.res.Measurements, m)
				continue
			}
			change, least := after[i].Value-b.Value, c.detectable(b)
			if k := find(rested, b.Name); k >= 0 && rested[k].OK {
				least += math.Abs(rested[k].Value - after[i].Value) // what posture and breath did
			}
			m.Change, m.Detectable = &change, &least
			if verdict == result.NotCompared {
				verdict = result.Same
			}
			if math.Abs(change) > least && !strings.HasSuffix(b.Name, "-contour") { // the tape decides
				verdict = result.Changed
			}
		}
		c.res.Measurements = append(c.res.Measurements, m)
	}
	if c.scaled && verdict == result.Changed {
		verdict = result.CannotTell
	}
	c.res.Layers.Measures = verdict
	return nil
}

func find(list []measure.Value, name string) int {
	return slices.IndexFunc(list, func(v measure.Value) bool { return v.Name == name })
}

// hidden reports whether hair or a beard covers enough of what a measure runs over, on one scan only or
// on both, that the measure says nothing about the body.
func (c *comparison) hidden(measure string) bool {
	var counts func(r terms.Region) bool
	switch {
	case strings.HasPrefix(measure, "neck"):
		counts = func(r terms.Region) bool {
			return r == terms.NeckFront || r == terms.NeckBack || r == terms.Chin || r == terms.JawLeft || r == terms.JawRight
		}
	case strings.HasPrefix(measure, "head"), measure == "volume-head", measure == "stature":
		counts = func(r terms.Region) bool { return r.Segment() == terms.Head }
	default:
		return false
	}
	for _, f := range []*surface.Field{c.detail.NewToOld, c.detail.OldToNew} {
		var all, covered float64
		for i, r := range f.Region {
			if !counts(terms.Region(r)) {
				continue
			}
			all += float64(f.AreaM2[i])
			if f.State[i] == surface.Unlike || f.Class[i] == uint8(terms.HairClass) {
				covered += float64(f.AreaM2[i])
			}
		}
		if covered > hiddenShare*all {
			return true
		}
	}
	return false
}

// detectable is the least change of a measure that counts. A volume takes in the noise of two cuts and
// of three dimensions where a girth takes in one.
func (c *comparison) detectable(v measure.Value) float64 {
	share := c.set.GirthPercent / 100
	if v.Unit == "cm3" {
		share *= 2
	}
	return max(math.Abs(v.Value)*share, 2)
}

// findings turns the evidence into what changed about the person.
func (c *comparison) findings() {
	if !c.trusted || c.scaled {
		return
	}
	old, new := *c.old, *c.new
	old.Mesh, new.Mesh = c.detail.Old, c.detail.New
	c.res.Findings = append(c.res.Findings, change.Findings(change.Input{
		Old: &old, New: &new, NewToOld: c.detail.NewToOld, OldToNew: c.detail.OldToNew,
		Shape: c.shapeSpots, Colour: c.colourOut, Measurements: c.res.Measurements,
		Posture: c.res.Posture, Causes: c.res.Causes,
		ToleranceMm: max(c.res.Shape.ToleranceMm, c.res.Shape.DetectionLimitMm), GirthPercent: c.set.GirthPercent,
	})...)
}

// verdict joins the layers: changed before cannot-tell before same. Measures say again what the surface
// says and hang on single cuts: alone, without a finding, they do not make a change.
func (c *comparison) verdict() {
	c.faintColour()
	l := c.res.Layers
	if c.otherStage() && l.Shape == result.Changed {
		c.cause(result.CauseProcessing)
		c.reason("processing: the old scan is %s, the new one %s; the shape tolerance was widened", c.old.Stage, c.new.Stage)
	}
	sort.Slice(c.res.Causes, func(i, j int) bool { return c.res.Causes[i] < c.res.Causes[j] })
	if len(c.res.Findings) > 0 {
		c.res.Verdict = result.Changed
		return
	}
	c.res.Verdict = result.Same
	for _, want := range []result.Verdict{result.Changed, result.CannotTell} {
		if l.Shape == want || l.Colour == want || l.Measures == want && want == result.CannotTell {
			c.res.Verdict = want
			return
		}
	}
}

// faintColour takes the verdict of the colour layer back when all that it rests on is faint.
func (c *comparison) faintColour() {
	if c.res.Layers.Colour != result.Changed {
		return
	}
	named := map[string]bool{}
	for _, f := range c.res.Findings {
		for _, id := range f.Spots {
			named[id] = true
		}
	}
	n := 0
	for i := range c.res.Spots {
		s := &c.res.Spots[i]
		switch {
		case s.Layer != result.Colour:
		case named[s.ID] || !change.Faint(c.res, s):
			return
		default:
			n++
		}
	}
	if n > 0 {
		c.res.Layers.Colour = result.Same
		c.reason("colour: patches too small for texels of %.1f mm are no change: %d", c.res.Colour.TexelMm, n)
	}
}

func spotID(k int) string { return fmt.Sprintf("S%d", k+1) }

// sortSpots puts the largest first, equal ones by place.
func sortSpots(s []shapeSpot) {
	sort.SliceStable(s, func(i, j int) bool {
		if s[i].AreaCM2 != s[j].AreaCM2 {
			return s[i].AreaCM2 > s[j].AreaCM2
		}
		return slices.Compare(s[i].CentroidM[:], s[j].CentroidM[:]) < 0
	})
}

func percentile(v []float64, q float64) float64 {
	if len(v) == 0 {
		return 0
	}
	slices.Sort(v)
	return v[min(len(v)-1, int(q*float64(len(v))))]
}
