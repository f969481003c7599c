package picture

import (
	"bytes"
	"context"
	"image"
	"math"
	"testing"

	"mien/asset/mesh"
	"mien/asset/texture"
)

var front = Camera{Eye: mesh.Vec{0, 0, 2}, Up: mesh.Vec{0, 1, 0}, HeightM: 1}

func render(t *testing.T, s Scene, c Camera, w, h int) *image.RGBA {
	t.Helper()
	im, err := Render(context.Background(), s, c, w, h)
	if err != nil {
		t.Fatal(err)
	}
	return im
}

func covered(im *image.RGBA) (n int) {
	for i := 0; i < len(im.Pix); i += 4 {
		if im.Pix[i] != texture.Encode8(paper[0]) || im.Pix[i+2] != texture.Encode8(paper[2]) {
			n++
		}
	}
	return n
}

// A sphere of radius R fills a disc of pi R^2, and of the disc of its tangent cone in perspective.
func TestSilhouetteOfASphere(t *testing.T) {
	s := Scene{Mesh: sphere(mesh.Vec{}, 0.3, 90, 180)}
	im := render(t, s, front, 400, 400)
	if got, want := float64(covered(im)), math.Pi*120*120; math.Abs(got/want-1) > 0.015 {
		t.Errorf("orthographic: %v pixels, want %v", got, want)
	}
	keep(t, "sphere-clay.png", im)
	im = render(t, s, Camera{Eye: mesh.Vec{0, 0, 2}, Up: mesh.Vec{0, 1, 0}, FieldDegrees: 30}, 400, 400)
	r := 0.3 / math.Sqrt(4-0.09) * 200 / math.Tan(15*math.Pi/180)
	if got, want := float64(covered(im)), math.Pi*r*r; math.Abs(got/want-1) > 0.015 {
		t.Errorf("perspective: %v pixels, want %v", got, want)
	}
}

// join returns the triangles of both meshes as one mesh with a material each.
func join(a, b *mesh.Mesh) *mesh.Mesh {
	m := a.Clone()
	n := uint32(len(a.Pos))
	m.Pos = append(m.Pos, b.Pos...)
	for _, t := range b.Tri {
		m.Tri = append(m.Tri, [3]uint32{t[0] + n, t[1] + n, t[2] + n})
	}
	k := uint32(len(a.UV))
	m.UV = append(m.UV, b.UV...)
	for _, t := range b.TriUV {
		m.TriUV = append(m.TriUV, [3]uint32{t[0] + k, t[1] + k, t[2] + k})
	}
	m.Material = make([]uint16, len(m.Tri))
	for t := len(a.Tri); t < len(m.Tri); t++ {
		m.Material[t] = 1
	}
	m.MaterialSet = []mesh.Material{{Name: "a"}, {Name: "b"}}
	return m
}

func plain(c uint8) *texture.Image {
	return &texture.Image{W: 1, H: 1, Pix: []uint8{c, c, c}}
}

// The nearer of two spheres hides the other, in whichever order they stand in the mesh.
func TestTheNearerSurfaceShows(t *testing.T) {
	near, far := sphere(mesh.Vec{0, 0, 0.5}, 0.1, 30, 60), sphere(mesh.Vec{0, 0, -0.5}, 0.3, 30, 60)
	for i, m := range []*mesh.Mesh{join(near, far), join(far, near)} {
		colours := []*texture.Image{plain(20), plain(230)}
		if i == 1 {
			colours[0], colours[1] = colours[1], colours[0]
		}
		for _, c := range []Camera{front, {Eye: mesh.Vec{0, 0, 3}, Up: mesh.Vec{0, 1, 0}}} {
			im := render(t, Scene{Mesh: m, BaseColor: colours}, c, 100, 100)
			if v := im.RGBAAt(50, 50).R; v > 60 {
				t.Errorf("order %d: centre is %d, want the dark near sphere", i, v)
			}
			c.Eye[2] = -c.Eye[2]
			im = render(t, Scene{Mesh: m, BaseColor: colours}, c, 100, 100)
			if v := im.RGBAAt(50, 50).R; v < 150 {
				t.Errorf("order %d, from behind: centre is %d, want the bright far sphere", i, v)
			}
		}
	}
}

