package colour

import (
	"context"

	"mien/asset/terms"
	"mien/diff/result"
	"mien/diff/surface"
)

const (
	// ringM closes gaps inside an artwork for its outline's area, and is the width of the ring around
	// a spot in which its surroundings are looked at.
	ringM = 0.005
	// keptM is how far around a spot ink that stayed belongs to the same artwork.
	keptM    = 0.025
	keptStep = 4 // looks around every fourth sample of a spot
	// keptDE is the least contrast, dEab, on both sides of what counts as ink that stayed.
	keptDE = 6
	// A spot on skin below hemSpots times the least area, with more than hemShare of its ring hidden on
	// one scan, is the edge of something worn.
	hemShare, hemSpots = 0.1, 3
)

// addSpots turns the groups of one direction into spots, each of one class of surface.
func addSpots(ctx context.Context, out *Output, k *ink, onNew bool, opt Options) error {
	side, f := k.side, k.side.Field
	var strong [terms.ClassCount][]uint32
	for _, members := range k.groups(onNew, opt) {
		c := f.Class[members[0]]
		strong[c] = append(strong[c], members...)
	}
	for class, members := range strong {
		if len(members) == 0 {
			continue
		}
		mark := make([]bool, f.Len())
		for _, i := range members {
			mark[i] = true
		}
		least := opt.MinSpotCM2
		if !skinLike(uint8(class)) {
			least *= wornShare
		}
		spots, err := surface.Spots(ctx, f, mark, side.DE00, side.DE00, surface.SpotOptions{
			Layer: result.Colour, JoinMm: joinM * 1e3, ClosingMm: ringM * 1e3, MinCM2: least, Percentile: 0.95})
		if err != nil {
			return err
		}
		for _, s := range spots {
			info := k.pixels(s)
			if skinLike(uint8(class)) && info.BesideHidden > hemShare && s.AreaCM2 < hemSpots*opt.MinSpotCM2 {
				continue // the edge of cloth or hair that lies a little differently
			}
			for _, i := range s.Samples {
				side.Spot[i] = int32(len(out.Spots))
			}
			info.OnNew, info.Class = onNew, uint8(class)
			out.Spots = append(out.Spots, s.Spot)
			out.Info = append(out.Info, info)
		}
	}
	return nil
}

// pixels says what the samples of a spot and the ring around it look like.
func (k *ink) pixels(s surface.Spot) SpotInfo {
	f := k.side.Field
	info := SpotInfo{Samples: len(s.Samples), Fill: s.AreaCM2 / s.OutlineCM2}
	inside := make(map[uint32]bool, len(s.Samples))
	area := 0.0
	for _, i := range s.Samples {
		inside[i] = true
		w := float64(f.AreaM2[i])
		area += w
		info.Contrast += w * float64(k.here[i])
		info.OtherSide += w * float64(k.there[i])
		for c := range info.Delta {
			info.Delta[c] += w * float64(k.delta[i][c])
		}
	}
	info.Contrast /= area
	info.OtherSide /= area
	for c := range info.Delta {
		info.Delta[c] /= area
	}

	seen := make(map[uint32]bool, len(s.Samples))
	var near []uint32
	var ring, hidden float64
	for _, i := range s.Samples {
		near = k.grid.Near(f.Pos[i], f.Normal[i], ringM, near[:0])
		for _, j := range near {
			if inside[j] || seen[j] {
				continue
			}
			seen[j] = true
			w := float64(f.AreaM2[j])
			ring += w
			if !k.side.Compared[j] {
				hidden += w
			}
		}
	}
	if ring > 0 {
		info.BesideHidden = hidden / ring
		info.WidthMm = 2 * area / (ring / ringM) * 1e3
	}
	info.KeptCM2 = k.kept(s.Samples, inside)
	return info
}

// kept returns the area of ink near a spot that both sides show, cm2. The face's own darker parts and
// surface other than skin do not count.
func (k *ink) kept(samples []uint32, inside map[uint32]bool) float64 {
	f := k.side.Field
	seen := make(map[uint32]bool)
	var near []uint32
	sum := 0.0
	for a := 0; a < len(samples); a += keptStep {
		i := samples[a]
		near = k.grid.Near(f.Pos[i], f.Normal[i], keptM, near[:0])
		for _, j := range near {
			if inside[j] || seen[j] {
				continue
			}
			seen[j] = true
			if k.side.Compared[j] && skinLike(f.Class[j]) && !ownDark(terms.Region(f.Region[j])) && k.here[j] > keptDE && k.there[j] > keptDE {
				sum += float64(f.AreaM2[j])
			}
		}
	}
	return sum * 1e4
}

// ownDark reports whether a region has darker skin of its own: brows, eyes, lips, shaded by hair.
func ownDark(r terms.Region) bool {
	switch r {
	case terms.Scalp, terms.BrowLeft, terms.BrowRight, terms.EyeLeft, terms.EyeRight, terms.Nose, terms.Lips,
		terms.Chin, terms.JawLeft, terms.JawRight, terms.EarLeft, terms.EarRight:
		return true
	}
	return false
}
