package surface

import (
	"context"
	"math"
	"slices"

	"mien/asset/mesh"
	"mien/asset/near"
	"mien/asset/terms"
)

// Noise is the scatter of a smoothed distance field once everything broad is taken out.
type Noise struct {
	SigmaMm  float64                    // over the whole surface
	RegionMm [terms.RegionCount]float64 // by region
	WidthMm  float64                    // standard deviation of the Gaussian that would correlate white noise alike
}

const (
	planeMm        = 20 // radius of the local plane
	planeSpacingMm = 4  // of the samples that it is fitted to
	leastPlaces    = 80 // for a scatter of a region's own
	mostRatio      = 3  // a region's scatter over the whole surface's, at most
)

// Noise estimates the scatter of value, the field after smoothing, in millimetres: at every few samples
// value minus its local plane within 20 mm, one robust standard deviation (1.4826 MAD) for each region
// and for all. What changes slowly over 20 mm, such as growth, does not enter. Only samples with use
// set count. Neighbours of one place are not independent; the width of their correlation is given.
func (f *Field) Noise(ctx context.Context, value []float32, use []bool, smoothMm float64) (Noise, error) {
	n := f.Len()
	out := Noise{WidthMm: smoothMm / 2}
	if n == 0 {
		return out, nil
	}
	step := max(1, n/6000)
	places := n / step
	resid := make([]float32, places)
	thin := max(1, int(math.Round(planeSpacingMm*planeSpacingMm/(f.SpacingMm*f.SpacingMm))))
	g := newGrid(f.Pos, thin, planeMm/1000.)
	pairSum := make([][2]float64, places) // sums of products and of squares with a partner at the lag
	lag := max(smoothMm*.8, f.SpacingMm)
	near.Share(ctx, places, 128, func(lo, hi int) {
		var around []uint32
		for k := lo; k < hi; k++ {
			i := k * step
			resid[k] = float32(math.NaN())
			if !use[i] {
				continue
			}
			around = f.appendNear(around[:0], g, i)
			plane, ok := f.localPlane(i, around, value, use)
			if !ok {
				continue
			}
			own := float64(value[i]) - plane(f.at(i))
			resid[k] = float32(own)
			pairSum[k] = f.lagProducts(i, around, value, use, plane, own, lag)
		}
	})
	if err := ctx.Err(); err != nil {
		return out, err
	}
	var all []float32
	var byRegion [terms.RegionCount][]float32
	for k, r := range resid {
		if r != r {
			continue
		}
		all = append(all, r)
		if reg := f.Region[k*step]; reg < uint8(terms.RegionCount) {
			byRegion[reg] = append(byRegion[reg], r)
		}
	}
	out.SigmaMm = robustSigma(all)
	for r := range byRegion {
		out.RegionMm[r] = out.SigmaMm
		if len(byRegion[r]) >= leastPlaces {
			out.RegionMm[r] = min(robustSigma(byRegion[r]), mostRatio*out.SigmaMm)
		}
	}
	out.WidthMm = correlationWidth(pairSum, lag, out.WidthMm, out.SigmaMm)
	return out, nil
}

// localPlane fits value as a plane in the tangent directions of sample i by least squares.
func (f *Field) localPlane(i int, around []uint32, value []float32, use []bool) (func(p mesh.Vec) float64, bool) {
	n := widen(f.Normal[i])
	u := n.Cross(mesh.Vec{1, 0, 0})
	if math.Abs(n[0]) > .8 {
		u = n.Cross(mesh.Vec{0, 1, 0})
	}
	u = u.Unit()
	v := n.Cross(u)
	at := f.at(i)
	coord := func(p mesh.Vec) (x, y float64) {
		d := p.Sub(at)
		return d.Dot(u) * 1000, d.Dot(v) * 1000
	}
	var s, sx, sy, sxx, sxy, syy, sz, sxz, syz float64
	for _, j := range around {
		if !use[j] {
			continue
		}
		x, y := coord(f.at(int(j)))
		z := float64(value[j])
		s++
		sx += x
		sy += y
		sxx += x * x
		sxy += x * y
		syy += y * y
		sz += z
		sxz += x * z
		syz += y * z
	}
	if s < 12 {
		return nil, false
	}
	cx, cy, cz := sx/s, sy/s, sz/s
	axx, axy, ayy := sxx-s*cx*cx, sxy-s*cx*cy, syy-s*cy*cy
	bx, by := sxz-s*cx*cz, syz-s*cy*cz
	det := axx*ayy - axy*axy
	if det <= 1e-6*axx*ayy {
		return nil, false
	}
	p, q := (bx*ayy-by*axy)/det, (by*axx-bx*axy)/det
	return func(at mesh.Vec) float64 {
		x, y := coord(at)
		return cz + p*(x-cx) + q*(y-cy)
	}, true
}

// lagProducts sums own*other and own^2 over partners about lag millimetres away.
func (f *Field) lagProducts(i int, around []uint32, value []float32, use []bool, plane func(mesh.Vec) float64, own, lag float64) [2]float64 {
	var out [2]float64
	at := f.at(i)
	for _, j := range around {
		p := f.at(int(j))
		d := p.Sub(at).Len() * 1000
		if !use[j] || d < .8*lag || d > 1.2*lag {
			continue
		}
		other := float64(value[j]) - plane(p)
		out[0] += own * other
		out[1] += (own*own + other*other) / 2
	}
	return out
}

// correlationWidth turns the correlation at a lag into the width of a Gaussian: white noise smoothed by
// one of standard deviation s correlates as exp(-lag^2/(4 s^2)). Places far outside the scatter, where
// something changed, are left out.
func correlationWidth(pairs [][2]float64, lag, least, sigma float64) float64 {
	var product, square float64
	for _, p := range pairs {
		if p[1] > 0 && p[1] < 9*12*sigma*sigma {
			product += p[0]
			square += p[1]
		}
	}
	if square == 0 {
		return least
	}
	rho := min(.97, max(.02, product/square))
	return max(least, lag/(2*math.Sqrt(-math.Log(rho))))
}

func robustSigma(v []float32) float64 {
	if len(v) == 0 {
		return 0
	}
	s := slices.Clone(v)
	slices.Sort(s)
	mid := s[len(s)/2]
	for i := range s {
		s[i] = float32(math.Abs(float64(s[i] - mid)))
	}
	slices.Sort(s)
	return 1.4826 * float64(s[len(s)/2])
}
