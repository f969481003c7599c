package surface

import "math"

// Family says which spots are too large or too high to be noise anywhere on the surface.
//
// With sigma the local standard deviation of the smoothed field, a spot above MarkSigma*sigma counts
// when its peak exceeds PeakSigma*sigma or its area exceeds AreaCM2. Both are set so that noise alone
// gives any spot on the whole surface with the chance level.
type Family struct {
	MarkSigma float64
	PeakSigma float64
	AreaCM2   float64
}

// NewFamily computes the limits for a surface of areaM2 whose smoothed noise has the given correlation
// width, for spots marked above markSigma, at a family-wise level such as .01. The level is shared by
// both signs and both tests.
//
// Source: expected Euler characteristic and cluster size of Gaussian fields, Friston et al. 1994, Hum.
// Brain Mapp. 1:210-220; Worsley et al. 1996, Hum. Brain Mapp. 4:58-73 (from memory).
func NewFamily(areaM2, widthMm, markSigma, level float64) Family {
	share := level / 4
	area := areaM2 * 1e6 // mm2
	// Expected number of clusters above u: area * lambda * (2 pi)^(-3/2) * u * exp(-u^2/2), lambda the
	// variance of the gradient over that of the field.
	lambda := 1 / (2 * widthMm * widthMm)
	clusters := func(u float64) float64 {
		return area * lambda * math.Pow(2*math.Pi, -1.5) * u * math.Exp(-u*u/2)
	}
	f := Family{MarkSigma: markSigma, PeakSigma: markSigma}
	for f.PeakSigma < 12 && clusters(f.PeakSigma) > share {
		f.PeakSigma += .01
	}
	expected := clusters(markSigma)
	if expected <= share {
		return f
	}
	// Area of a cluster above u is about exponential with mean (area above u)/(clusters above u).
	mean := area * math.Erfc(markSigma/math.Sqrt2) / 2 / expected
	f.AreaCM2 = mean * math.Log(expected/share) / 100
	return f
}
