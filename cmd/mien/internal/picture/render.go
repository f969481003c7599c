// Package picture draws scans and what changed on them, in software: no GPU, no display. Pictures
// look like figures on paper; measured change has one colour map of its own (see [HeatColor]).
package picture

import (
	"context"
	"fmt"
	"image"
	"math"

	"mien/asset/mesh"
	"mien/asset/texture"
)

// Scene is what a picture shows.
type Scene struct {
	Mesh      *mesh.Mesh
	BaseColor []*texture.Image // by material index; a material without a picture is drawn as clay

	// Heat replaces base colour by measured change: one value a position, or Points anywhere on the
	// surface. A value that is not a number was not measured.
	Heat    []float32
	Points  *Points
	HeatMax float64 // the value of the end colours; 0 is the greatest value shown

	Even bool // light from the camera: for judging colour, less for judging shape
}

// Renderer holds what several pictures of one scene share.
type Renderer struct {
	scene   Scene
	normal  []mesh.Vec
	mips    []*texture.Mips
	heatMax float64
	ground  [3]float32 // behind the surface, linear light
}

// NewRenderer prepares a scene. It returns an error when the mesh is not sound or a slice is of the
// wrong length.
func NewRenderer(s Scene) (*Renderer, error) {
	if err := s.Mesh.Check(); err != nil {
		return nil, fmt.Errorf("picture: %w", err)
	}
	r := &Renderer{scene: s, normal: smoothNormals(s.Mesh), ground: paper}
	if s.Mesh.TriUV != nil {
		made := map[*texture.Image]*texture.Mips{}
		for _, im := range s.BaseColor {
			if im != nil && im.W > 0 && im.H > 0 && made[im] == nil {
				made[im] = texture.NewMips(im)
			}
			r.mips = append(r.mips, made[im])
		}
	}
	return r.Measured(s.Heat, s.Points, s.HeatMax)
}

// Measured returns a renderer of the same surface that shows other measured change; arguments as in
// [Scene].
func (r *Renderer) Measured(heat []float32, points *Points, heatMax float64) (*Renderer, error) {
	if heat != nil && len(heat) != len(r.scene.Mesh.Pos) {
		return nil, fmt.Errorf("picture: %d values of change for %d vertices", len(heat), len(r.scene.Mesh.Pos))
	}
	c := *r
	c.scene.Heat, c.scene.Points, c.scene.HeatMax, c.heatMax = heat, points, heatMax, heatMax
	if heatMax == 0 {
		for _, v := range heat {
			c.heatMax = max(c.heatMax, abs(v))
		}
		if points != nil {
			c.heatMax = max(c.heatMax, points.greatest)
		}
	}
	return &c, nil
}

// abs returns the magnitude of a measured value, 0 when it is not a number.
func abs(v float32) float64 {
	if v != v {
		return 0
	}
	return math.Abs(float64(v))
}

// clay returns a renderer of the same surface without colour or change.
func (r *Renderer) clay() *Renderer {
	c := *r
	c.mips, c.scene.Heat, c.scene.Points, c.scene.Even = nil, nil, nil, false
	return &c
}

// smoothNormals returns the area-weighted normal of every position: fast, and fine for pictures.
func smoothNormals(m *mesh.Mesh) []mesh.Vec {
	out := make([]mesh.Vec, len(m.Pos))
	for t, c := range m.Tri {
		p, q, r := m.Corner(t)
		n := q.Sub(p).Cross(r.Sub(p))
		for _, i := range c {
			out[i][0] += n[0]
			out[i][1] += n[1]
			out[i][2] += n[2]
		}
	}
	for i := range out {
		out[i] = out[i].Unit()
	}
	return out
}

// HeatMax returns the value of the end colours.
func (r *Renderer) HeatMax() float64 { return r.heatMax }

// Render draws s as seen by cam, w by h pixels. Same arguments give the same pixels.
func Render(ctx context.Context, s Scene, cam Camera, w, h int) (*image.RGBA, error) {
	r, err := NewRenderer(s)
	if err != nil {
		return nil, err
	}
	return r.Render(ctx, cam, w, h)
}

const oversample = 2 // samples a pixel, each way

// Render draws the scene as seen by cam, w by h pixels.
func (r *Renderer) Render(ctx context.Context, cam Camera, w, h int) (*image.RGBA, error) {
	if w < 1 || h < 1 || w > 8192 || h > 8192 {
		return nil, fmt.Errorf("picture: %d by %d pixels, allowed are 1 to 8192", w, h)
	}
	s, err := see(ctx, r.scene.Mesh, cam.project(w*oversample, h*oversample), w*oversample, h*oversample)
	if err != nil {
		return nil, err
	}
	shade := occlusion(s)
	out := image.NewRGBA(image.Rect(0, 0, w, h))
	inBands(h, func(y0, y1 int) {
		for y := y0; y < y1 && ctx.Err() == nil; y++ {
			for x := 0; x < w; x++ {
				var sum [3]float32
				var measured reading
				for k := 0; k < oversample*oversample; k++ {
					px, py := x*oversample+k%oversample, y*oversample+k/oversample
					c := r.ground
					if s.tri[py*s.w+px] >= 0 {
						c = r.shade(s, px, py, shade[y*w+x], &measured)
					}
					for i := range sum {
						sum[i] += c[i]
					}
				}
				set(out, x, y, [3]float32{sum[0] / (oversample * oversample), sum[1] / (oversample * oversample), sum[2] / (oversample * oversample)})
			}
		}
	})
	return out, ctx.Err()
}

func set(im *image.RGBA, x, y int, c [3]float32) {
	p := im.Pix[im.PixOffset(x, y):]
	p[0], p[1], p[2], p[3] = texture.Encode8(c[0]), texture.Encode8(c[1]), texture.Encode8(c[2]), 255
}
