package picture

import (
	"math"

	"mien/asset/mesh"
	"mien/asset/texture"
)

// Colours of the sheet, linear light.
var (
	paper  = texture.LinearFromLab(texture.Lab{95.5, -0.2, 4.5})
	card   = texture.LinearFromLab(texture.Lab{98, 0.1, 2.4}) // the ground of a panel that crops
	clay   = texture.LinearFromLab(texture.Lab{80, 2, 8})
	inside = texture.LinearFromLab(texture.Lab{55, 1, 6}) // the back of a surface: an open scan's hollow
	inkCol = texture.LinearFromLab(texture.Lab{24, 1, 4})
	softer = texture.LinearFromLab(texture.Lab{52, 1, 5}) // secondary text
)

// Light directions in camera space: right, up, towards the eye.
var (
	keyLight  = mesh.Vec{-0.45, 0.62, 0.64}.Unit()
	fillLight = mesh.Vec{0.75, 0.1, 0.65}.Unit()
)

// reading is a value looked up among scattered points: the samples of one pixel share it.
type reading struct {
	value float64
	taken bool
}

// shade returns the linear light of sample (x, y), which sees a triangle; open is how much of the sky
// it sees, 0 to 1.
func (r *Renderer) shade(s *surface, x, y int, open float32, measured *reading) [3]float32 {
	m := r.scene.Mesh
	t := int(s.tri[y*s.w+x])
	b, facing := s.weights(m, x, y)
	c := m.Tri[t]
	var n, p mesh.Vec
	for k := range b {
		n = n.Add(r.normal[c[k]].Scale(b[k]))
		p = p.Add(m.At(c[k]).Scale(b[k]))
	}
	n = n.Unit()
	view := mesh.Vec{n.Dot(s.proj.right), n.Dot(s.proj.up), -n.Dot(s.proj.forward)}
	if !facing {
		return lit(inside, r.light(view.Scale(-1), open))
	}
	switch {
	case r.scene.Heat != nil:
		v := b[0]*float64(r.scene.Heat[c[0]]) + b[1]*float64(r.scene.Heat[c[1]]) + b[2]*float64(r.scene.Heat[c[2]])
		return lit(r.heat(v, x, y), r.heatLight(view, open))
	case r.scene.Points != nil:
		if !measured.taken {
			*measured = reading{r.scene.Points.At(p, n), true}
		}
		return lit(r.heat(measured.value, x, y), r.heatLight(view, open))
	}
	return lit(r.albedo(s, t, b), r.light(view, open))
}

// albedo returns the base colour at weights b of triangle t.
func (r *Renderer) albedo(s *surface, t int, b [3]float64) [3]float32 {
	m := r.scene.Mesh
	k := m.MaterialOf(t)
	if k >= len(r.mips) || r.mips[k] == nil {
		return clay
	}
	im := r.mips[k].Level[0]
	u := m.TriUV[t]
	q := [3][2]float64{}
	var at [2]float64
	for i := range u {
		q[i] = [2]float64{float64(m.UV[u[i]][0]), float64(m.UV[u[i]][1])}
		at[0] += b[i] * q[i][0]
		at[1] += b[i] * q[i][1]
	}
	texels := math.Abs((q[1][0]-q[0][0])*(q[2][1]-q[0][1])-(q[2][0]-q[0][0])*(q[1][1]-q[0][1])) * float64(im.W) * float64(im.H)
	e, _ := newEdges(s, m.Tri[t][0], m.Tri[t][1], m.Tri[t][2])
	return r.mips[k].SampleArea(at[0], at[1], math.Sqrt(texels*math.Abs(e.inverse)))
}

// heat returns the colour of measured value v at pixel (x, y): fine hatching where there is none.
func (r *Renderer) heat(v float64, x, y int) [3]float32 {
	if math.IsNaN(v) {
		if (x+y)/oversample%6 < 2 {
			return unseen
		}
		return heatTable[0][0]
	}
	return HeatColor(v, r.heatMax)
}

// light returns the light on a surface with normal n in camera space: a soft key, a fill, and a sky
// that hollows see less of.
func (r *Renderer) light(n mesh.Vec, open float32) float32 {
	if r.scene.Even {
		return float32(0.48+0.52*math.Max(0, 0.92*n[2]+0.25*n[1])) * (0.6 + 0.4*open)
	}
	key := math.Max(0, (n.Dot(keyLight)+0.15)/1.15)
	fill := math.Max(0, n.Dot(fillLight))
	sky := 0.5 + 0.5*n[1]
	return float32(0.62*key+0.14*fill) + float32(0.22+0.16*sky)*open
}

// heatLight shows shape without moving a colour far from its place on the legend.
func (r *Renderer) heatLight(n mesh.Vec, open float32) float32 {
	return float32(0.7+0.3*math.Max(0, n.Dot(keyLight)*0.45+n[2]*0.65)) * (0.75 + 0.25*open)
}

func lit(c [3]float32, e float32) [3]float32 {
	return [3]float32{c[0] * e, c[1] * e, c[2] * e}
}
