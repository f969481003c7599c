// Package change says what the spots of a comparison mean: it turns shape spots, colour spots, class
// flips and body measures into findings by a table of rules.
package change

import (
	"mien/asset/scan"
	"mien/diff/colour"
	"mien/diff/result"
	"mien/diff/surface"
)

// Input is all the evidence of one comparison. Spots carry their ids already, those of Colour too.
type Input struct {
	Old, New     *scan.Scan
	NewToOld     *surface.Field // the shape layer's fields
	OldToNew     *surface.Field
	Shape        []surface.Spot
	Colour       *colour.Output // nil when colour was not compared
	Measurements []result.Measurement
	Posture      *result.Posture
	Causes       []result.Cause
	ToleranceMm  float64 // of the shape layer, after noise
	GirthPercent float64
}

// Findings returns what changed about the person, most confident first, numbered F1, F2, ...
func Findings(in Input) []result.Finding {
	r := newReading(in)
	var out []result.Finding
	for _, rule := range rules {
		out = append(out, rule.find(r)...)
	}
	number(out)
	return out
}
