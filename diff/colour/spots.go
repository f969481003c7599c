package colour

import (
	"context"
	"math"
	"slices"

	"mien/asset/terms"
	"mien/diff/result"
	"mien/diff/skin"
)

const (
	// joinM joins strokes and letters of one artwork into one spot.
	joinM = 0.008
	// closeM closes gaps inside an artwork for its outline's area.
	closeM = 0.005
	// commonDE is the least contrast, dEab, on both sides of what counts as ink that stayed.
	commonDE = 6
)

// addSpots joins the changed samples of one direction into spots. On skin only the samples on which
// this direction's own side carries the detail are taken: what the other side carries, the other
// direction reports on its own surface. Other classes are reported on the new surface alone.
func addSpots(ctx context.Context, out *Output, side *Side, k *ink, onNew bool, opt Options) error {
	f := side.Field
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
	for _, members := range join(f.Pos, f.Normal, f.Class, marked) {
		if err := ctx.Err(); err != nil {
			return err
		}
		members = atHalf(side, members, seed)
		if areaCM2(side, members) < opt.MinSpotCM2 {
			continue
		}
		id := int32(len(out.Spots))
		for _, i := range members {
			side.Spot[i] = id
		}
		spot, info := k.measure(side, members, onNew)
		out.Spots = append(out.Spots, spot)
		out.Info = append(out.Info, info)
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

// measure describes one group of samples.
func (k *ink) measure(side *Side, members []uint32, onNew bool) (result.Spot, SpotInfo) {
	f := side.Field
	spot := result.Spot{Layer: result.Colour, Unit: "de00"}
	info := SpotInfo{OnNew: onNew, Class: f.Class[members[0]], Samples: len(members)}
	var region [terms.RegionCount]float64
	var area float64
	values := make([]float64, len(members))
	for c := range spot.BoundsM[0] {
		spot.BoundsM[0][c], spot.BoundsM[1][c] = math.Inf(1), math.Inf(-1)
	}
	for m, i := range members {
		w := float64(f.AreaM2[i])
		area += w
		if int(f.Region[i]) < len(region) {
			region[f.Region[i]] += w
		}
		d := float64(side.DE00[i])
		values[m] = d
		spot.Mean += w * d
		spot.PeakRaw = max(spot.PeakRaw, d)
		info.Contrast += w * float64(k.here[i])
		info.OtherSide += w * float64(k.there[i])
		for c := range 3 {
			x := float64(f.Pos[i][c])
			spot.CentroidM[c] += w * x
			spot.BoundsM[0][c] = min(spot.BoundsM[0][c], x)
			spot.BoundsM[1][c] = max(spot.BoundsM[1][c], x)
			info.Delta[c] += w * float64(k.delta[i][c])
		}
	}
	spot.Mean /= area
	info.Contrast /= area
	info.OtherSide /= area
	for c := range 3 {
		spot.CentroidM[c] /= area
		info.Delta[c] /= area
	}
	spot.Peak = skin.Quantile(values, 0.95)
	spot.AreaCM2 = area * 1e4
	spot.Regions = shares(region[:], area)
	k.outline(side, members, &spot, &info)
	return spot, info
}

// shares lists regions by share of area, largest first, ties in table order.
func shares(region []float64, area float64) []result.RegionShare {
	var order []int
	for r, a := range region {
		if r > 0 && a > 0 {
			order = append(order, r)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case region[a] > region[b]:
			return -1
		case region[a] < region[b]:
			return 1
		}
		return 0
	})
	out := []result.RegionShare{}
	for _, r := range order {
		out = append(out, result.RegionShare{Name: terms.Region(r).String(), Share: region[r] / area})
	}
	return out
}

// outline fills the spot's outline area, a closing by 5 mm on the surface, and what lies around it:
// the share of the ring within 5 mm that shows ink on both sides.
func (k *ink) outline(side *Side, members []uint32, spot *result.Spot, info *SpotInfo) {
	f := side.Field
	const outside, ring, inside = 0, 1, 2
	state := make(map[uint32]uint8, 2*len(members))
	for _, i := range members {
		state[i] = inside
	}
	var dilated, near []uint32
	for _, i := range members {
		near = k.grid.Near(f.Pos[i], f.Normal[i], closeM, near[:0])
		for _, j := range near {
			if state[j] == outside {
				state[j] = ring
				dilated = append(dilated, j)
			}
		}
	}
	var closed, around, common, hidden float64
	for _, i := range members {
		closed += float64(f.AreaM2[i])
	}
	for _, j := range dilated {
		w := float64(f.AreaM2[j])
		around += w
		if !side.Compared[j] {
			hidden += w
		}
		if k.here[j] > commonDE && k.there[j] > commonDE {
			common += w
		}
		kept := true
		near = k.grid.Near(f.Pos[j], f.Normal[j], closeM, near[:0])
		for _, q := range near {
			if state[q] == outside {
				kept = false
				break
			}
		}
		if kept {
			closed += w
		}
	}
	spot.OutlineCM2 = closed * 1e4
	info.Fill = spot.AreaCM2 / spot.OutlineCM2
	if around > 0 {
		info.Touches = common / around
		info.BesideHidden = hidden / around
		info.WidthMm = 2 * spot.AreaCM2 * 1e-4 / (around / closeM) * 1e3
	}
}
