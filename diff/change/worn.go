package change

import (
	"fmt"

	"mien/asset/terms"
	"mien/diff/result"
)

// worn is one row of the table of things that are worn or grown: a class of surface at a place.
type worn struct {
	kind     terms.ItemKind
	what     string // in sentences
	class    terms.Class
	at       place
	leastCM2 float64                            // less gained or lost than this is an edge that moved
	leastMm  float64                            // mean change of the outer surface that alters the item; 0 = judged otherwise
	sure     float64                            // most that a finding of this row can be trusted, 0..1
	home     func(areaCM2 float64) terms.Region // where such an item is listed; nil: where most of it lies
}

// hairOnHead is where hair is not facial hair.
func hairOnHead(r terms.Region) bool { return !beard(r) }

var wornTable = []worn{
	{kind: terms.Hair, what: "hair", class: terms.HairClass, at: hairOnHead, leastCM2: 40, leastMm: 2.5, sure: 1, home: listed(terms.Scalp)},
	{kind: terms.FacialHair, what: "facial hair", class: terms.HairClass, at: beard, leastCM2: 12, leastMm: 4, sure: 1, home: listed(terms.Chin)},
	{kind: terms.Accessory, what: "cloth on the head", class: terms.Cloth, at: head, leastCM2: 15, leastMm: 6, sure: 1, home: bandOrCap},
	{kind: terms.Accessory, what: "a cloth sleeve on the left arm", class: terms.Cloth, at: sideOf(arm, true), leastCM2: 30, sure: 0.9},
	{kind: terms.Accessory, what: "a cloth sleeve on the right arm", class: terms.Cloth, at: sideOf(arm, false), leastCM2: 30, sure: 0.9},
	{kind: terms.Accessory, what: "cloth on the left leg", class: terms.Cloth, at: sideOf(leg, true), leastCM2: 40, sure: 0.9},
	{kind: terms.Accessory, what: "cloth on the right leg", class: terms.Cloth, at: sideOf(leg, false), leastCM2: 40, sure: 0.9},
}

// listed gives the one region under which a kind of item is listed.
func listed(r terms.Region) func(float64) terms.Region {
	return func(float64) terms.Region { return r }
}

// bandOrCap lists a band at the forehead and what covers the head at the scalp.
func bandOrCap(areaCM2 float64) terms.Region {
	const capCM2 = 400
	if areaCM2 < capCM2 {
		return terms.Forehead
	}
	return terms.Scalp
}

// sideOf narrows a place to the left or the right side of the body.
func sideOf(p place, left bool) place {
	return func(r terms.Region) bool { return p(r) && isLeft(r) == left }
}

func isLeft(r terms.Region) bool {
	n := r.String()
	return len(n) > 5 && n[len(n)-5:] == "-left"
}

// bareUnder tells what may lie on the other scan for a class to count as not worn there: skin, and
// for cloth also the hair that it hides.
func bareUnder(class terms.Class) func(terms.Class) bool {
	return func(on terms.Class) bool {
		return on == terms.Skin || on == terms.EyeClass || on == terms.HairClass && class != terms.HairClass
	}
}

// findWorn reports what was put on, taken off, grown, cut or exchanged.
func findWorn(r *reading) []result.Finding {
	var out []result.Finding
	for _, row := range wornTable {
		c := coverOf(r.in.NewToOld, r.in.OldToNew, row.class, bareUnder(row.class))
		if f, ok := r.judgeWorn(row, c); ok {
			out = append(out, f)
		}
	}
	return out
}

func (r *reading) judgeWorn(row worn, c *cover) (result.Finding, bool) {
	gained, lost, stayed := c.gained.in(row.at), c.lost.in(row.at), c.stayed.in(row.at)
	old, now := c.old.in(row.at), c.new.in(row.at)
	off := c.meanOffMm(row.at)
	f := result.Finding{Kind: string(row.kind), RuledOut: []string{}}
	onThis := func(s *result.Spot, class uint8) bool {
		return shareIn(s, row.at) > 0.5 && terms.Class(class) == row.class
	}
	switch {
	case gained >= row.leastCM2 && old < 0.2*now:
		f.Action, f.Region, f.AreaCM2 = string(terms.Added), c.gained.largest(row.at), gained
		f.Because = []string{fmt.Sprintf("%.0f cm2 of %s on the new scan where the old one is bare", gained, row.what)}
		f.Confidence = confidence(row.sure, strength(gained, row.leastCM2/4))
	case lost >= row.leastCM2 && now < 0.2*old:
		f.Action, f.Region, f.AreaCM2 = string(terms.Removed), c.lost.largest(row.at), lost
		f.Because = []string{fmt.Sprintf("%.0f cm2 of %s on the old scan where the new one is bare", lost, row.what)}
		f.Confidence = confidence(row.sure, strength(lost, row.leastCM2/4))
	case stayed > 0 && (gained+lost >= max(row.leastCM2, 0.25*now) || row.leastMm > 0 && off >= row.leastMm && stayed >= row.leastCM2):
		f.Action, f.Region, f.AreaCM2 = string(terms.Altered), c.new.largest(row.at), max(gained+lost, stayed)
		f.Because = []string{fmt.Sprintf("%s on both scans, outer surfaces %.1f mm apart on average, %.0f cm2 gained, %.0f cm2 lost", row.what, off, gained, lost)}
		evidence := strength(gained+lost, row.leastCM2/2)
		if row.leastMm > 0 {
			evidence = max(evidence, strength(off, row.leastMm/2))
		}
		f.Confidence = confidence(row.sure, evidence)
	default:
		return f, false
	}
	if row.home != nil {
		f.Region = row.home(max(old, now)).String()
	}
	f.Spots = r.claim(onThis)
	return f, true
}

// claim marks the unused spots that want accepts as used and returns their ids. class is the surface
// class that most of the spot lies on.
func (r *reading) claim(want func(s *result.Spot, class uint8) bool) []string {
	ids := []string{}
	for k := range r.in.Shape {
		s := &r.in.Shape[k].Spot
		if !r.usedShape[k] && want(s, r.shapeClass[k]) {
			r.usedShape[k] = true
			ids = append(ids, s.ID)
		}
	}
	if r.in.Colour == nil {
		return ids
	}
	for k := range r.in.Colour.Spots {
		s := &r.in.Colour.Spots[k]
		if !r.usedColour[k] && want(s, r.in.Colour.Info[k].Class) {
			r.usedColour[k] = true
			ids = append(ids, s.ID)
		}
	}
	return ids
}
