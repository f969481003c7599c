// Package surface measures the distance between two aligned surfaces by area-weighted samples, both
// ways, and joins changed samples into spots.
package surface

import "mien/asset/mesh"

// State says whether a sample has a partner on the other surface, and if not, why.
type State uint8

// States. Only Seen samples enter statistics; all others are "uncovered".
const (
	Seen     State = iota
	Far            // nothing within the pairing distance
	Border         // the foot point lies on a boundary of the other surface
	Away           // the partner faces away by more than the allowed angle
	Unlike         // skin against cloth or hair: one covers the other
	NoReturn       // going back from the partner misses by more than allowed
)

// Field is one direction of a comparison: samples spread evenly over From, each with its closest
// point on To. All slices have one entry a sample. Positions are in the old frame, metres.
type Field struct {
	From, To *mesh.Mesh

	Tri    []uint32     // triangle of From
	Bary   [][2]float32 // weights of its second and third corner
	Pos    [][3]float32
	Normal [][3]float32 // unit, outward
	AreaM2 []float32    // surface that the sample stands for

	SpacingMm float64 // mean distance of neighbouring samples

	OnTri  []uint32 // partner's triangle of To (meaningless when State is Far)
	OnBary [][2]float32
	OnPos  [][3]float32
	DistMm []float32 // signed: > 0 where the NEW surface lies outside the old one
	State  []State
	Region []uint8 // asset/terms.Region of the sample on From
	Class  []uint8 // asset/terms.Class on From
	OnReg  []uint8 // region of the partner
	OnCls  []uint8 // class of the partner
}

// Len returns the number of samples.
func (f *Field) Len() int { return len(f.Tri) }
