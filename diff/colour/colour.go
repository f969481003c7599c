// Package colour compares the base colours of two aligned scans on their surfaces: it samples both
// textures at paired surface points in linear light, takes the session's light and small slips of the
// skin out, and joins what remains into spots.
package colour

import (
	"mien/asset/scan"
	"mien/diff/result"
	"mien/diff/surface"
)

// Input is what [Compare] works on. The fields' meshes must have the triangles, texture coordinates
// and materials of the scans' meshes (positions may differ: aligned and with posture taken out).
type Input struct {
	Old, New *scan.Scan
	NewToOld *surface.Field // From is the new surface
	OldToNew *surface.Field // From is the old surface
	Options  Options
}

// Options are the numbers of one colour comparison. A zero field means its default.
type Options struct {
	ToleranceDE00 float64 // least change that counts; default 6
	MinSpotCM2    float64 // least area of a spot; default 1
}

func (o Options) filled() Options {
	if o.ToleranceDE00 == 0 {
		o.ToleranceDE00 = 6
	}
	if o.MinSpotCM2 == 0 {
		o.MinSpotCM2 = 1
	}
	return o
}

// Output is the colour layer of a comparison.
type Output struct {
	Layer   result.ColourLayer
	Verdict result.Verdict
	Reasons []string
	Causes  []result.Cause

	NewToOld *Side // nil when colour was not compared
	OldToNew *Side

	// Spots have no ID yet; the caller numbers them in place. Info has one entry a spot.
	Spots []result.Spot
	Info  []SpotInfo
}

// Side is one direction of the comparison, one entry a sample of Field. A colour is CIE Lab in the
// mean light of both sessions.
type Side struct {
	Field    *surface.Field
	Compared []bool // both sides seen, of one class, with a texture
	FromLab  [][3]float32
	ToLab    [][3]float32
	DE00     []float32 // difference after light, tint, slip and, from 2 dE00 on, the best match within 3 mm; 0 where not compared
	Spot     []int32   // index into Output.Spots, -1 for none
}

// SpotInfo says what the pixels of a colour spot look like, beyond what the document shows.
type SpotInfo struct {
	OnNew        bool       // the samples lie on the new surface
	Class        uint8      // asset/terms.Class of the samples
	Contrast     float64    // of the marked side against the bare skin around, mean dEab
	OtherSide    float64    // the same on the other side
	Delta        [3]float64 // mean Lab of the marked side minus the other side
	KeptCM2      float64    // ink within 25 mm that both sides show
	BesideHidden float64    // share of the ring within 5 mm which one of the scans does not show
	Fill         float64    // ink area over outline area
	WidthMm      float64    // mean width, small for lines
	Samples      int
}
