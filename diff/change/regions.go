package change

import (
	"mien/asset/terms"
	"mien/diff/result"
)

// place is a part of the body in which a class of surface means one kind of item.
type place func(terms.Region) bool

// beard is where hair is facial hair.
func beard(r terms.Region) bool {
	switch r {
	case terms.Chin, terms.JawLeft, terms.JawRight, terms.CheekLeft, terms.CheekRight, terms.Lips, terms.NeckFront:
		return true
	}
	return false
}

// scalp is where shaved hair darkens the skin.
func scalp(r terms.Region) bool { return r == terms.Scalp }

// head is where cloth is an accessory worn on the head.
func head(r terms.Region) bool { return r.Segment() == terms.Head }

// face is where a head shows its build.
func face(r terms.Region) bool {
	return r.Segment() == terms.Head && r != terms.Scalp && r != terms.EarLeft && r != terms.EarRight
}

// arm is where cloth is a sleeve.
func arm(r terms.Region) bool {
	switch r.Segment() {
	case terms.ArmUpperLeft, terms.ArmUpperRight, terms.ArmLowerLeft, terms.ArmLowerRight, terms.PalmLeft, terms.PalmRight:
		return true
	}
	return false
}

// leg is where cloth below the shorts is an accessory: a sleeve or brace.
func leg(r terms.Region) bool {
	switch r.Segment() {
	case terms.LegLowerLeft, terms.LegLowerRight:
		return true
	}
	return false
}

// foot is where a shoe is worn.
func foot(r terms.Region) bool {
	switch r {
	case terms.FootLeft, terms.FootRight, terms.AnkleLeft, terms.AnkleRight:
		return true
	}
	return false
}

// features is where the face's own darker or redder parts lie: a change of colour there is
// expression, light or make-up, never taken for ink.
func features(r terms.Region) bool {
	switch r {
	case terms.BrowLeft, terms.BrowRight, terms.EyeLeft, terms.EyeRight, terms.Lips, terms.Teeth, terms.Tongue:
		return true
	}
	return false
}

// shareIn returns the share of a spot that lies in p.
func shareIn(s *result.Spot, p place) float64 {
	sum := 0.0
	for _, r := range s.Regions {
		if region, err := terms.ParseRegion(r.Name); err == nil && p(region) {
			sum += r.Share
		}
	}
	return sum
}

// areas holds cm2 by region.
type areas [terms.RegionCount]float64

func (a *areas) in(p place) float64 {
	s := 0.0
	for r, v := range a {
		if p(terms.Region(r)) {
			s += v
		}
	}
	return s
}

// largest returns the name of the region of p with the most area, "" when all are empty.
func (a *areas) largest(p place) string {
	best, at := 0.0, terms.NoRegion
	for r, v := range a {
		if v > best && p(terms.Region(r)) {
			best, at = v, terms.Region(r)
		}
	}
	return at.String()
}

func (a *areas) addSpot(s *result.Spot) {
	for _, r := range s.Regions {
		if region, err := terms.ParseRegion(r.Name); err == nil {
			a[region] += r.Share * s.AreaCM2
		}
	}
}
