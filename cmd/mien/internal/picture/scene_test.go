package picture

import (
	"image"
	"image/png"
	"math"
	"os"
	"path/filepath"
	"testing"

	"mien/asset/mesh"
	"mien/asset/texture"
)

// sphere returns a sphere of radius r m around c, with texture coordinates by longitude and latitude.
func sphere(c mesh.Vec, r float64, rings, sectors int) *mesh.Mesh {
	m := &mesh.Mesh{}
	at := func(i, j int) uint32 {
		if i == 0 {
			return 0
		}
		if i == rings {
			return uint32(1 + (rings-1)*sectors)
		}
		return uint32(1 + (i-1)*sectors + j%sectors)
	}
	add := func(i, j int) {
		th, ph := math.Pi*float64(i)/float64(rings), 2*math.Pi*float64(j)/float64(sectors)
		m.Pos = append(m.Pos, [3]float32{float32(c[0] + r*math.Sin(th)*math.Sin(ph)), float32(c[1] + r*math.Cos(th)), float32(c[2] + r*math.Sin(th)*math.Cos(ph))})
	}
	add(0, 0)
	for i := 1; i < rings; i++ {
		for j := 0; j < sectors; j++ {
			add(i, j)
		}
	}
	add(rings, 0)
	for i := 0; i <= rings; i++ {
		for j := 0; j <= sectors; j++ {
			m.UV = append(m.UV, [2]float32{float32(j) / float32(sectors), float32(i) / float32(rings)})
		}
	}
	uv := func(i, j int) uint32 { return uint32(i*(sectors+1) + j) }
	for i := 0; i < rings; i++ {
		for j := 0; j < sectors; j++ {
			if i > 0 {
				m.Tri = append(m.Tri, [3]uint32{at(i, j), at(i+1, j), at(i, j+1)})
				m.TriUV = append(m.TriUV, [3]uint32{uv(i, j), uv(i+1, j), uv(i, j+1)})
			}
			if i < rings-1 {
				m.Tri = append(m.Tri, [3]uint32{at(i, j+1), at(i+1, j), at(i+1, j+1)})
				m.TriUV = append(m.TriUV, [3]uint32{uv(i, j+1), uv(i+1, j), uv(i+1, j+1)})
			}
		}
	}
	return m
}

// squares returns a picture of n by n squares in two skin-like colours.
func squares(size, n int) *texture.Image {
	im := texture.New(size, size)
	for y := 0; y < size; y++ {
		for x := 0; x < size; x++ {
			c := [3]uint8{205, 160, 132}
			if (x*n/size+y*n/size)%2 == 1 {
				c = [3]uint8{120, 84, 70}
			}
			copy(im.Pix[3*(y*size+x):], c[:])
		}
	}
	return im
}

// keep writes a picture where MIEN_PICTURES names a folder, to be looked at.
func keep(t *testing.T, name string, im image.Image) {
	t.Helper()
	dir := os.Getenv("MIEN_PICTURES")
	if dir == "" {
		return
	}
	f, err := os.Create(filepath.Join(dir, name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := png.Encode(f, im); err != nil {
		t.Fatal(err)
	}
}
