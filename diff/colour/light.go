package colour

import (
	"context"
	"math"

	"mien/diff/skin"
)

// shading is the number of shading terms a channel: 9 harmonics of the normal and 3 of the position.
const shading = 12

// Light is the ratio of two sessions' light on the skin, new over old, as a function of where the
// surface looks and, linearly, of where it is:
//
//	log(new/old) per channel = sum of coef[k] * basis[k](normal, position)
//
// It has 12 numbers a channel and so can follow lamps, never ink, sleeves or a tan line.
//
// Source: Basri and Jacobs, Lambertian reflectance and linear subspaces, IEEE TPAMI 25(2), 2003 (nine
// harmonics of the normal).
type Light struct {
	coef   [3][shading]float64
	centre [3]float64
	scale  float64
}

// basis fills b for a unit normal n and a position p in metres.
func (l *Light) basis(n, p [3]float32, b *[shading]float64) {
	x, y, z := float64(n[0]), float64(n[1]), float64(n[2])
	*b = [shading]float64{
		1, x, y, z, x * y, y * z, x * z, x*x - y*y, 3*z*z - 1,
		(float64(p[0]) - l.centre[0]) * l.scale,
		(float64(p[1]) - l.centre[1]) * l.scale,
		(float64(p[2]) - l.centre[2]) * l.scale,
	}
}

// At returns the logarithm of the light's ratio, new over old, a channel.
func (l *Light) At(n, p [3]float32) [3]float64 {
	var b [shading]float64
	l.basis(n, p, &b)
	var out [3]float64
	for c := range out {
		for k, v := range b {
			out[c] += l.coef[c][k] * v
		}
	}
	return out
}

// ratio is one observation of the light: the logarithm of new over old at a sample.
type ratio struct {
	normal, pos [3]float32
	log         [3]float64
}

// fitLight fits the light robustly: each channel's median first, then all terms by iteratively
// reweighted least squares with Tukey's weights on the largest channel residual, so that ink and
// cloth drop out. Fewer than 200 observations give the medians alone; none give no change.
func fitLight(ctx context.Context, obs []ratio) (Light, error) {
	var l Light
	if len(obs) == 0 {
		return l, nil
	}
	lo, hi := obs[0].pos, obs[0].pos
	for _, o := range obs {
		for k := range lo {
			lo[k], hi[k] = min(lo[k], o.pos[k]), max(hi[k], o.pos[k])
		}
	}
	span := 0.0
	for k := range lo {
		l.centre[k] = float64(lo[k]+hi[k]) / 2
		span = max(span, float64(hi[k]-lo[k]))
	}
	l.scale = 2 / max(span, 0.05)
	column := make([]float64, len(obs))
	for c := range l.coef {
		for i, o := range obs {
			column[i] = o.log[c]
		}
		l.coef[c][0] = skin.Quantile(column, 0.5)
	}
	if len(obs) < 200 {
		return l, nil
	}
	basis := make([][shading]float64, len(obs))
	for i, o := range obs {
		l.basis(o.normal, o.pos, &basis[i])
	}
	for round := 0; round < 8; round++ {
		if err := ctx.Err(); err != nil {
			return l, err
		}
		residual := func(i int) float64 {
			worst := 0.0
			for c := range l.coef {
				r := obs[i].log[c]
				for k, v := range basis[i] {
					r -= l.coef[c][k] * v
				}
				worst = max(worst, math.Abs(r))
			}
			return worst
		}
		for i := range obs {
			column[i] = residual(i)
		}
		cut := 4 * max(skin.Quantile(append([]float64(nil), column...), 0.5), 0.004)
		var ata [shading][shading]float64
		var atb [3][shading]float64
		total := 0.0
		for i := range obs {
			t := column[i] / cut
			if t >= 1 {
				continue
			}
			w := (1 - t*t) * (1 - t*t)
			total += w
			for j, bj := range basis[i] {
				wb := w * bj
				for k := 0; k <= j; k++ {
					ata[j][k] += wb * basis[i][k]
				}
				for c := range atb {
					atb[c][j] += wb * obs[i].log[c]
				}
			}
		}
		for k := 1; k < shading; k++ {
			ata[k][k] += ridge * total
		}
		if !solve(&ata, &atb, &l.coef) {
			return l, nil
		}
	}
	return l, nil
}

// ridge holds the shading terms back where normals are one-sided: a share of the observations' weight.
const ridge = 1e-3

// solve writes x of (lower triangle) a x = b for three right sides by Cholesky; false and x unchanged
// when a is not positive definite.
func solve(a *[shading][shading]float64, b *[3][shading]float64, x *[3][shading]float64) bool {
	var f [shading][shading]float64
	for i := range f {
		for j := 0; j <= i; j++ {
			s := a[i][j]
			for k := 0; k < j; k++ {
				s -= f[i][k] * f[j][k]
			}
			if i == j {
				if s <= 0 {
					return false
				}
				f[i][i] = math.Sqrt(s)
			} else {
				f[i][j] = s / f[j][j]
			}
		}
	}
	for c := range b {
		var y [shading]float64
		for i := range y {
			s := b[c][i]
			for k := 0; k < i; k++ {
				s -= f[i][k] * y[k]
			}
			y[i] = s / f[i][i]
		}
		for i := shading - 1; i >= 0; i-- {
			s := y[i]
			for k := i + 1; k < shading; k++ {
				s -= f[k][i] * x[c][k]
			}
			x[c][i] = s / f[i][i]
		}
	}
	return true
}
