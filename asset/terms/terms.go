// Package terms is the shared vocabulary: body regions, surface classes, item kinds, actions and
// sighting sources, one table each. The catalog and the comparison use the same tables, so that a
// finding and an appearance item can be matched by value.
package terms

import "fmt"

// Region is a named piece of body surface. 0 means unlabelled. Left and right are the subject's own.
// The numbers are stored in mesh attributes (`_REGION`) and never change; new regions go at the end.
type Region uint8

// Regions.
const (
	NoRegion Region = iota
	Scalp
	Forehead
	BrowLeft
	BrowRight
	EyeLeft
	EyeRight
	Nose
	CheekLeft
	CheekRight
	Lips
	Chin
	JawLeft
	JawRight
	EarLeft
	EarRight
	NeckFront
	NeckBack
	ShoulderLeft
	ShoulderRight
	UpperArmLeft
	UpperArmRight
	ElbowLeft
	ElbowRight
	ForearmLeft
	ForearmRight
	WristLeft
	WristRight
	HandLeft
	HandRight
	Chest
	Abdomen
	BackUpper
	BackLower
	Pelvis
	ButtockLeft
	ButtockRight
	ThighLeft
	ThighRight
	KneeLeft
	KneeRight
	ShinLeft
	ShinRight
	CalfLeft
	CalfRight
	AnkleLeft
	AnkleRight
	FootLeft
	FootRight
	Teeth
	Tongue
	RegionCount // number of regions including NoRegion
)

var regionNames = [RegionCount]string{
	"", "scalp", "forehead", "brow-left", "brow-right", "eye-left", "eye-right", "nose",
	"cheek-left", "cheek-right", "lips", "chin", "jaw-left", "jaw-right", "ear-left", "ear-right",
	"neck-front", "neck-back", "shoulder-left", "shoulder-right", "upper-arm-left", "upper-arm-right",
	"elbow-left", "elbow-right", "forearm-left", "forearm-right", "wrist-left", "wrist-right",
	"hand-left", "hand-right", "chest", "abdomen", "back-upper", "back-lower", "pelvis",
	"buttock-left", "buttock-right", "thigh-left", "thigh-right", "knee-left", "knee-right",
	"shin-left", "shin-right", "calf-left", "calf-right", "ankle-left", "ankle-right",
	"foot-left", "foot-right", "teeth", "tongue",
}

// String returns the region's name, "" for NoRegion.
func (r Region) String() string {
	if r >= RegionCount {
		return fmt.Sprintf("region-%d", uint8(r))
	}
	return regionNames[r]
}

// ParseRegion reads a region name. The error lists the nearest names.
func ParseRegion(s string) (Region, error) {
	for i, n := range regionNames {
		if i > 0 && n == s {
			return Region(i), nil
		}
	}
	return NoRegion, &UnknownError{What: "region", Got: s, Near: Nearest(s, regionNames[1:])}
}

// Regions returns all region names in table order.
func Regions() []string { return append([]string(nil), regionNames[1:]...) }

// Segment is the rigid body segment that a region moves with.
type Segment uint8

// Segments. The trunk is the root of the skeleton.
const (
	Trunk Segment = iota
	Head
	ArmUpperLeft
	ArmUpperRight
	ArmLowerLeft
	ArmLowerRight
	PalmLeft
	PalmRight
	LegUpperLeft
	LegUpperRight
	LegLowerLeft
	LegLowerRight
	SoleLeft
	SoleRight
	SegmentCount
)

// Segment returns the body segment that r belongs to. Neck regions belong to the trunk, elbows
// to the upper arm, wrists to the lower arm, knees to the upper leg, ankles to the lower leg.
func (r Region) Segment() Segment {
	side := func(l, rr Segment, isRight bool) Segment {
		if isRight {
			return rr
		}
		return l
	}
	switch r {
	case Scalp, Forehead, BrowLeft, BrowRight, EyeLeft, EyeRight, Nose, CheekLeft, CheekRight, Lips, Chin,
		JawLeft, JawRight, EarLeft, EarRight, Teeth, Tongue:
		return Head
	case UpperArmLeft, UpperArmRight, ElbowLeft, ElbowRight:
		return side(ArmUpperLeft, ArmUpperRight, r == UpperArmRight || r == ElbowRight)
	case ForearmLeft, ForearmRight, WristLeft, WristRight:
		return side(ArmLowerLeft, ArmLowerRight, r == ForearmRight || r == WristRight)
	case HandLeft, HandRight:
		return side(PalmLeft, PalmRight, r == HandRight)
	case ThighLeft, ThighRight, KneeLeft, KneeRight:
		return side(LegUpperLeft, LegUpperRight, r == ThighRight || r == KneeRight)
	case ShinLeft, ShinRight, CalfLeft, CalfRight, AnkleLeft, AnkleRight:
		return side(LegLowerLeft, LegLowerRight, r == ShinRight || r == CalfRight || r == AnkleRight)
	case FootLeft, FootRight:
		return side(SoleLeft, SoleRight, r == FootRight)
	}
	return Trunk
}

// Class is what a piece of scanned surface is made of. It comes from the material's name.
type Class uint8

// Classes.
const (
	ClassUnknown Class = iota
	Skin
	HairClass
	Cloth
	Shoe
	EyeClass
	Stand // floor, turntable, support: never part of the person
	ClassCount
)

var classNames = [ClassCount]string{"", "skin", "hair", "cloth", "shoe", "eye", "stand"}

// String returns the class's name, "" for unknown.
func (c Class) String() string { return classNames[c] }

// ItemKind is the kind of an appearance item and of a finding.
type ItemKind string

// Item kinds.
const (
	Tattoo     ItemKind = "tattoo"
	Footwear   ItemKind = "footwear"
	Hair       ItemKind = "hair"
	FacialHair ItemKind = "facial-hair"
	Accessory  ItemKind = "accessory"
	SkinMark   ItemKind = "skin-mark"
	SkinTone   ItemKind = "skin-tone"
	Physique   ItemKind = "physique"
	TeethItem  ItemKind = "teeth"
	Kit        ItemKind = "kit"
)

var itemKinds = []string{"tattoo", "footwear", "hair", "facial-hair", "accessory", "skin-mark", "skin-tone", "physique", "teeth", "kit"}

// ItemKinds returns all item kinds in table order.
func ItemKinds() []string { return append([]string(nil), itemKinds...) }

// ParseItemKind reads an item kind. The error lists the nearest names.
func ParseItemKind(s string) (ItemKind, error) {
	for _, k := range itemKinds {
		if k == s {
			return ItemKind(s), nil
		}
	}
	return "", &UnknownError{What: "kind", Got: s, Near: Nearest(s, itemKinds)}
}

// Action is what happened to an item.
type Action string

// Actions.
const (
	Added   Action = "added"
	Removed Action = "removed"
	Altered Action = "altered"
)

// Source is who reported a sighting.
type Source string

// Sources.
const (
	FromSubject Source = "subject"
	FromAgent   Source = "agent"
	FromSquad   Source = "squad"
	FromArtist  Source = "artist"
	FromPublic  Source = "public"
)

var sources = []string{"subject", "agent", "squad", "artist", "public"}

// ParseSource reads a sighting source. The error lists the allowed names.
func ParseSource(s string) (Source, error) {
	for _, k := range sources {
		if k == s {
			return Source(s), nil
		}
	}
	return "", &UnknownError{What: "source", Got: s, Near: sources}
}
