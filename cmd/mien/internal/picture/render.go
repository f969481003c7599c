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
}

// NewRenderer prepares a scene. It returns an error when the mesh is not sound or a slice is of the
// wrong length.
func NewRenderer(s Scene) (*Renderer, error) {
	if err := s.Mesh.Check(); err != nil {
		return nil, fmt.Errorf("picture: %w", err)
	}
	if s.Heat != nil && len(s.Heat) != len(s.Mesh.Pos) {
		return nil, fmt.Errorf("picture: %d values of change for %d vertices", len(s.Heat), len(s.Mesh.Pos))
	}
	r := &Renderer{scene: s, normal: s.Mesh.VertexNormals(), heatMax: s.HeatMax}
	if r.heatMax == 0 {
		for _, v := range s.Heat {
			r.heatMax = max(r.heatMax, math.Abs(float64(v)))
		}
		if s.Points != nil {
			r.heatMax = max(r.heatMax, s.Points.greatest)
		}
	}
	if s.Heat == nil && s.Points == nil && s.Mesh.TriUV != nil {
		made := map[*texture.Image]*texture.Mips{}
		for _, im := range s.BaseColor {
			if im != nil && made[im] == nil {
				made[im] = texture.NewMips(im)
			}
			r.mips = append(r.mips, made[im])
		}
	}
	return r, nil
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

// Render draws the scene as seen by cam, w by h pixels, on paper.
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
				for k := 0; k < oversample*oversample; k++ {
					px, py := x*oversample+k%oversample, y*oversample+k/oversample
					c := paper
					if s.tri[py*s.w+px] >= 0 {
						c = r.shade(s, px, py, shade[py*s.w+px])
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
