package colour

import (
	"context"
	"math"

	"mien/asset/near"
	"mien/asset/texture"
	"mien/diff/skin"
)

// ink is what one direction knows about detail of the skin, one entry a sample.
type ink struct {
	noise   float32 // what the range of lightness around a partner is narrowed by
	side    *Side
	clear   float32 // difference below which no better match is looked for: it cannot become a spot
	grid    *skin.Grid
	patch   *skin.Patches
	tint    [][3]float32 // slow shift between the two sides that is taken out, by patch
	bare    [][3]float32 // colour of the bare skin around, whichever side shows it lighter, by patch
	here    []float32    // contrast of the sample against the bare skin, dEab
	there   []float32    // the same of its partner
	slipped [][3]float32 // partner's colour with slip taken out, nil when there was none
	delta   [][3]float32 // sample minus partner at the best match, Lab
}

// newInk finds tints and bare skin and compares every sample with its partner, or with its best match
// where the partner differs by more than clear.
func newInk(ctx context.Context, side *Side, clear float32) (*ink, error) {
	f := side.Field
	n := f.Len()
	k := &ink{side: side, clear: clear, patch: skin.NewPatches(f.Pos, f.Normal, f.Class, side.Compared),
		here: make([]float32, n), there: make([]float32, n), delta: make([][3]float32, n)}
	for i, a := range side.FromLab {
		b := side.ToLab[i]
		k.delta[i] = [3]float32{a[0] - b[0], a[1] - b[1], a[2] - b[2]}
	}
	var err error
	if k.tint, err = k.patch.Shift(ctx, k.delta); err != nil {
		return nil, err
	}
	fromBare, err := k.patch.Bare(ctx, side.FromLab)
	if err != nil {
		return nil, err
	}
	if k.bare, err = k.patch.Bare(ctx, side.ToLab); err != nil {
		return nil, err
	}
	for p := range k.tint {
		k.tint[p] = asTint(k.tint[p])
		if fromBare[p][0]-k.tint[p][0] > k.bare[p][0] {
			for c := range k.bare[p] {
				k.bare[p][c] = fromBare[p][c] - k.tint[p][c]
			}
		}
	}
	k.noise = k.grain()
	k.grid = skin.NewGrid(f.Pos, f.Normal, matchM)
	near.Share(ctx, n, 4096, func(lo, hi int) {
		var list []uint32
		for i := uint32(lo); i < uint32(hi); i++ {
			if !side.Compared[i] {
				continue
			}
			k.take(i, side.ToLab[i])
			if side.DE00[i] >= clear {
				list = k.grid.Near(f.Pos[i], f.Normal[i], matchM, list[:0])
				k.take(i, k.nearest(side.ToLab, i, list))
			}
		}
	})
	return k, ctx.Err()
}

// rematch does the same with the partners displaced, and keeps whichever is nearer.
func (k *ink) rematch(i uint32, near []uint32) {
	best := k.nearest(k.slipped, i, near)
	if d := k.level(i); distance(d, best) < distance(k.delta[i], [3]float32{}) {
		k.side.ToLab[i] = k.slipped[i]
		k.take(i, best)
	}
}

// nearest returns the colour nearest to sample i within the range of colours that the samples near it
// have in to.
func (k *ink) nearest(to [][3]float32, i uint32, near []uint32) [3]float32 {
	side := k.side
	best := k.level(i)
	lo, hi := to[i], to[i]
	for _, j := range near {
		if side.Compared[j] && side.Field.Class[j] == side.Field.Class[i] {
			for c, v := range to[j] {
				lo[c], hi[c] = min(lo[c], v), max(hi[c], v)
			}
		}
	}
	if skinLike(side.Field.Class[i]) {
		// The extremes of a few noisy values lie outside their true range.
		mid := (lo[0] + hi[0]) / 2
		lo[0], hi[0] = min(lo[0]+k.noise, mid), max(hi[0]-k.noise, mid)
	}
	for c := range best {
		best[c] = min(max(best[c], lo[c]), hi[c])
	}
	return best
}

// grain returns by how much the extremes of some seven samples overstate a range of lightness: 1.35
// standard deviations of one side's noise, from the median difference of the two sides. Chroma is
// left alone, since compression makes its noise agree over several samples.
func (k *ink) grain() float32 {
	const extreme = 1.35 // mean of the greatest of seven standard normal values
	const share = 1.4826 / math.Sqrt2
	var v []float64
	step := max(1, len(k.delta)/20000)
	for i := 0; i < len(k.delta); i += step {
		if p := k.patch.Of[i]; p >= 0 {
			v = append(v, math.Abs(float64(k.delta[i][0]-k.tint[p][0])))
		}
	}
	if len(v) == 0 {
		return 0
	}
	return float32(extreme * share * skin.Quantile(v, 0.5))
}

// take records best as what sample i differs from.
func (k *ink) take(i uint32, best [3]float32) {
	from := k.level(i)
	for c := range best {
		k.delta[i][c] = from[c] - best[c]
	}
	k.side.DE00[i] = float32(texture.DE00(lab64(from), lab64(best)))
	bare := k.bare[k.patch.Of[i]]
	k.here[i], k.there[i] = distance(from, bare), distance(best, bare)
}

// level returns the colour of sample i with the slow shift around it taken out.
func (k *ink) level(i uint32) [3]float32 {
	c, t := k.side.FromLab[i], k.tint[k.patch.Of[i]]
	return [3]float32{c[0] - t[0], c[1] - t[1], c[2] - t[2]}
}