// The subject's left (+X) is on the right of a picture from the front; +Y is up.
func TestHandedness(t *testing.T) {
	m := sphere(mesh.Vec{0.3, 0.3, 0}, 0.1, 20, 40)
	im := render(t, Scene{Mesh: m}, front, 100, 100)
	if im.RGBAAt(80, 20) == im.RGBAAt(20, 80) || im.RGBAAt(20, 20) != im.RGBAAt(20, 80) {
		t.Error("the sphere is not at the upper right")
	}
	views := BodyViews(mesh.Vec{-0.5, -0.5, -0.5}, mesh.Vec{0.5, 0.5, 0.5})
	for i, at := range []image.Point{{77, 22}, {50, 22}, {22, 22}, {50, 22}} {
		im := render(t, Scene{Mesh: m}, views[i].Camera, 100, 100)
		if im.RGBAAt(at.X, at.Y).R == texture.Encode8(paper[0]) {
			t.Errorf("%s: nothing at %v", views[i].Name, at)
		}
	}
}

func TestSamePictureOnEveryRun(t *testing.T) {
	s := Scene{Mesh: sphere(mesh.Vec{}, 0.4, 60, 120), BaseColor: []*texture.Image{squares(256, 8)}}
	a, b := render(t, s, front, 200, 200), render(t, s, front, 200, 200)
	if !bytes.Equal(a.Pix, b.Pix) {
		t.Error("two runs differ")
	}
	keep(t, "sphere-squares.png", render(t, s, Camera{Eye: mesh.Vec{0.6, 0.8, 1.6}, Up: mesh.Vec{0, 1, 0}}, 400, 400))
}

// Heat by vertex and by scattered points of the same function look alike.
func TestHeatByVertexAndByPoints(t *testing.T) {
	m := sphere(mesh.Vec{}, 0.4, 120, 240)
	value := make([]float32, len(m.Pos))
	for i, p := range m.Pos {
		value[i] = 8 * p[0]
		if p[1] > 0.3 {
			value[i] = float32(math.NaN())
		}
	}
	byVertex := render(t, Scene{Mesh: m, Heat: value, HeatMax: 3}, front, 300, 300)
	byPoints := render(t, Scene{Mesh: sphere(mesh.Vec{}, 0.4, 40, 80), Points: NewPoints(m.Pos, nil, value, 0.01), HeatMax: 3}, front, 300, 300)
	keep(t, "sphere-heat.png", byVertex)
	keep(t, "sphere-points.png", byPoints)
	for y := 90; y < 230; y += 7 {
		for x := 60; x < 240; x += 7 {
			a, b := byVertex.RGBAAt(x, y), byPoints.RGBAAt(x, y)
			if d := texture.DE00(texture.LabFromSRGB8(a.R, a.G, a.B), texture.LabFromSRGB8(b.R, b.G, b.B)); d > 3 {
				t.Errorf("pixel %d,%d: %.1f dE00 apart", x, y, d)
			}
		}
	}
}

// What stands before the surface is cut away in a facing view.
func TestFacingCutsWhatStandsBefore(t *testing.T) {
	m := join(sphere(mesh.Vec{0, 0, 0}, 0.2, 30, 60), sphere(mesh.Vec{0, 0, 0.6}, 0.2, 30, 60))
	s := Scene{Mesh: m, BaseColor: []*texture.Image{plain(20), plain(230)}}
	im := render(t, s, Facing(mesh.Vec{0, 0, 0.2}, mesh.Vec{0, 0, 1}, 0.2), 100, 100)
	if v := im.RGBAAt(50, 50).R; v > 60 {
		t.Errorf("centre is %d, want the dark sphere behind", v)
	}
}

func TestRenderRefuses(t *testing.T) {
	m := sphere(mesh.Vec{}, 0.4, 6, 8)
	if _, err := Render(context.Background(), Scene{Mesh: m}, front, 0, 10); err == nil {
		t.Error("no width: no error")
	}
	if _, err := Render(context.Background(), Scene{Mesh: m, Heat: []float32{1}}, front, 10, 10); err == nil {
		t.Error("one value: no error")
	}
	ctx, stop := context.WithCancel(context.Background())
	stop()
	if _, err := Render(ctx, Scene{Mesh: m}, front, 10, 10); err != context.Canceled {
		t.Errorf("cancelled: %v", err)
	}
}
