package surface

import (
	"math"
	"slices"

	"mien/diff/result"
)

// Stats returns the area-weighted statistics of the distance over samples that have a partner.
// Percentiles are of the unsigned distance. ok is false when no sample has one.
func (f *Field) Stats() (s result.Stats, ok bool) {
	var area, sum, abs, sq float64
	dist := make([]float32, 0, f.Len())
	for i, st := range f.State {
		if st != Seen {
			continue
		}
		w, d := float64(f.AreaM2[i]), float64(f.DistMm[i])
		area += w
		sum += w * d
		abs += w * math.Abs(d)
		sq += w * d * d
		dist = append(dist, float32(math.Abs(d)))
	}
	if area == 0 {
		return s, false
	}
	slices.Sort(dist) // every sample stands for the same area, so ranks are area-weighted
	return result.Stats{
		MeanMm: abs / area, RMSMm: math.Sqrt(sq / area), SignedMeanMm: sum / area,
		P95Mm: rank(dist, .95), P99Mm: rank(dist, .99), MaxMm: float64(dist[len(dist)-1]),
	}, true
}

// UncoveredM2 returns the area of samples without a partner.
func (f *Field) UncoveredM2() float64 {
	var a float64
	for i, s := range f.State {
		if s != Seen {
			a += float64(f.AreaM2[i])
		}
	}
	return a
}

// rank returns the value below which the share q of an ascending list lies.
func rank(sorted []float32, q float64) float64 {
	return float64(sorted[min(len(sorted)-1, int(q*float64(len(sorted))))])
}
