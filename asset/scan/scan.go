// Package scan loads the files of one take into memory: a welded mesh in metres, +Y up, +Z front,
// region labels, and a base colour per material.
package scan

import (
	"mien/asset"
	"mien/asset/mesh"
	"mien/asset/texture"
)

// LabelSource says where the region labels of a scan come from.
type LabelSource string

// Label sources.
const (
	LabelsNone      LabelSource = "none"
	LabelsAttribute LabelSource = "attribute" // a region attribute in the mesh
	LabelsEstimate  LabelSource = "estimate"  // a coarse split of the body's shape
)

// Scan is one take in memory. Positions are in metres whatever the file's unit was.
type Scan struct {
	Name  string // what messages call it: the path the user gave, or part and pose
	Hash  asset.Hash
	Part  asset.Part
	Pose  asset.Pose
	Stage asset.Stage
	Light asset.Light

	Mesh      *mesh.Mesh
	BaseColor []*texture.Image // by material index; nil where a material has none
	Labels    LabelSource

	MetresPerUnit float64 // what file coordinates were multiplied by
	UnitNote      string  // "" when the format states the unit, else how it was found
	Notes         []string
}
