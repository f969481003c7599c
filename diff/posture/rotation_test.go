package posture

import (
	"math"
	"math/rand/v2"
	"testing"

	"mien/asset/mesh"
)

func TestTurnAndVectorAreInverse(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 200 {
		w := mesh.Vec{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()}
		if w.Len() > 3 {
			continue
		}
		m := turn(w)
		if d := m.vector().Sub(w).Len(); d > 1e-9 {
			t.Errorf("turn(%v).vector() off by %g", w, d)
		}
		p := mesh.Vec{1, 2, 3}
		if d := m.back(m.apply(p)).Sub(p).Len(); d > 1e-12 {
			t.Errorf("back(apply(p)) off by %g", d)
		}
		a, b := w.Unit(), mesh.Vec{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()}.Unit()
		if d := between(a, b).apply(a).Sub(b).Len(); d > 1e-9 {
			t.Errorf("between(a, b)*a off b by %g", d)
		}
	}
}

func TestSolveAgainstKnownSolution(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	const n = 30
	g, x := make([]float64, n*n), make([]float64, n)
	for i := range g {
		g[i] = r.NormFloat64()
	}
	for i := range x {
		x[i] = r.NormFloat64()
	}
	a, b := make([]float64, n*n), make([]float64, n)
	for i := 0; i < n; i++ {
		for j := 0; j < n; j++ {
			for k := 0; k < n; k++ {
				a[i*n+j] += g[i*n+k] * g[j*n+k]
			}
		}
		a[i*n+i] += 0.1
	}
	for i := 0; i < n; i++ {
		for j := 0; j < n; j++ {
			b[i] += a[i*n+j] * x[j]
		}
	}
	if !solveSPD(a, b) {
		t.Fatal("not positive definite")
	}
	for i := range x {
		if math.Abs(b[i]-x[i]) > 1e-8 {
			t.Errorf("x[%d] = %g, want %g", i, b[i], x[i])
		}
	}
	if solveSPD([]float64{1, 0, 2, 1}, []float64{1, 1}) {
		t.Error("an indefinite matrix was solved")
	}
}
