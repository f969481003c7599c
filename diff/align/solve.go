package align

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"mien/asset/mesh"
	"mien/diff/surface"
)

// cloud is the sampled new surface with the weight that each sample deserves.
type cloud struct {
	pos, normal []mesh.Vec
	weight      []float64 // anatomical
	class       []uint8
	unlabelled  bool    // weights follow the old surface's regions where it has them
	radiusM     float64 // root mean square distance from the centre
	centre      mesh.Vec
}

func newCloud(s *surface.Side, count int) *cloud {
	f := s.Sample(math.Sqrt(s.AreaM2()/float64(count)) * 1000)
	c := &cloud{unlabelled: s.Mesh.Label == nil}
	var total float64
	for i := range f.Pos {
		p := mesh.Vec{float64(f.Pos[i][0]), float64(f.Pos[i][1]), float64(f.Pos[i][2])}
		n := mesh.Vec{float64(f.Normal[i][0]), float64(f.Normal[i][1]), float64(f.Normal[i][2])}
		c.add(p, n, anatomical(f.Region[i], f.Class[i]), f.Class[i])
		total += c.weight[i]
	}
	if total == 0 { // nothing but cloth, or a prop: every place counts alike
		for i := range c.weight {
			c.weight[i] = 1
		}
	}
	c.measure()
	return c
}

func (c *cloud) add(p, n mesh.Vec, w float64, class uint8) {
	c.pos, c.normal = append(c.pos, p), append(c.normal, n)
	c.weight, c.class = append(c.weight, w), append(c.class, class)
}

func (c *cloud) measure() {
	for _, p := range c.pos {
		c.centre = c.centre.Add(p)
	}
	c.centre = c.centre.Scale(1 / float64(len(c.pos)))
	var sq float64
	for _, p := range c.pos {
		d := p.Sub(c.centre)
		sq += d.Dot(d)
	}
	c.radiusM = math.Sqrt(sq / float64(len(c.pos)))
}

// thin returns every step-th sample. Samples lie along a space-filling curve, so they stay even.
func (c *cloud) thin(count int) *cloud {
	step := max(1, len(c.pos)/count)
	out := &cloud{unlabelled: c.unlabelled}
	for i := step / 2; i < len(c.pos); i += step {
		out.add(c.pos[i], c.normal[i], c.weight[i], c.class[i])
	}
	out.measure()
	return out
}

// equations are the normal equations of point-to-plane alignment in six unknowns, the turn about a
// centre in units of radians times radiusM and the shift, both metres; a seventh is a growth about it.
type equations struct {
	h   [7][7]float64
	g   [7]float64
	sum float64
}

func (e *equations) add(row [7]float64, residual, w float64) {
	for i := 0; i < 7; i++ {
		for j := i; j < 7; j++ {
			e.h[i][j] += w * row[i] * row[j]
		}
		e.g[i] += w * row[i] * residual
	}
	e.sum += w
}

// row is the change of (q-p).n when p turns, shifts and grows.
func row(p, n, centre mesh.Vec, radiusM float64) [7]float64 {
	a := p.Sub(centre).Scale(1 / radiusM)
	t := a.Cross(n)
	return [7]float64{t[0], t[1], t[2], n[0], n[1], n[2], a.Dot(n)}
}

// solve returns the step over the first dim unknowns; ok is false when there are too few equations.
func (e *equations) solve(dim int) (x [7]float64, ok bool) {
	if e.sum <= 0 {
		return x, false
	}
	a := mat.NewSymDense(dim, nil)
	b := mat.NewVecDense(dim, nil)
	for i := 0; i < dim; i++ {
		for j := i; j < dim; j++ {
			a.SetSym(i, j, e.h[i][j]/e.sum)
		}
		// A trace of damping: directions that nothing holds stay where they are.
		a.SetSym(i, i, a.At(i, i)+1e-9)
		b.SetVec(i, e.g[i]/e.sum)
	}
	var ch mat.Cholesky
	if !ch.Factorize(a) {
		return x, false
	}
	var s mat.VecDense
	if err := ch.SolveVecTo(&s, b); err != nil && math.IsInf(ch.Cond(), 1) {
		return x, false
	}
	for i := 0; i < dim; i++ {
		x[i] = s.AtVec(i)
	}
	return x, true
}

// stiffness returns the smallest eigenvalue of the rigid part over the mean one: near 0 when some
// motion changes no distance, as the turning of a ball.
func (e *equations) stiffness() float64 {
	a := mat.NewSymDense(6, nil)
	var trace float64
	for i := 0; i < 6; i++ {
		for j := i; j < 6; j++ {
			a.SetSym(i, j, e.h[i][j])
		}
		trace += e.h[i][i]
	}
	var eig mat.EigenSym
	if trace <= 0 || !eig.Factorize(a, false) {
		return 0
	}
	return eig.Values(nil)[0] / (trace / 6)
}
