package diff

import (
	"math"

	"mien/diff/result"
)

// The steps to which numbers of the document are rounded.
const (
	stepMm     = 0.001
	stepCM2    = 0.01
	stepCM3    = 0.01
	stepM      = 0.00001
	stepDE00   = 0.01
	stepShare  = 0.001
	stepDegree = 0.01
	stepScale  = 0.00001
	stepMatrix = 1e-9
)

// round brings every measured number of the document to its step.
func round(r *Result) {
	for _, s := range []*result.Side{&r.Old, &r.New} {
		to(&s.AreaCM2, stepCM2)
		to(s.VolumeCM3, stepCM3)
	}
	if a := r.Alignment; a != nil {
		for i := range a.Matrix {
			to(&a.Matrix[i], stepMatrix)
		}
		to(&a.Scale, stepScale)
		to(&a.RMSMm, stepMm)
		to(&a.Overlap, stepShare)
	}
	if p := r.Posture; p != nil {
		for i := range p.Joints {
			to(&p.Joints[i].Degrees, stepDegree)
		}
		to(&p.BreathingMm, stepMm)
	}
	if s := r.Shape; s != nil {
		for _, v := range []*float64{&s.DetectionLimitMm, s.SlideMm} {
			to(v, stepMm)
		}
		to(&s.ChangedAreaCM2, stepCM2)
		to(&s.UncoveredCM2, stepCM2)
		for _, st := range []*result.Stats{&s.NewToOld, &s.OldToNew} {
			for _, v := range []*float64{&st.MeanMm, &st.RMSMm, &st.P95Mm, &st.P99Mm, &st.MaxMm, &st.SignedMeanMm} {
				to(v, stepMm)
			}
		}
	}
	if c := r.Colour; c != nil {
		for _, v := range []*float64{c.MeanDE00, c.P95DE00, c.Light.ResidualDE00} {
			to(v, stepDE00)
		}
		to(&c.ChangedAreaCM2, stepCM2)
		to(&c.UncoveredCM2, stepCM2)
		to(&c.TexelMm, stepMm)
	}
	for i := range r.Spots {
		roundSpot(&r.Spots[i])
	}
	for i := range r.Measurements {
		m := &r.Measurements[i]
		for _, v := range []*float64{m.Old, m.New, m.Change, m.Detectable} {
			to(v, 0.1)
		}
	}
	for i := range r.Findings {
		to(&r.Findings[i].Confidence, 0.01)
		to(&r.Findings[i].AreaCM2, stepCM2)
	}
}

func roundSpot(s *result.Spot) {
	step := stepMm
	if s.Unit == "de00" {
		step = stepDE00
	}
	for _, v := range []*float64{&s.Peak, &s.PeakRaw, &s.Mean} {
		to(v, step)
	}
	to(&s.AreaCM2, stepCM2)
	to(&s.OutlineCM2, stepCM2)
	to(s.VolumeCM3, stepCM3)
	for k := 0; k < 3; k++ {
		to(&s.CentroidM[k], stepM)
		to(&s.BoundsM[0][k], stepM)
		to(&s.BoundsM[1][k], stepM)
	}
	for i := range s.Regions {
		to(&s.Regions[i].Share, stepShare)
	}
}

// to rounds *v to a whole number of steps, without a negative zero; nil stays nil.
func to(v *float64, step float64) {
	if v == nil {
		return
	}
	n := math.Round(1 / step)
	*v = math.Round(*v*n) / n
	if *v == 0 {
		*v = 0
	}
}
