package surface

import (
	"context"
	"math"

	"mien/asset/mesh"
)

// sample spreads points over s, one for every spacingMm squared. Area is counted along the
// space-filling curve and a sample is set whenever another share is full, so that fine and coarse
// triangles are covered alike; inside a triangle places follow a low-discrepancy sequence.
//
// Source: the additive sequence of the plastic number, M. Roberts 2018 (from memory).
func sample(s *Side, spacingMm float64) *Field {
	want := max(1, math.Round(s.areaM2*1e6/(spacingMm*spacingMm)))
	share := s.areaM2 / want
	n := int(want)
	f := &Field{
		Tri: make([]uint32, 0, n), Bary: make([][2]float32, 0, n), Pos: make([][3]float32, 0, n),
		Normal: make([][3]float32, 0, n), AreaM2: make([]float32, 0, n),
		Region: make([]uint8, 0, n), Class: make([]uint8, 0, n),
		SpacingMm: math.Sqrt(share) * 1000,
	}
	const g = 1.32471795724474602596
	var run float64
	done := 0
	for _, t := range s.Index.Order() {
		run += s.Mesh.TriangleArea(int(t))
		// The half puts the first sample in the middle of the first share.
		for until := int(run/share + .5); done < until && done < n; done++ {
			v := frac(.5 + float64(done)/g)
			w := frac(.5 + float64(done)/(g*g))
			if v+w > 1 {
				v, w = 1-v, 1-w
			}
			a, b, c := s.Mesh.Corner(int(t))
			p := a.Add(b.Sub(a).Scale(v)).Add(c.Sub(a).Scale(w))
			f.Tri = append(f.Tri, t)
			f.Bary = append(f.Bary, [2]float32{float32(v), float32(w)})
			f.Pos = append(f.Pos, narrow(p))
			f.Normal = append(f.Normal, narrow(s.smoothNormal(t, v, w)))
			f.AreaM2 = append(f.AreaM2, float32(share))
			f.Region = append(f.Region, s.region[t])
			f.Class = append(f.Class, s.class[t])
		}
	}
	return f
}

func frac(x float64) float64 { return x - math.Floor(x) }

// Sample spreads points over s as [Measure] does, without partners: Tri, Bary, Pos, Normal, AreaM2,
// Region and Class are filled in.
func (s *Side) Sample(spacingMm float64) *Field {
	f := sample(s, spacingMm)
	f.From = s.Mesh
	return f
}

// Partner is the closest point of a surface as an aligner needs it.
type Partner struct {
	Pos    mesh.Vec
	Normal mesh.Vec // interpolated, unit, outward
	Rim    bool     // on the boundary of an open surface
	Class  uint8
	Region uint8
	Found  bool
}

// Partners finds the closest point of s within maxM metres (0 = no limit) for n points.
func (s *Side) Partners(ctx context.Context, n int, point func(i int) mesh.Vec, maxM float64) ([]Partner, error) {
	out := make([]Partner, n)
	hits, ok, err := s.Index.ClosestAll(ctx, n, point, maxM)
	if err != nil {
		return nil, err
	}
	for i, h := range hits {
		if ok[i] {
			out[i] = Partner{h.Pos, s.smoothNormal(h.Tri, h.Bary[0], h.Bary[1]), s.onBoundary(h), s.class[h.Tri], s.region[h.Tri], true}
		}
	}
	return out, nil
}
