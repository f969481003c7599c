package surface

import (
	"context"
	"math"
	"slices"
	"sort"

	"mien/asset/mesh"
	"mien/asset/terms"
	"mien/diff/result"
)

// SpotOptions says how marked samples are joined into spots. The zero value of a field means its default.
type SpotOptions struct {
	Layer     result.Layer
	JoinMm    float64 // marked samples nearer than this join; default 2.2 sample spacings
	ClosingMm float64 // radius that bridges gaps of the outline; default 5
	MinCM2    float64 // smaller spots are dropped; default 0
	// Bridge marks samples that join marked ones without belonging to the spot; nil for none.
	Bridge []bool
	// Percentile of |value| that is the peak, 0 to 1; 0 means the signed extreme.
	Percentile float64
}

// Spot is a connected changed area with the samples that make it up.
type Spot struct {
	result.Spot
	Samples []uint32 // of the field that the spot was found in, ascending
	OnNew   bool     // that field's From is the new surface
}

// Spots joins the samples with mark set by surface neighbourhood. value is what the peak is taken of
// (smoothed), raw what peak_raw, mean and volume are taken of; both signed where that means something,
// one entry a sample. Spots of the shape layer join only samples of one sign of value. They come
// largest first, equal ones by centroid, and carry no id yet.
//
// Areas are true surface area. OutlineCM2 is the area after closing gaps up to twice ClosingMm.
func Spots(ctx context.Context, f *Field, mark []bool, value, raw []float32, o SpotOptions) ([]Spot, error) {
	if o.JoinMm <= 0 {
		o.JoinMm = 2.2 * f.SpacingMm
	}
	if o.ClosingMm <= 0 {
		o.ClosingMm = 5
	}
	groups, err := f.groups(ctx, mark, value, o)
	if err != nil {
		return nil, err
	}
	wide := newGrid(f.Pos, 1, o.ClosingMm/1000)
	var out []Spot
	for _, g := range groups {
		var area float64
		for _, i := range g {
			area += float64(f.AreaM2[i])
		}
		if area*1e4 < o.MinCM2 {
			continue
		}
		s := f.describe(g, value, raw, o)
		s.OutlineCM2 = f.closedArea(wide, g) * 1e4
		out = append(out, s)
	}
	sort.SliceStable(out, func(i, j int) bool {
		if a, b := out[i].AreaCM2, out[j].AreaCM2; a != b {
			return a > b
		}
		return slices.Compare(out[i].CentroidM[:], out[j].CentroidM[:]) < 0
	})
	return out, ctx.Err()
}

// groups returns the connected sets of marked samples, in order of their first sample.
func (f *Field) groups(ctx context.Context, mark []bool, value []float32, o SpotOptions) ([][]uint32, error) {
	g := newGrid(f.Pos, 1, o.JoinMm/1000)
	seen := make([]bool, f.Len())
	var out [][]uint32
	var near []uint32
	for i := range mark {
		if !mark[i] || seen[i] {
			continue
		}
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		seen[i] = true
		group := []uint32{uint32(i)}
		for at := 0; at < len(group); at++ {
			k := group[at]
			near = f.appendNear(near[:0], g, int(k))
			for _, j := range near {
				if seen[j] || !mark[j] && (o.Bridge == nil || !o.Bridge[j]) || o.Layer == result.Shape && (value[j] < 0) != (value[k] < 0) {
					continue
				}
				seen[j] = true
				group = append(group, j)
			}
		}
		group = slices.DeleteFunc(group, func(j uint32) bool { return !mark[j] })
		slices.Sort(group)
		out = append(out, group)
	}
	return out, nil
}

// describe sums up one group of samples.
func (f *Field) describe(group []uint32, value, raw []float32, o SpotOptions) Spot {
	s := Spot{Samples: group}
	s.Layer, s.Unit = o.Layer, "de00"
	lo := mesh.Vec{math.Inf(1), math.Inf(1), math.Inf(1)}
	hi := lo.Scale(-1)
	var area, mean float64
	var centre mesh.Vec
	var share [terms.RegionCount]float64
	for _, i := range group {
		w, p := float64(f.AreaM2[i]), f.at(int(i))
		area += w
		mean += w * float64(raw[i])
		centre = centre.Add(p.Scale(w))
		for k := range p {
			lo[k], hi[k] = min(lo[k], p[k]), max(hi[k], p[k])
		}
		if r := f.Region[i]; r < uint8(terms.RegionCount) {
			share[r] += w
		}
		if v := float64(raw[i]); math.Abs(v) > math.Abs(s.PeakRaw) {
			s.PeakRaw = v
		}
		if v := float64(value[i]); math.Abs(v) > math.Abs(s.Peak) {
			s.Peak = v
		}
	}
	if o.Percentile > 0 {
		v := make([]float32, len(group))
		for k, i := range group {
			v[k] = float32(math.Abs(float64(value[i])))
		}
		slices.Sort(v)
		s.Peak = rank(v, o.Percentile)
	}
	s.AreaCM2, s.Mean = area*1e4, mean/area
	s.CentroidM, s.BoundsM = centre.Scale(1/area), [2][3]float64{lo, hi}
	if o.Layer == result.Shape {
		s.Unit = "mm"
		volume := mean * 1e-3 * 1e6 // mm x m2 to cm3
		s.VolumeCM3 = &volume
	}
	s.Regions = shares(share[:], area)
	return s
}

// shares lists the regions of a spot, largest share first, unlabelled surface left out.
func shares(share []float64, area float64) []result.RegionShare {
	out := []result.RegionShare{}
	for r := 1; r < len(share); r++ {
		if share[r] > 0 {
			out = append(out, result.RegionShare{Name: terms.Region(r).String(), Share: share[r] / area})
		}
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].Share > out[j].Share })
	return out
}

// closedArea grows the group by the grid's radius and shrinks it again; the result holds the group and
// the gaps within it.
func (f *Field) closedArea(g *grid, group []uint32) float64 {
	grown := make(map[uint32]bool, 4*len(group))
	var order, near []uint32
	for _, i := range group {
		near = f.appendNear(near[:0], g, int(i))
		for _, j := range near {
			if !grown[j] {
				grown[j] = true
				order = append(order, j)
			}
		}
	}
	member := make(map[uint32]bool, len(group))
	for _, i := range group {
		member[i] = true
	}
	slices.Sort(order) // sums in index order
	var area float64
	for _, i := range order {
		keep := member[i]
		if !keep {
			keep = true
			near = f.appendNear(near[:0], g, int(i))
			for _, j := range near {
				if !grown[j] {
					keep = false
					break
				}
			}
		}
		if keep {
			area += float64(f.AreaM2[i])
		}
	}
	return area
}
