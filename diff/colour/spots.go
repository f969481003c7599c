package colour

import (
	"context"

	"mien/asset/terms"
	"mien/diff/result"
	"mien/diff/skin"
	"mien/diff/surface"
)

const (
	// joinM joins strokes and letters of one artwork into one spot.
	joinM = 0.008
	// ringM closes gaps inside an artwork for its outline's area, and is the width of the ring around
	// a spot in which its surroundings are looked at.
	ringM = 0.005
	// commonDE is the least contrast, dEab, on both sides of what counts as ink that stayed.
	commonDE = 6
)

// addSpots joins the changed samples of one direction into spots, each of one class of surface. On skin
// only the samples on which this direction's own side carries the detail are taken: what the other
// side carries, the other direction reports on its own surface. Other classes are reported on the new
// surface alone.
func addSpots(ctx context.Context, out *Output, k *ink, onNew bool, opt Options) error {
	side, f := k.side, k.side.Field
	seed := float32(opt.ToleranceDE00)
	var marked []uint32
	for i, d := range side.DE00 {
		if d < seed/2 {
			continue
		}
		if skinLike(f.Class[i]) && !k.carries(i) || !skinLike(f.Class[i]) && !onNew {
			continue
		}
		marked = append(marked, uint32(i))
	}
	var strong [terms.ClassCount][]uint32
	for _, members := range join(f.Pos, f.Normal, f.Class, marked) {
		members = atHalf(side, members, seed)
		if areaCM2(side, members) >= opt.MinSpotCM2 {
			c := f.Class[members[0]]
			strong[c] = append(strong[c], members...)
		}
	}
	for class, members := range strong {
		if len(members) == 0 {
			continue
		}
		mark := make([]bool, f.Len())
		for _, i := range members {
			mark[i] = true
		}
		spots, err := surface.Spots(ctx, f, mark, side.DE00, side.DE00, surface.SpotOptions{
			Layer: result.Colour, JoinMm: joinM * 1e3, ClosingMm: ringM * 1e3, MinCM2: opt.MinSpotCM2, Percentile: 0.95})
		if err != nil {
			return err
		}
		for _, s := range spots {
			for _, i := range s.Samples {
				side.Spot[i] = int32(len(out.Spots))
			}
			info := k.pixels(s)
			info.OnNew, info.Class = onNew, uint8(class)
			out.Spots = append(out.Spots, s.Spot)
			out.Info = append(out.Info, info)
		}
	}
	return nil
}

// carries reports whether the sample itself, rather than its partner, shows the detail that differs:
// whichever stands out more from the bare skin around, or the darker one when both stand out alike.
func (k *ink) carries(i int) bool {
	d := k.here[i] - k.there[i]
	size := distance(k.delta[i], [3]float32{})
	if d > 0.3*size || -d > 0.3*size {
		return d > 0
	}
	return k.delta[i][0] < 0
}

// join returns the connected groups of the marked samples: one class, at most joinM apart on the
// surface. Groups come in the order of their first sample.
func join(pos, normal [][3]float32, class []uint8, marked []uint32) [][]uint32 {
	p, n := make([][3]float32, len(marked)), make([][3]float32, len(marked))
	for k, i := range marked {
		p[k], n[k] = pos[i], normal[i]
	}
	grid := skin.NewGrid(p, n, joinM)
	parent := make([]uint32, len(marked))
	for k := range parent {
		parent[k] = uint32(k)
	}
	find := func(k uint32) uint32 {
		for parent[k] != k {
			parent[k] = parent[parent[k]]
			k = parent[k]
		}
		return k
	}
	var near []uint32
	for k := range marked {
		near = grid.Near(p[k], n[k], joinM, near[:0])
		for _, j := range near {
			if class[marked[j]] != class[marked[k]] {
				continue
			}
			a, b := find(uint32(k)), find(j)
			if a < b {
				parent[b] = a
			} else {
				parent[a] = b
			}
		}
	}
	number := make([]int32, len(marked))
	var groups [][]uint32
	for k := range marked {
		r := find(uint32(k))
		if int(r) == k {
			number[k] = int32(len(groups))
			groups = append(groups, nil)
		}
		g := number[r]
		groups[g] = append(groups[g], marked[k])
	}
	return groups
}

// atHalf keeps the members that differ by at least half of what the group's strong part does, or none
// when no part of the group reaches seed.
func atHalf(side *Side, members []uint32, seed float32) []uint32 {
	v := make([]float64, len(members))
	for k, i := range members {
		v[k] = float64(side.DE00[i])
	}
	strong := skin.Quantile(v, 0.9)
	if strong < float64(seed) {
		return nil
	}
	var out []uint32
	for _, i := range members {
		if float64(side.DE00[i]) >= strong/2 {
			out = append(out, i)
		}
	}
	return out
}

func areaCM2(side *Side, members []uint32) float64 {
	s := 0.0
	for _, i := range members {
		s += float64(side.Field.AreaM2[i])
	}
	return s * 1e4
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
	var ring, common, hidden float64
	for _, i := range s.Samples {
		near = k.grid.Near(f.Pos[i], f.Normal[i], ringM, near[:0])
		for _, j := range near {
			if inside[j] || seen[j] {
				continue
			}
			seen[j] = true
			w := float64(f.AreaM2[j])
			ring += w
			switch {
			case !k.side.Compared[j]:
				hidden += w
			case k.here[j] > commonDE && k.there[j] > commonDE:
				common += w
			}
		}
	}
	if ring > 0 {
		info.Touches, info.BesideHidden = common/ring, hidden/ring
		info.WidthMm = 2 * area / (ring / ringM) * 1e3
	}
	return info
}
