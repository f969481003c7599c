package picture

import (
	"context"
	"math"
	"runtime"
	"sync"

	"mien/asset/mesh"
)

// surface is what a camera sees: for each pixel the nearest triangle, or -1, row by row.
type surface struct {
	w, h int
	proj projection
	tri  []int32
	key  []float32 // grows with distance: metres, or -1/metres for a perspective
	// screen positions of all mesh positions
	x, y, z []float32
}

// see draws every triangle of m into a z-buffer of w by h pixels. Of two triangles at one distance the
// one with the lower number shows. The result does not depend on the number of processors.
func see(ctx context.Context, m *mesh.Mesh, p projection, w, h int) (*surface, error) {
	s := &surface{w: w, h: h, proj: p, tri: make([]int32, w*h), key: make([]float32, w*h),
		x: make([]float32, len(m.Pos)), y: make([]float32, len(m.Pos)), z: make([]float32, len(m.Pos))}
	for i := range m.Pos {
		x, y, z := p.at(m.At(uint32(i)))
		s.x[i], s.y[i], s.z[i] = float32(x), float32(y), float32(z)
	}
	for i := range s.tri {
		s.tri[i], s.key[i] = -1, float32(math.Inf(1))
	}
	inBands(h, func(y0, y1 int) {
		for t := range m.Tri {
			if t&0xffff == 0 && ctx.Err() != nil {
				return
			}
			s.draw(m, t, y0, y1)
		}
	})
	return s, ctx.Err()
}

// inBands calls f for a few bands of rows that make up 0 to h, side by side.
func inBands(h int, f func(y0, y1 int)) {
	n := min(runtime.GOMAXPROCS(0), max(h, 1))
	var wait sync.WaitGroup
	for k := range n {
		wait.Go(func() { f(h*k/n, h*(k+1)/n) })
	}
	wait.Wait()
}

// depthKey grows with distance and is linear across a triangle on the screen.
func (s *surface) depthKey(z float32) float64 {
	if s.proj.ortho {
		return float64(z)
	}
	return -1 / float64(z)
}

// draw draws the rows y0 to y1 of triangle t.
func (s *surface) draw(m *mesh.Mesh, t, y0, y1 int) {
	i, j, k := m.Tri[t][0], m.Tri[t][1], m.Tri[t][2]
	top, bottom := min(s.y[i], s.y[j], s.y[k]), max(s.y[i], s.y[j], s.y[k])
	if !(bottom > float32(y0) && top < float32(y1)) {
		return
	}
	near := float32(s.proj.near)
	if far := max(s.z[i], s.z[j], s.z[k]); far < near || !s.proj.ortho && min(s.z[i], s.z[j], s.z[k]) <= near {
		return
	}
	e, ok := newEdges(s, i, j, k)
	if !ok {
		return
	}
	za, zb, zc := s.depthKey(s.z[i]), s.depthKey(s.z[j]), s.depthKey(s.z[k])
	nearKey := s.depthKey(near)
	left, right := min(s.x[i], s.x[j], s.x[k]), max(s.x[i], s.x[j], s.x[k])
	xa, xb := int(max(left, 0)), int(min(right, float32(s.w-1)))
	ya, yb := max(int(max(top, 0)), y0), min(int(bottom), y1-1)
	for y := ya; y <= yb; y++ {
		row := y * s.w
		for x := xa; x <= xb; x++ {
			u, v, w := e.at(float64(x)+0.5, float64(y)+0.5)
			if u < 0 || v < 0 || w < 0 {
				continue
			}
			key := u*za + v*zb + w*zc
			if key < nearKey {
				continue
			}
			if f := float32(key); f < s.key[row+x] {
				s.key[row+x], s.tri[row+x] = f, int32(t)
			}
		}
	}
}

// edges gives the weights of a triangle's corners at points of the screen.
type edges struct {
	ax, ay, bx, by, cx, cy float64
	inverse                float64 // of twice the signed area
}

// newEdges returns false for a triangle without area on the screen.
func newEdges(s *surface, i, j, k uint32) (e edges, ok bool) {
	e = edges{float64(s.x[i]), float64(s.y[i]), float64(s.x[j]), float64(s.y[j]), float64(s.x[k]), float64(s.y[k]), 0}
	area := (e.bx-e.ax)*(e.cy-e.ay) - (e.cx-e.ax)*(e.by-e.ay)
	e.inverse = 1 / area
	return e, area != 0 && !math.IsNaN(area) && !math.IsInf(e.inverse, 0)
}

func (e *edges) at(x, y float64) (u, v, w float64) {
	u = ((e.bx-x)*(e.cy-y) - (e.cx-x)*(e.by-y)) * e.inverse
	v = ((e.cx-x)*(e.ay-y) - (e.ax-x)*(e.cy-y)) * e.inverse
	return u, v, 1 - u - v
}

// weights returns the weights of the corners of the triangle that pixel (x, y) sees, perspective taken
// into account; facing is false where it sees the inside of the surface.
func (s *surface) weights(m *mesh.Mesh, x, y int) (b [3]float64, facing bool) {
	c := m.Tri[s.tri[y*s.w+x]]
	e, _ := newEdges(s, c[0], c[1], c[2])
	b[0], b[1], b[2] = e.at(float64(x)+0.5, float64(y)+0.5)
	if !s.proj.ortho {
		sum := 0.0
		for k := range b {
			b[k] /= float64(s.z[c[k]])
			sum += b[k]
		}
		for k := range b {
			b[k] /= sum
		}
	}
	return b, e.inverse < 0 // rows grow downward
}
