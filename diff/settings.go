package diff

// Settings are the studio's numbers for one comparison. The zero value of a field means its default,
// which [Settings.Filled] writes in.
type Settings struct {
	ToleranceMm    float64 `json:"tolerance_mm"`     // least shape change that counts; default 1.0
	ToleranceDE00  float64 `json:"tolerance_de00"`   // least colour change that counts; default 6
	MinSpotCM2     float64 `json:"min_spot_cm2"`     // least area of a spot; default 1.0
	SmoothMm       float64 `json:"smooth_mm"`        // radius of the smoothing before peak; default 5
	SampleMm       float64 `json:"sample_mm"`        // spacing of surface samples; 0 = by part
	NoiseMm        float64 `json:"noise_mm"`         // known 1-sigma noise of this rig, part and pose; 0 = unknown
	NoiseFrom      string  `json:"noise_from"`       // "repeats", "policy", or "" when NoiseMm is 0
	FamilyLevel    float64 `json:"family_level"`     // chance of any false spot in one comparison; default 0.01
	MaxPairMm      float64 `json:"max_pair_mm"`      // farther partners are none; default 60
	MaxFaceDegrees float64 `json:"max_face_degrees"` // normals farther apart are no partners; default 60
	GirthPercent   float64 `json:"girth_percent"`    // least girth change that counts; default 2.5
}

// Filled returns s with every zero field at its default.
func (s Settings) Filled() Settings {
	fill := func(v *float64, d float64) {
		if *v == 0 {
			*v = d
		}
	}
	fill(&s.ToleranceMm, 1.0)
	fill(&s.ToleranceDE00, 6)
	fill(&s.MinSpotCM2, 1.0)
	fill(&s.SmoothMm, 5)
	fill(&s.FamilyLevel, 0.01)
	fill(&s.MaxPairMm, 60)
	fill(&s.MaxFaceDegrees, 60)
	fill(&s.GirthPercent, 2.5)
	return s
}
