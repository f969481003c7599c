// Package body knows how a person is put together: which rigid segments the regions of the skin move
// with, where the joints between them lie, and, for a scan without region labels, roughly which region
// is where.
package body

import (
	"mien/asset/mesh"
	"mien/asset/terms"
)

// bone is one row of the skeleton's table.
type bone struct {
	parent terms.Segment
	name   string // of the segment
	joint  string // between the segment and its parent
	band   [2]terms.Region
	top    [2]terms.Region // what lies on the parent's side of the band
	below  [2]terms.Region // what lies on the segment's own side
}

// skeleton lists the segments, each parent before its children. Band is the pair of regions around
// the joint where labels have one; joints without are found from the border between the segments.
var skeleton = [terms.SegmentCount]bone{
	terms.Trunk:         {name: "trunk"},
	terms.Head:          {name: "head", joint: "neck"},
	terms.ArmUpperLeft:  {name: "upper-arm-left", joint: "shoulder-left"},
	terms.ArmUpperRight: {name: "upper-arm-right", joint: "shoulder-right"},
	terms.ArmLowerLeft: {parent: terms.ArmUpperLeft, name: "forearm-left", joint: "elbow-left",
		band: one(terms.ElbowLeft), top: one(terms.UpperArmLeft), below: one(terms.ForearmLeft)},
	terms.ArmLowerRight: {parent: terms.ArmUpperRight, name: "forearm-right", joint: "elbow-right",
		band: one(terms.ElbowRight), top: one(terms.UpperArmRight), below: one(terms.ForearmRight)},
	terms.PalmLeft: {parent: terms.ArmLowerLeft, name: "hand-left", joint: "wrist-left",
		band: one(terms.WristLeft), top: one(terms.ForearmLeft), below: one(terms.HandLeft)},
	terms.PalmRight: {parent: terms.ArmLowerRight, name: "hand-right", joint: "wrist-right",
		band: one(terms.WristRight), top: one(terms.ForearmRight), below: one(terms.HandRight)},
	terms.LegUpperLeft:  {name: "thigh-left", joint: "hip-left"},
	terms.LegUpperRight: {name: "thigh-right", joint: "hip-right"},
	terms.LegLowerLeft: {parent: terms.LegUpperLeft, name: "shank-left", joint: "knee-left",
		band: one(terms.KneeLeft), top: one(terms.ThighLeft), below: [2]terms.Region{terms.ShinLeft, terms.CalfLeft}},
	terms.LegLowerRight: {parent: terms.LegUpperRight, name: "shank-right", joint: "knee-right",
		band: one(terms.KneeRight), top: one(terms.ThighRight), below: [2]terms.Region{terms.ShinRight, terms.CalfRight}},
	terms.SoleLeft: {parent: terms.LegLowerLeft, name: "foot-left", joint: "ankle-left",
		band: one(terms.AnkleLeft), top: [2]terms.Region{terms.ShinLeft, terms.CalfLeft}, below: one(terms.FootLeft)},
	terms.SoleRight: {parent: terms.LegLowerRight, name: "foot-right", joint: "ankle-right",
		band: one(terms.AnkleRight), top: [2]terms.Region{terms.ShinRight, terms.CalfRight}, below: one(terms.FootRight)},
}

func one(r terms.Region) [2]terms.Region { return [2]terms.Region{r, r} }

// Parent returns the segment that s hangs on; the trunk, the root, returns itself.
func Parent(s terms.Segment) terms.Segment { return skeleton[s].parent }

// SegmentName returns the name of s, such as "forearm-left".
func SegmentName(s terms.Segment) string { return skeleton[s].name }

// JointName returns the name of the joint between s and its parent, such as "elbow-left"; "" for the trunk.
func JointName(s terms.Segment) string { return skeleton[s].joint }

// SegmentOf returns the segment of a region number as meshes store it, and whether it is labelled.
func SegmentOf(label uint8) (terms.Segment, bool) {
	r := terms.Region(label)
	if r == terms.NoRegion || r >= terms.RegionCount {
		return terms.Trunk, false
	}
	return r.Segment(), true
}

// SegmentAreas returns the labelled surface area of every segment in m2.
func SegmentAreas(m *mesh.Mesh) (areas [terms.SegmentCount]float64) {
	for t := range m.Tri {
		if s, ok := SegmentOf(m.LabelOf(t)); ok {
			areas[s] += m.TriangleArea(t)
		}
	}
	return areas
}

// RegionAreas returns the surface area of every region in m2; entry 0 is what has no label.
func RegionAreas(m *mesh.Mesh) (areas [terms.RegionCount]float64) {
	for t := range m.Tri {
		if l := m.LabelOf(t); l < uint8(terms.RegionCount) {
			areas[l] += m.TriangleArea(t)
		}
	}
	return areas
}
