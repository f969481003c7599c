package gltf

import (
	"bytes"
	"context"
	"image"
	"image/color"
	"image/png"
	"math"
	"testing"

	"mien/asset/mesh"
	"mien/asset/terms"
)

// globe returns a closed sphere of radius r m with a seam of texture coordinates, two materials by
// hemisphere and region labels.
func globe(r float64, rings, sectors int) *mesh.Mesh {
	m := &mesh.Mesh{MaterialSet: []mesh.Material{{Name: "skin", Class: uint8(terms.Skin)}, {Name: "hair", Class: uint8(terms.HairClass)}}}
	at := func(i, j int) uint32 {
		switch i {
		case 0:
			return 0
		case rings:
			return uint32(1 + (rings-1)*sectors)
		}
		return uint32(1 + (i-1)*sectors + j%sectors)
	}
	place := func(i, j int) [3]float32 {
		th, ph := math.Pi*float64(i)/float64(rings), 2*math.Pi*float64(j)/float64(sectors)
		return [3]float32{float32(r * math.Sin(th) * math.Sin(ph)), float32(r * math.Cos(th)), float32(r * math.Sin(th) * math.Cos(ph))}
	}
	m.Pos = append(m.Pos, place(0, 0))
	for i := 1; i < rings; i++ {
		for j := 0; j < sectors; j++ {
			m.Pos = append(m.Pos, place(i, j))
		}
	}
	m.Pos = append(m.Pos, place(rings, 0))
	for i := 0; i <= rings; i++ {
		for j := 0; j <= sectors; j++ {
			m.UV = append(m.UV, [2]float32{float32(j) / float32(sectors), float32(i) / float32(rings)})
		}
	}
	uv := func(i, j int) uint32 { return uint32(i*(sectors+1) + j) }
	face := func(i int, p, u [3]uint32) {
		m.Tri, m.TriUV = append(m.Tri, p), append(m.TriUV, u)
		mat := uint16(0)
		if i < rings/2 {
			mat = 1
		}
		m.Material = append(m.Material, mat)
	}
	for i := 0; i < rings; i++ {
		for j := 0; j < sectors; j++ {
			if i > 0 {
				face(i, [3]uint32{at(i, j), at(i+1, j), at(i, j+1)}, [3]uint32{uv(i, j), uv(i+1, j), uv(i, j+1)})
			}
			if i < rings-1 {
				face(i, [3]uint32{at(i, j+1), at(i+1, j), at(i+1, j+1)}, [3]uint32{uv(i, j+1), uv(i+1, j), uv(i+1, j+1)})
			}
		}
	}
	m.Label = make([]uint8, len(m.Pos))
	for i, p := range m.Pos {
		m.Label[i] = uint8(terms.Chin)
		if p[1] > 0 {
			m.Label[i] = uint8(terms.Scalp)
		}
	}
	return m
}

// picture returns a small PNG.
func picture(t testing.TB, c color.Color) []byte {
	t.Helper()
	im := image.NewRGBA(image.Rect(0, 0, 8, 8))
	for i := 0; i < 64; i++ {
		im.Set(i%8, i/8, c)
	}
	var b bytes.Buffer
	if err := png.Encode(&b, im); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func encode(t testing.TB, m *mesh.Mesh, o Options) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Encode(&b, m, o); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func decode(t testing.TB, data []byte) *File {
	t.Helper()
	f, err := Decode(context.Background(), "take.glb", data, nil)
	if err != nil {
		t.Fatal(err)
	}
	return f
}
