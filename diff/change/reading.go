package change

import (
	"cmp"
	"fmt"
	"slices"

	"mien/asset/terms"
	"mien/diff/result"
	"mien/diff/surface"
)

// reading is the evidence of one comparison, arranged for the rules. A rule that explains a spot
// marks it as used, so that later rules leave it alone.
type reading struct {
	in         Input
	usedShape  []bool
	usedColour []bool
	shapeClass []uint8 // class of surface that most of each shape spot lies on
}

func newReading(in Input) *reading {
	r := &reading{in: in, usedShape: make([]bool, len(in.Shape))}
	for k := range in.Shape {
		field := in.OldToNew
		if in.Shape[k].OnNew {
			field = in.NewToOld
		}
		r.shapeClass = append(r.shapeClass, classOf(field, in.Shape[k].Samples))
	}
	if in.Colour != nil {
		r.usedColour = make([]bool, len(in.Colour.Spots))
	}
	return r
}

// rule names one kind of finding and how it is found.
type rule struct {
	name string
	find func(*reading) []result.Finding
}

// rules stand in the order in which they may claim spots.
var rules = []rule{
	{"teeth", findTeeth},
	{"footwear", findFootwear},
	{"hair, facial hair and accessories", findWorn},
	{"ink, skin marks and stubble", findSkin},
	{"physique", findPhysique},
	{"hair and cloth of another colour", findRecoloured},
}

// classOf returns the class of surface that most of the samples lie on, the lower one on a tie.
func classOf(f *surface.Field, samples []uint32) uint8 {
	var area [terms.ClassCount]float64
	if f != nil {
		for _, i := range samples {
			if int(i) < f.Len() && f.Class[i] < uint8(terms.ClassCount) {
				area[f.Class[i]] += float64(f.AreaM2[i])
			}
		}
	}
	best := 0
	for c, a := range area {
		if a > area[best] {
			best = c
		}
	}
	return uint8(best)
}

// number sorts findings by confidence, area and place in the vocabulary and gives them ids.
func number(f []result.Finding) {
	slices.SortStableFunc(f, func(a, b result.Finding) int {
		return cmp.Or(-cmp.Compare(a.Confidence, b.Confidence), -cmp.Compare(a.AreaCM2, b.AreaCM2), cmp.Compare(a.Region, b.Region))
	})
	for i := range f {
		f[i].ID = fmt.Sprintf("F%d", i+1)
	}
}
