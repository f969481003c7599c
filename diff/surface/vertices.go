package surface

import (
	"context"
	"math"

	"mien/asset/near"
)

// ToVertices spreads a value per sample to the positions of f.From: the mean of the samples within two
// spacings on the same sheet, nearer ones counting more. A position with no used sample about it gets
// NaN. len(value) == len(use) == f.Len().
func (f *Field) ToVertices(ctx context.Context, value []float32, use []bool) ([]float32, error) {
	m := f.From
	out := make([]float32, len(m.Pos))
	normal := m.VertexNormals()
	r := 2 * f.SpacingMm / 1000
	g := newGrid(f.Pos, 1, r)
	near.Share(ctx, len(out), 1024, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			p := m.At(uint32(i))
			var sum, weight float64
			var at [27]span
			for _, s := range g.about(m.Pos[i], &at) {
				for k := s.from; k < s.to; k++ {
					j := g.item[k]
					d := widen(g.pos[k]).Sub(p)
					w := 1 - d.Dot(d)/(r*r)
					if g.key[k] != s.key || !use[j] || w <= 0 || widen(f.Normal[j]).Dot(normal[i]) < sheetCosine {
						continue
					}
					sum += w * float64(value[j])
					weight += w
				}
			}
			out[i] = float32(math.NaN())
			if weight > 0 {
				out[i] = float32(sum / weight)
			}
		}
	})
	return out, ctx.Err()
}
