// Package result holds the document that a comparison produces, `mien.compare/1`: plain data with its
// JSON names, used by every package of the comparison and by those who read its output.
package result

import "encoding/json"

// Verdict of a comparison or of one layer of it.
type Verdict string

// Verdicts. Overall, changed goes before cannot-tell, cannot-tell before same.
const (
	Changed     Verdict = "changed"
	CannotTell  Verdict = "cannot-tell"
	Same        Verdict = "same"
	NotCompared Verdict = "not-compared" // a layer only
)

// Cause is a named difference of capture, not of the person. Causes alone never make a change.
type Cause string

// Causes.
const (
	CausePosture    Cause = "posture"
	CauseBreathing  Cause = "breathing"
	CauseLight      Cause = "light"
	CauseTan        Cause = "tan"
	CauseCloth      Cause = "cloth"
	CauseSlip       Cause = "slip"
	CauseScale      Cause = "scale"
	CauseProcessing Cause = "processing"
)

// Layer names what a spot was measured in.
type Layer string

// Layers.
const (
	Shape  Layer = "shape"
	Colour Layer = "colour"
)

// Result is the document `mien.compare/1`. Positions are in the old scan's frame, metres. A signed
// distance is positive where the new surface lies outside the old one, in both directions.
// A pointer that is nil means "not measured" and is written as null.
type Result struct {
	Schema   string          `json:"schema"`
	Engine   string          `json:"engine"`
	Settings json.RawMessage `json:"settings"`
	Old      Side            `json:"old"`
	New      Side            `json:"new"`
	Verdict  Verdict         `json:"verdict"`
	Layers   Layers          `json:"layers"`
	Reasons  []string        `json:"reasons"`
	Causes   []Cause         `json:"causes"`

	Alignment    *Alignment    `json:"alignment"`
	Posture      *Posture      `json:"posture"`
	Shape        *ShapeLayer   `json:"shape"`
	Colour       *ColourLayer  `json:"colour"`
	Spots        []Spot        `json:"spots"`
	Measurements []Measurement `json:"measurements"`
	Findings     []Finding     `json:"findings"`
	Conclusion   string        `json:"conclusion"` // one plain sentence
	Pictures     []string      `json:"pictures"`
	TimingS      *float64      `json:"timing_s,omitempty"`
}

// Side describes one of the two scans.
type Side struct {
	Path       string   `json:"path"`
	Hash       string   `json:"hash"`
	Vertices   int      `json:"vertices"`
	Triangles  int      `json:"triangles"`
	AreaCM2    float64  `json:"area_cm2"`
	VolumeCM3  *float64 `json:"volume_cm3"` // null for an open mesh
	LabelsFrom string   `json:"labels_from"`
}

// Layers holds the verdict of each layer.
type Layers struct {
	Shape    Verdict `json:"shape"`
	Colour   Verdict `json:"colour"`
	Measures Verdict `json:"measures"`
}

// Alignment maps new points to the old frame: p_old = Matrix * (UnitRatio * p_new).
type Alignment struct {
	Topology  string      `json:"topology"` // same, other
	Method    string      `json:"method"`   // correspondence, surface
	Matrix    [16]float64 `json:"matrix"`   // column-major, proper rigid, metres
	UnitRatio float64     `json:"unit_ratio"`
	Scale     float64     `json:"scale"` // free scale that would fit best; reported, not applied
	RMSMm     float64     `json:"rms_mm"`
	Overlap   float64     `json:"overlap"` // share of new surface with a partner, 0..1
	Converged bool        `json:"converged"`
	Freedom   string      `json:"freedom"`  // fixed, slides
	Mirrored  string      `json:"mirrored"` // no, yes, unknown
}

// Posture is what was taken out before shape was compared.
type Posture struct {
	Removed     bool    `json:"removed"`
	Joints      []Joint `json:"joints"`
	BreathingMm float64 `json:"breathing_mm"`
}

// Joint is one joint's rotation from the old pose to the new.
type Joint struct {
	Name    string  `json:"name"`
	Degrees float64 `json:"degrees"`
}

// Stats are area-weighted over the surface samples that have a partner.
type Stats struct {
	MeanMm       float64 `json:"mean_mm"` // of the unsigned distance
	RMSMm        float64 `json:"rms_mm"`
	P95Mm        float64 `json:"p95_mm"`
	P99Mm        float64 `json:"p99_mm"`
	MaxMm        float64 `json:"max_mm"`
	SignedMeanMm float64 `json:"signed_mean_mm"`
}

// ShapeLayer is the shape comparison as a whole.
type ShapeLayer struct {
	ToleranceMm      float64  `json:"tolerance_mm"`
	DetectionLimitMm float64  `json:"detection_limit_mm"`
	FamilyLevel      float64  `json:"family_level"`
	NoiseSource      string   `json:"noise_source"` // repeats, residual, policy
	ChangedAreaCM2   float64  `json:"changed_area_cm2"`
	UncoveredCM2     float64  `json:"uncovered_cm2"`
	NewToOld         Stats    `json:"new_to_old"`
	OldToNew         Stats    `json:"old_to_new"`
	SlideMm          *float64 `json:"slide_mm"` // 95th percentile of tangential movement; same topology only
}

// ColourLayer is the colour comparison as a whole.
type ColourLayer struct {
	WhyNot         string   `json:"why_not"` // "" when compared
	MeanDE00       *float64 `json:"mean_de00"`
	P95DE00        *float64 `json:"p95_de00"`
	ChangedAreaCM2 float64  `json:"changed_area_cm2"`
	UncoveredCM2   float64  `json:"uncovered_cm2"`
	TexelMm        float64  `json:"texel_mm"` // side of the coarser texel on the surface, median
	Light          Light    `json:"light"`
}

// Light says how session light was normalised and what remained.
type Light struct {
	Method       string   `json:"method"`
	ResidualDE00 *float64 `json:"residual_de00"`
}

// RegionShare is the share of a spot's area in one region.
type RegionShare struct {
	Name  string  `json:"name"`
	Share float64 `json:"share"`
}

// Spot is one connected changed area of surface.
type Spot struct {
	ID         string        `json:"id"`
	Layer      Layer         `json:"layer"`
	Regions    []RegionShare `json:"regions"` // largest share first
	AreaCM2    float64       `json:"area_cm2"`
	OutlineCM2 float64       `json:"outline_cm2"`
	Peak       float64       `json:"peak"`
	PeakRaw    float64       `json:"peak_raw"`
	Mean       float64       `json:"mean"`
	Unit       string        `json:"unit"` // mm, de00
	VolumeCM3  *float64      `json:"volume_cm3"`
	CentroidM  [3]float64    `json:"centroid_m"`
	BoundsM    [2][3]float64 `json:"bounds_m"`
}

// Measurement is one body measure in both scans.
type Measurement struct {
	Name       string   `json:"name"`
	Unit       string   `json:"unit"` // mm, cm2, cm3
	Old        *float64 `json:"old"`
	New        *float64 `json:"new"`
	Change     *float64 `json:"change"`
	Detectable *float64 `json:"detectable"`
}

// Finding is what spots mean.
type Finding struct {
	ID         string   `json:"id"`
	Kind       string   `json:"kind"`   // asset/terms.ItemKind
	Action     string   `json:"action"` // asset/terms.Action
	Region     string   `json:"region"` // asset/terms.Region
	Confidence float64  `json:"confidence"`
	AreaCM2    float64  `json:"area_cm2"`
	Because    []string `json:"because"`
	RuledOut   []string `json:"ruled_out"`
	Spots      []string `json:"spots"`
}
