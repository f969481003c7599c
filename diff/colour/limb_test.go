package colour

import (
	"context"
	"math"
	"testing"

	"mien/asset/mesh"
	"mien/asset/scan"
	"mien/asset/terms"
	"mien/asset/texture"
	"mien/diff/surface"
)

// limb is a cylinder about +Y, 5 cm in radius and 36 cm long, with its own triangles and atlas.
type limb struct {
	around, along int     // triangles
	seam          float64 // where the atlas is cut, radians
	flip          bool    // atlas runs the other way round
	size          int     // texels a side
	scale         float64 // of the finished mesh, 0 for 1
	colour        func(theta, y float64) texture.Lab
	light         func(theta, y float64) [3]float64 // factor a channel, nil for 1
}

const limbRadius, limbLength = 0.05, 0.36

func (l limb) scan() *scan.Scan {
	m := &mesh.Mesh{MaterialSet: []mesh.Material{{Name: "skin", Class: uint8(terms.Skin)}}}
	for j := 0; j <= l.along; j++ {
		for i := 0; i < l.around; i++ {
			th := 2 * math.Pi * float64(i) / float64(l.around)
			m.Pos = append(m.Pos, [3]float32{float32(limbRadius * math.Sin(th)), float32(limbLength * float64(j) / float64(l.along)), float32(limbRadius * math.Cos(th))})
			m.Label = append(m.Label, uint8(terms.ForearmLeft))
		}
	}
	// The atlas has its own columns: one more than positions, beginning at the seam's column.
	first := int(l.seam / (2 * math.Pi) * float64(l.around))
	for j := 0; j <= l.along; j++ {
		for i := 0; i <= l.around; i++ {
			u := float64(i) / float64(l.around)
			if l.flip {
				u = 1 - u
			}
			m.UV = append(m.UV, [2]float32{float32(u), float32(1 - float64(j)/float64(l.along))})
		}
	}
	for j := 0; j < l.along; j++ {
		for k := 0; k < l.around; k++ {
			i := (first + k) % l.around
			i1 := (i + 1) % l.around
			a, b := uint32(j*l.around+i), uint32(j*l.around+i1)
			c, d := a+uint32(l.around), b+uint32(l.around)
			m.Tri = append(m.Tri, [3]uint32{a, b, d}, [3]uint32{a, d, c})
			ua := uint32(j*(l.around+1) + k)
			uc := ua + uint32(l.around+1)
			m.TriUV = append(m.TriUV, [3]uint32{ua, ua + 1, uc + 1}, [3]uint32{ua, uc + 1, uc})
		}
	}
	for i := range m.Pos {
		for k := range m.Pos[i] {
			m.Pos[i][k] *= float32(max(l.scale, 1))
		}
	}
	im := texture.New(l.size, l.size)
	cut := 2 * math.Pi * float64(first) / float64(l.around)
	for y := 0; y < l.size; y++ {
		for x := 0; x < l.size; x++ {
			u, v := (float64(x)+0.5)/float64(l.size), (float64(y)+0.5)/float64(l.size)
			if l.flip {
				u = 1 - u
			}
			th := math.Remainder(cut+2*math.Pi*u, 2*math.Pi)
			h := (1 - v) * limbLength
			rgb := texture.LinearFromLab(l.colour(th, h))
			for c := range rgb {
				f := 1.0
				if l.light != nil {
					f = l.light(th, h)[c]
				}
				im.Pix[3*(y*l.size+x)+c] = texture.Encode8(rgb[c] * float32(f))
			}
		}
	}
	return &scan.Scan{Name: "limb", Mesh: m, BaseColor: []*texture.Image{im}}
}

var bareSkin = texture.Lab{62, 14, 17}

// skinTone is skin with a slow mottle.
func skinTone(th, y float64) texture.Lab {
	c := bareSkin
	c[0] += 0.6 * math.Sin(9*th+40*y) * math.Cos(150*y)
	return c
}

// disc paints a round patch of radius r metres at (th0, y0), darker by dL.
func disc(base func(th, y float64) texture.Lab, th0, y0, r, dL float64) func(th, y float64) texture.Lab {
	return func(th, y float64) texture.Lab {
		c := base(th, y)
		d := math.Hypot(math.Remainder(th-th0, 2*math.Pi)*limbRadius, y-y0)
		cover := min(1, max(0, (r-d)/0.0005+0.5))
		c[0] -= dL * cover
		c[2] -= 0.4 * dL * cover
		return c
	}
}

func oldLimb(colour func(th, y float64) texture.Lab) limb {
	return limb{around: 48, along: 52, seam: 0, size: 256, colour: colour}
}

func newLimb(colour func(th, y float64) texture.Lab) limb {
	return limb{around: 61, along: 47, seam: 2.2, flip: true, size: 300, colour: colour}
}

func fields(t testing.TB, old, new *mesh.Mesh, spacingMm float64) (newToOld, oldToNew *surface.Field) {
	t.Helper()
	ctx := context.Background()
	a, err := surface.NewSide(ctx, old)
	if err != nil {
		t.Fatal(err)
	}
	b, err := surface.NewSide(ctx, new)
	if err != nil {
		t.Fatal(err)
	}
	o := surface.Options{SpacingMm: spacingMm}
	if newToOld, err = surface.Measure(ctx, b, a, o); err != nil {
		t.Fatal(err)
	}
	o.FromIsOld = true
	if oldToNew, err = surface.Measure(ctx, a, b, o); err != nil {
		t.Fatal(err)
	}
	return newToOld, oldToNew
}

func compareLimbs(t testing.TB, old, new limb) *Output {
	t.Helper()
	a, b := old.scan(), new.scan()
	n, o := fields(t, a.Mesh, b.Mesh, 2)
	out, err := Compare(context.Background(), Input{Old: a, New: b, NewToOld: n, OldToNew: o})
	if err != nil {
		t.Fatal(err)
	}
	return out
}
