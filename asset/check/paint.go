package check

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"mien/asset/mesh"
	"mien/asset/texture"
)

// coordinates judges the texture coordinates by themselves.
func (v *viewer) coordinates() (out []Issue) {
	if v.m.TriUV == nil {
		return []Issue{issue("uv-missing", Warn, "uv", "none", "one per corner", "mesh has no texture coordinates: colour cannot be compared")}
	}
	outside := 0
	for _, tri := range v.m.TriUV {
		for _, i := range tri {
			u := v.m.UV[i]
			if u[0] < -1e-4 || u[0] > 1+1e-4 || u[1] < -1e-4 || u[1] > 1+1e-4 {
				outside++
				break
			}
		}
	}
	if outside > 0 {
		out = append(out, issue("uv-outside", byShare(outside, len(v.m.Tri), 0.001), "uv", fmt.Sprintf("%d triangles", outside), "0 to 1",
			"%d of %d triangles have texture coordinates outside 0 to 1", outside, len(v.m.Tri)))
	}
	return out
}

// Limits of a texture. Common practice, no source.
const (
	leastTexelsPerCM = 2.0  // below, ink of a few millimetres is lost
	blackLevel       = 10   // 8-bit levels that count as black
	mostBlack        = 0.95 // share of the surface
)

// textures judges each image of base colour over all that it paints.
func (v *viewer) textures() (out []Issue) {
	if v.m.TriUV == nil {
		return nil
	}
	n := max(len(v.m.MaterialSet), 1)
	byMaterial := make([][]int, n)
	for t := range v.m.Tri {
		if k := v.m.MaterialOf(t); k < n && v.person(t) {
			byMaterial[k] = append(byMaterial[k], t)
		}
	}
	var images []*texture.Image // each once, with all that it paints
	var names []string
	var painted [][]int
	for k, tris := range byMaterial {
		if len(tris) == 0 {
			continue
		}
		name := "base colour"
		if k < len(v.m.MaterialSet) && v.m.MaterialSet[k].Name != "" {
			name = fmt.Sprintf("base colour of %q", v.m.MaterialSet[k].Name)
		}
		if k >= len(v.s.BaseColor) || v.s.BaseColor[k] == nil {
			out = append(out, issue("texture-missing", Warn, name, "none", "an image", "%s: none", name))
			continue
		}
		i := slices.Index(images, v.s.BaseColor[k])
		if i < 0 {
			i = len(images)
			images, names, painted = append(images, v.s.BaseColor[k]), append(names, name), append(painted, nil)
		}
		painted[i] = append(painted[i], tris...)
	}
	for i, img := range images {
		out = append(out, v.texture(names[i], img, painted[i])...)
	}
	return out
}

func (v *viewer) texture(name string, img *texture.Image, tris []int) (out []Issue) {
	if d, ok := v.density(img, tris); ok && d < leastTexelsPerCM {
		out = append(out, issue("texture-coarse", Warn, name, fmt.Sprintf("%.1f texels per cm", d), fmt.Sprintf("at least %.0f", leastTexelsPerCM),
			"%s: %.1f texels per cm on the surface (%d x %d), allowed at least %.0f", name, d, img.W, img.H, leastTexelsPerCM))
	}
	black, blank, turned := v.lookUp(img, tris)
	if black > mostBlack {
		return append(out, issue("texture-black", Warn, name, fmt.Sprintf("%.0f %% black", black*100), fmt.Sprintf("under %.0f %%", mostBlack*100),
			"%s: %.0f %% of the surface is black", name, black*100))
	}
	if blank > 0.15 && turned < 0.35*blank {
		out = append(out, issue("uv-flipped", Warn, name, fmt.Sprintf("%.0f %% on unused texels", blank*100), "under 15 %",
			"%s: %.0f %% of the surface lies on unused texels, %.0f %% with V turned over: V origin?", name, blank*100, turned*100))
	}
	return out
}

// density returns the median of texels per centimetre over the surface.
func (v *viewer) density(img *texture.Image, tris []int) (perCM float64, ok bool) {
	type share struct{ d, a float64 }
	s := make([]share, 0, len(tris))
	var total float64
	for _, t := range tris {
		i := v.m.TriUV[t]
		a, b, c := v.m.UV[i[0]], v.m.UV[i[1]], v.m.UV[i[2]]
		x1, y1 := float64(b[0]-a[0])*float64(img.W), float64(b[1]-a[1])*float64(img.H)
		x2, y2 := float64(c[0]-a[0])*float64(img.W), float64(c[1]-a[1])*float64(img.H)
		if v.area[t] > 0 {
			s = append(s, share{math.Sqrt(math.Abs(x1*y2-x2*y1) / 2 / v.area[t]), v.area[t]})
			total += v.area[t]
		}
	}
	slices.SortFunc(s, func(x, y share) int { return cmp.Or(cmp.Compare(x.d, y.d), cmp.Compare(x.a, y.a)) })
	var run float64
	for _, e := range s {
		if run += e.a; run >= total/2 {
			return e.d / 100, true
		}
	}
	return 0, false
}

// lookUp returns the shares of the surface that look up a black texel, a texel of the image's unused
// colour, and one of the unused colour when V is turned over. The unused colour is the commonest exact
// colour of the image, if no surface needs that much of it.
func (v *viewer) lookUp(img *texture.Image, tris []int) (black, blank, turned float64) {
	unused, ok := commonest(img)
	var total float64
	for _, t := range tris {
		u := middleUV(v.m, t)
		a := v.area[t]
		total += a
		p := texel(img, u[0], u[1])
		if p[0] < blackLevel && p[1] < blackLevel && p[2] < blackLevel {
			black += a
		}
		if ok && p == unused {
			blank += a
		}
		if ok && texel(img, u[0], 1-u[1]) == unused {
			turned += a
		}
	}
	if total == 0 {
		return 0, 0, 0
	}
	return black / total, blank / total, turned / total
}

func middleUV(m *mesh.Mesh, t int) (u [2]float64) {
	for _, i := range m.TriUV[t] {
		u[0] += float64(m.UV[i][0]) / 3
		u[1] += float64(m.UV[i][1]) / 3
	}
	return u
}

func texel(img *texture.Image, u, v float64) [3]uint8 {
	x := min(max(int(u*float64(img.W)), 0), img.W-1)
	y := min(max(int(v*float64(img.H)), 0), img.H-1)
	i := 3 * (y*img.W + x)
	return [3]uint8{img.Pix[i], img.Pix[i+1], img.Pix[i+2]}
}

// commonest returns the exact colour that most sampled texels have, and whether it fills at least a
// twentieth of the image.
func commonest(img *texture.Image) (c [3]uint8, ok bool) {
	if img.W == 0 || img.H == 0 {
		return c, false
	}
	const grid = 200
	count := make(map[[3]uint8]int, 1024)
	best := 0
	for y := 0; y < grid; y++ {
		for x := 0; x < grid; x++ {
			p := texel(img, (float64(x)+0.5)/grid, (float64(y)+0.5)/grid)
			count[p]++
			if n := count[p]; n > best || n == best && less(p, c) {
				c, best = p, n
			}
		}
	}
	return c, best >= grid*grid/20
}

func less(a, b [3]uint8) bool {
	for k := range a {
		if a[k] != b[k] {
			return a[k] < b[k]
		}
	}
	return false
}
