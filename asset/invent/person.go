// Package invent makes people who do not exist: their bodies, their looks on a day, and the scans a
// rig would take of them, with the truth about every change. Tests and the demonstration use it.
//
// A [Person] is who somebody is, a [Look] is how they truly look on a day, a [Capture] is how a rig
// happened to record them. Only a difference of looks is a change of the person. Everything follows
// from seeds: the same arguments give the same bytes on every run.
package invent

import (
	"mien/asset"
	"mien/asset/mesh"
	"mien/asset/terms"
)

// Family is a group of invented people made by one recipe. Methods are tuned on Tuning and reported
// on Report, whose proportions, noise, artwork and atlas packer differ.
type Family uint8

// Families.
const (
	Tuning Family = iota
	Report
)

// Person is somebody's identity: what no haircut, session or year changes. Make one with [NewPerson];
// the zero value has no body.
type Person struct {
	Family  Family
	Seed    uint64
	HeightM float64 // stature without shoes
	Build   Build
	Face    Face
	Tone    int // skin lightness band, 0 very light to 5 dark
	Eye     EyeColour
	Hair    HairColour

	base *base
}

// Build holds proportions as factors of the family's middle person, who has 1 everywhere.
type Build struct {
	Shoulder, Chest, Waist, Hip float64 // breadths
	Depth                       float64 // front to back of the trunk
	ArmLength, LegLength        float64
	ArmGirth, LegGirth          float64
	Hand, Foot, Head, Neck      float64 // sizes
}

// Face holds the relief of the face as offsets from the middle face, about -1 to 1 each.
type Face struct {
	Width, Jaw, Chin, Cheek, Brow                 float64
	NoseLength, NoseWidth, NoseBridge             float64
	MouthWidth, LipFullness, EyeSpacing, EyeDepth float64
	EarSize, EarTurn                              float64
	Asymmetry                                     float64 // left against right, 1 is about 1 mm
}

// EyeColour is the colour of the iris.
type EyeColour uint8

// Eye colours.
const (
	EyeBrown EyeColour = iota
	EyeDark
	EyeHazel
	EyeGreen
	EyeBlue
	EyeGrey
	eyeColours
)

// HairColour is the natural colour of hair, brows and beard.
type HairColour uint8

// Hair colours.
const (
	HairBlack HairColour = iota
	HairDark
	HairBrown
	HairAuburn
	HairFair
	hairColours
)

// Look is how a person truly looks on a day. The zero value is bald, shaven, barefoot and without ink,
// in the tight shorts that everybody wears when a body is scanned.
type Look struct {
	Ink        []Ink
	Scars      []Scar
	Freckles   float64 // 0 none to 1 many
	Hair       HairStyle
	Beard      BeardStyle
	Shoes      Shoe
	Headband   bool
	Cap        bool
	Sleeves    []terms.Region // cloth sleeves, over forearms or upper arms
	HeavierMm  float64        // fat: outward growth at its fullest place, the abdomen
	MuscleMm   float64        // muscle: outward growth at its fullest place, the upper arm
	TanDE      float64        // darkening of exposed skin by sun, dEab
	KitColours [2]uint8       // index of the main and of the second colour of cloth
}

// Ink is one artwork on the skin. Its centre lies on the region's own frame,
// moved along the limb and around it.
type Ink struct {
	Region     terms.Region
	Motif      uint64  // which artwork
	Extended   int     // how often the same artwork has been added to
	SizeCM     float64 // greatest extent
	AlongCM    float64
	AroundCM   float64
	TurnDeg    float64
	Contrast   float64 // against the skin around it, dE00
	ColourInks bool    // coloured instead of black
}

// Scar is a narrow line of altered skin.
type Scar struct {
	Region   terms.Region
	LengthCM float64
	WidthMm  float64
	AlongCM  float64
	AroundCM float64
	TurnDeg  float64
	Reddish  bool // fresh; otherwise paler than the skin around it
}

// HairStyle is the cut of the hair on the head.
type HairStyle uint8

// Hair styles, by the thickness of the shell that a scan shows.
const (
	Bald    HairStyle = iota // no hair
	Cropped                  // 3 mm
	Short                    // 12 mm, waved
	Curly                    // 35 mm, with curls
	Long                     // 14 mm, falling to the nape
	Knot                     // 8 mm, drawn back into a knot
	hairStyles
)

// BeardStyle is the cut of the beard.
type BeardStyle uint8

// Beard styles.
const (
	NoBeard    BeardStyle = iota
	Stubble               // colour only
	ShortBeard            // 5 mm
	FullBeard             // 18 mm
	beardStyles
)

// Shoe is a pair of shoes. Models differ in sole, toe box, collar and panels by millimetres to
// centimetres; Model 0 is barefoot.
type Shoe struct {
	Model   int      // 0 to ShoeModels
	Colours [3]uint8 // index of main, panel and sole colour
}

// ShoeModels is the number of invented shoe models, numbered from 1.
const ShoeModels = 6

// Capture is how a scan was recorded: never a change of the person. Zero lengths of GridMm and TexSize
// mean the part's usual size; everything else zero means a perfect recording in rest pose.
type Capture struct {
	Seed        uint64   // of noise, grain and slip
	GridMm      float64  // edge length of the mesh
	GridTurnDeg float64  // another turn or shift gives another topology
	GridShift   mesh.Vec // in edge lengths
	OffsetM     mesh.Vec // where the person stood
	TurnDeg     float64  // about +Y
	Joints      []JointTurn
	BreathMm    float64 // rib cage outward at its fullest place
	NoiseMm     float64 // white, standard deviation along the normal
	NoiseCorrMm float64 // correlated over about 1 cm, standard deviation along the normal
	Smooth      int     // smoothing rounds of a cleaned stage
	Holes       int     // gaps of about 1 cm in the surface

	SlipMm      float64 // skin moved over the body since the rest pose
	AtlasSeed   uint64
	TexSize     int
	Light       Light
	Grain       float64 // standard deviation of pixel noise, in 8-bit steps
	JPEGQuality int     // 0 keeps the pixels exact
	NoLabels    bool
	Stage       asset.Stage
}

// JointTurn turns a segment, and all that hangs on it, about its joint nearest the trunk.
type JointTurn struct {
	Segment terms.Segment
	Axis    Axis
	Degrees float64
}

// Axis is the axis of a joint's turn. Left and right are mirror images, so that the same turn of
// both sides keeps the person symmetric.
type Axis uint8

// Axes.
const (
	Raise Axis = iota // sideways and up, away from the midline; the head tilts to the left
	Bend              // arms and legs swing forward, elbows flex, knees flex back, the head nods forward
	Twist             // about the bone, outward; the head turns to the left
)

// Surface is the geometry of one capture, without paint.
type Surface struct {
	// Mesh is posed and noisy, in the frame of the capture, with a region per position and the
	// materials skin, hair, cloth, shoe-left, shoe-right and eyes as far as they occur.
	Mesh *mesh.Mesh
	// Anchor holds for each position the point of the person's base surface (rest pose, no
	// physique, hair or cloth) that this piece of skin belongs to; for shoes the point of the
	// shoe's own rest surface. It is the same over all captures and looks, in metres.
	Anchor [][3]float32
	// AnchorNormal holds the outward unit normal of the base surface at each anchor.
	AnchorNormal [][3]float32
	// Clean holds the positions without noise and smoothing: the true shape in the frame of the capture.
	Clean [][3]float32
}
