package invent

import (
	"context"

	"mien/asset/mesh"
	"mien/asset/texture"
)

// dilation is how many texels the colour of a chart is carried beyond its edge.
const dilation = gutterTexels

// texels is a picture being baked, in linear light.
type texels struct {
	size  int
	light [][3]float32
	owner []int32 // triangle + 1 that covers the texel's centre, 0 for none, negative when carried over
}

// brush gives the linear light of a texel of triangle t: w are the weights of the corners at its centre,
// dx and dy how they change from one texel to the next.
type brush func(t int, w, dx, dy [3]float32) [3]float32

// bake fills an atlas of size by size texels by paint. A texel belongs to the triangle that covers its centre, the first of two.
func bake(ctx context.Context, m *mesh.Mesh, size int, paint brush) (*texels, error) {
	b := &texels{size: size, light: make([][3]float32, size*size), owner: make([]int32, size*size)}
	s := float64(size)
	for t, uv := range m.TriUV {
		if t&0xfff == 0 {
			if err := ctx.Err(); err != nil {
				return nil, err
			}
		}
		p, q, r := m.UV[uv[0]], m.UV[uv[1]], m.UV[uv[2]]
		ax, ay, bx, by, cx, cy := float64(p[0])*s, float64(p[1])*s, float64(q[0])*s, float64(q[1])*s, float64(r[0])*s, float64(r[1])*s
		double := (bx-ax)*(cy-ay) - (by-ay)*(cx-ax)
		if double == 0 {
			continue
		}
		dx := [3]float32{float32((by - cy) / double), float32((cy - ay) / double), float32((ay - by) / double)}
		dy := [3]float32{float32((cx - bx) / double), float32((ax - cx) / double), float32((bx - ax) / double)}
		x0, x1 := max(int(min(ax, bx, cx)+0.5), 0), min(int(max(ax, bx, cx)+0.5), size)
		y0, y1 := max(int(min(ay, by, cy)+0.5), 0), min(int(max(ay, by, cy)+0.5), size)
		for y := y0; y < y1; y++ {
			py := float64(y) + 0.5
			for x := x0; x < x1; x++ {
				px := float64(x) + 0.5
				wb := ((px-ax)*(cy-ay) - (py-ay)*(cx-ax)) / double
				wc := ((bx-ax)*(py-ay) - (by-ay)*(px-ax)) / double
				wa := 1 - wb - wc
				if wa < 0 || wb < 0 || wc < 0 {
					continue
				}
				at := y*size + x
				if b.owner[at] == 0 {
					b.owner[at] = int32(t + 1)
					b.light[at] = paint(t, [3]float32{float32(wa), float32(wb), float32(wc)}, dx, dy)
				}
			}
		}
	}
	b.dilate()
	return b, nil
}

// dilate carries colour into the gutters: each round an empty texel takes the mean of its full
// neighbours.
func (b *texels) dilate() {
	n := b.size
	type fill struct {
		at    int
		light [3]float32
	}
	var fills []fill
	for round := 0; round < dilation; round++ {
		fills = fills[:0]
		for y := 0; y < n; y++ {
			for x := 0; x < n; x++ {
				if b.owner[y*n+x] != 0 {
					continue
				}
				var sum [3]float32
				var count float32
				for dy := -1; dy <= 1; dy++ {
					for dx := -1; dx <= 1; dx++ {
						if yy, xx := y+dy, x+dx; yy >= 0 && yy < n && xx >= 0 && xx < n && b.owner[yy*n+xx] != 0 {
							l := b.light[yy*n+xx]
							sum[0], sum[1], sum[2] = sum[0]+l[0], sum[1]+l[1], sum[2]+l[2]
							count++
						}
					}
				}
				if count > 0 {
					fills = append(fills, fill{y*n + x, [3]float32{sum[0] / count, sum[1] / count, sum[2] / count}})
				}
			}
		}
		for _, f := range fills {
			b.owner[f.at], b.light[f.at] = -1, f.light
		}
	}
}

// image encodes the picture to 8-bit sRGB with grain: normal noise of the given standard deviation in
// 8-bit steps. Texels that no chart reaches stay a neutral grey.
func (b *texels) image(grain float64, r *random) *texture.Image {
	im := texture.New(b.size, b.size)
	for i, o := range b.owner {
		p := im.Pix[3*i : 3*i+3 : 3*i+3]
		if o == 0 {
			p[0], p[1], p[2] = 128, 128, 128
			continue
		}
		for k := range p {
			p[k] = texture.Encode8(b.light[i][k])
		}
		if grain > 0 {
			bits := r.next()
			for k := range p {
				// The sum of two bytes has mean 255 and standard deviation 104.5.
				sum := float64(bits&255 + bits>>8&255)
				bits >>= 16
				p[k] = uint8(min(max(float64(p[k])+(sum-255)/104.5*grain+0.5, 0), 255))
			}
		}
	}
	return im
}
