package colour

import (
	"context"
	"math"

	"mien/asset/mesh"
	"mien/asset/near"
	"mien/asset/texture"
	"mien/diff/skin"
)

// patch is what sampling needs of one triangle: its image, corners in the image, and how texture
// coordinates change along two orthogonal metres in its plane.
type patch struct {
	image  *texture.Image
	uv     [3][2]float32
	du, dv [2]float64 // change of u and of v a metre along the two axes
	texelM float64    // side of a texel on the surface
}

// patchOf returns the patch of triangle t; ok is false when it has no image, no texture coordinates
// or no area.
func patchOf(m *mesh.Mesh, images []*texture.Image, t uint32) (p patch, ok bool) {
	k := m.MaterialOf(int(t))
	if m.TriUV == nil || k >= len(images) || images[k] == nil || images[k].W == 0 || images[k].H == 0 {
		return p, false
	}
	p.image = images[k]
	for c, i := range m.TriUV[t] {
		p.uv[c] = m.UV[i]
	}
	a, b, c := m.Corner(int(t))
	e1, e2 := b.Sub(a), c.Sub(a)
	x := e1.Unit()
	e2x := e2.Dot(x)
	e2y := e2.Sub(x.Scale(e2x)).Len()
	l1 := e1.Len()
	if !(l1 > 0) || !(e2y > 0) {
		return p, false
	}
	for axis, d := range []*[2]float64{&p.du, &p.dv} {
		d1 := float64(p.uv[1][axis] - p.uv[0][axis])
		d2 := float64(p.uv[2][axis] - p.uv[0][axis])
		d[0] = d1 / l1
		d[1] = (d2 - d[0]*e2x) / e2y
	}
	texels := math.Abs(p.du[0]*p.dv[1]-p.du[1]*p.dv[0]) * float64(p.image.W) * float64(p.image.H)
	if !(texels > 0) {
		return p, false
	}
	p.texelM = 1 / math.Sqrt(texels)
	return p, true
}

// at returns the linear light at barycentric (weights of the second and third corner), averaged over
// a square of footprintM metres in the plane of the triangle.
func (p *patch) at(bary [2]float32, footprintM float64) [3]float32 {
	b1, b2 := float64(bary[0]), float64(bary[1])
	b0 := 1 - b1 - b2
	u := b0*float64(p.uv[0][0]) + b1*float64(p.uv[1][0]) + b2*float64(p.uv[2][0])
	v := b0*float64(p.uv[0][1]) + b1*float64(p.uv[1][1]) + b2*float64(p.uv[2][1])
	taps := min(int(footprintM/p.texelM+0.5), maxTaps)
	if taps <= 1 {
		return p.image.Sample(u, v)
	}
	step := footprintM / float64(taps)
	first := -footprintM/2 + step/2
	var sum [3]float32
	for i := range taps {
		x := first + float64(i)*step
		for j := range taps {
			y := first + float64(j)*step
			s := p.image.Sample(u+p.du[0]*x+p.du[1]*y, v+p.dv[0]*x+p.dv[1]*y)
			for c := range sum {
				sum[c] += s[c]
			}
		}
	}
	for c := range sum {
		sum[c] /= float32(taps * taps)
	}
	return sum
}

// maxTaps bounds the taps along one side of a footprint; bilinear taps two texels apart still see
// every texel.
const maxTaps = 4

// sampleAll returns the linear light at n surface points (triangle and barycentric) where want holds,
// and clears want where there is no texture.
func sampleAll(ctx context.Context, m *mesh.Mesh, images []*texture.Image, tri []uint32, bary [][2]float32, footprintM float64, want []bool) ([][3]float32, error) {
	out := make([][3]float32, len(tri))
	near.Share(ctx, len(tri), 4096, func(lo, hi int) {
		var p patch
		var ok bool
		last := uint32(math.MaxUint32)
		for i := lo; i < hi; i++ {
			if !want[i] {
				continue
			}
			if tri[i] != last {
				p, ok = patchOf(m, images, tri[i])
				last = tri[i]
			}
			if !ok {
				want[i] = false
				continue
			}
			out[i] = p.at(bary[i], footprintM)
		}
	})
	return out, ctx.Err()
}

// texelSide returns the median side of a texel on the textured surface of m in metres, over at most
// about 2,000 triangles; 0 when nothing is textured.
func texelSide(m *mesh.Mesh, images []*texture.Image) float64 {
	step := max(1, len(m.Tri)/2000)
	var side []float64
	for t := 0; t < len(m.Tri); t += step {
		if p, ok := patchOf(m, images, uint32(t)); ok {
			side = append(side, p.texelM)
		}
	}
	if len(side) == 0 {
		return 0
	}
	return skin.Quantile(side, 0.5)
}
