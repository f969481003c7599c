package surface

import (
	"context"

	"mien/asset/near"
)

// Smooth averages value over the neighbourhoods of n, weighted by area and by 1-(d/r)^2 for the
// distance d and n's radius r. Only samples with use set enter; others come out as 0 unless a
// neighbour is used. len(value) == len(use) == f.Len().
func (f *Field) Smooth(ctx context.Context, n *Neighbours, radiusMm float64, value []float32, use []bool) ([]float32, error) {
	out := make([]float32, f.Len())
	r2 := radiusMm * radiusMm * 1e-6
	near.Share(ctx, f.Len(), 4096, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			var sum, weight float64
			p := f.at(i)
			for _, j := range n.Of(i) {
				if !use[j] {
					continue
				}
				d := f.at(int(j)).Sub(p)
				w := float64(f.AreaM2[j]) * max(1-d.Dot(d)/r2, .01)
				sum += w * float64(value[j])
				weight += w
			}
			if weight > 0 {
				out[i] = float32(sum / weight)
			}
		}
	})
	return out, ctx.Err()
}

// SeenMask reports for every sample whether it has a partner.
func (f *Field) SeenMask() []bool {
	out := make([]bool, f.Len())
	for i, s := range f.State {
		out[i] = s == Seen
	}
	return out
}
