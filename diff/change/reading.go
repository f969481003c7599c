package change

import (
	"cmp"
	"fmt"
	"slices"

	"mien/diff/result"
)

// reading is the evidence of one comparison, arranged for the rules. A rule that explains a spot
// marks it as used, so that later rules leave it alone.
type reading struct {
	in         Input
	usedShape  []bool
	usedColour []bool
}

func newReading(in Input) *reading {
	r := &reading{in: in, usedShape: make([]bool, len(in.Shape))}
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
var rules = []rule{}

// number sorts findings by confidence, area and place in the vocabulary and gives them ids.
func number(f []result.Finding) {
	slices.SortStableFunc(f, func(a, b result.Finding) int {
		return cmp.Or(-cmp.Compare(a.Confidence, b.Confidence), -cmp.Compare(a.AreaCM2, b.AreaCM2), cmp.Compare(a.Region, b.Region))
	})
	for i := range f {
		f[i].ID = fmt.Sprintf("F%d", i+1)
	}
}
