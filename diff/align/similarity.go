package align

import (
	"fmt"

	"gonum.org/v1/gonum/mat"

	"mien/asset/mesh"
)

// Similarity returns the rotation, scale and translation that take from onto to with the least sum of
// weighted squares:
//
//	sum w[i] * |to[i] - (scale*R*from[i] + T)|^2
//
// Any unit, the same on both sides; w nil means equal weights. meanSquare is the sum over the sum of
// weights. R is a proper rotation even where a reflection would fit better. For points in one plane
// the third dimension follows from the other two.
//
// It returns an error for lists of unlike length, fewer than two points, or points that all coincide.
//
// Source: Umeyama, Least-squares estimation of transformation parameters between two point patterns,
// IEEE TPAMI 13(4), 1991, 376-380.
func Similarity(from, to []mesh.Vec, w []float64) (p Pose, scale, meanSquare float64, err error) {
	return similarity(3, from, to, w)
}

// similarity is [Similarity] in the first dim dimensions, 2 or 3.
func similarity(dim int, from, to []mesh.Vec, w []float64) (p Pose, scale, meanSquare float64, err error) {
	if len(from) != len(to) || w != nil && len(w) != len(from) || len(from) < 2 {
		return p, 0, 0, fmt.Errorf("similarity of %d and %d points: need two lists of one length, 2 at least", len(from), len(to))
	}
	at := func(i int) float64 {
		if w == nil {
			return 1
		}
		return w[i]
	}
	sum, cf, ct := centres(from, to, at)
	cov := mat.NewDense(dim, dim, nil)
	var varFrom, varTo float64
	for i := range from {
		a, b := from[i].Sub(cf), to[i].Sub(ct)
		for r := 0; r < dim; r++ {
			for c := 0; c < dim; c++ {
				cov.Set(r, c, cov.At(r, c)+at(i)*b[r]*a[c]/sum)
			}
		}
		varFrom += at(i) * a.Dot(a) / sum
		varTo += at(i) * b.Dot(b) / sum
	}
	var svd mat.SVD
	if varFrom == 0 || !svd.Factorize(cov, mat.SVDFull) {
		return p, 0, 0, fmt.Errorf("similarity: the points coincide or are not finite")
	}
	var u, v, r mat.Dense
	svd.UTo(&u)
	svd.VTo(&v)
	d := svd.Values(nil)
	if mat.Det(&u)*mat.Det(&v) < 0 { // a reflection fits best: turn the weakest direction round
		for i := 0; i < dim; i++ {
			u.Set(i, dim-1, -u.At(i, dim-1))
		}
		d[dim-1] = -d[dim-1]
	}
	r.Mul(&u, v.T())
	p = Identity()
	var trace float64
	for i := 0; i < dim; i++ {
		trace += d[i]
		for j := 0; j < dim; j++ {
			p.R[3*i+j] = r.At(i, j)
		}
	}
	scale = trace / varFrom
	p.T = ct.Sub(p.Turn(cf).Scale(scale))
	return p, scale, varTo - trace*trace/varFrom, nil
}

// centres returns the sum of weights and both weighted centres.
func centres(from, to []mesh.Vec, at func(i int) float64) (sum float64, cf, ct mesh.Vec) {
	for i := range from {
		sum += at(i)
		cf, ct = cf.Add(from[i].Scale(at(i))), ct.Add(to[i].Scale(at(i)))
	}
	return sum, cf.Scale(1 / sum), ct.Scale(1 / sum)
}

// rigid is [Similarity] with the scale held at 1.
func rigid(from, to []mesh.Vec, w []float64) (Pose, error) {
	p, _, _, err := Similarity(from, to, w)
	if err != nil {
		return p, err
	}
	_, cf, ct := centres(from, to, func(i int) float64 { return w[i] })
	p.T = ct.Sub(p.Turn(cf))
	return p, nil
}
