package scan

import (
	"bytes"
	"context"
	"math"
	"strings"
	"testing"

	"mien/asset/gltf"
	"mien/asset/terms"
	"mien/asset/texture"
)

// A base colour factor of one half in linear light takes sRGB 200 to the code of half its light.
func TestTint(t *testing.T) {
	data := glb(t, box(0.3), gltf.Options{Images: []*gltf.Image{{Data: flat(t, 200, 200, 200)}}})
	from := []byte(`"pbrMetallicRoughness":{`)
	to := []byte(`"pbrMetallicRoughness":{"baseColorFactor":[0.5,1,1,1],`)
	at := bytes.Index(data, from)
	if at < 0 {
		t.Fatal("no material")
	}
	edited := append(append(append([]byte{}, data[:at]...), to...), data[at+len(from):]...)
	// The JSON chunk grew by a multiple of four less its old padding: rewrite both lengths.
	end := bytes.Index(edited, []byte("BIN\x00")) - 4
	text := bytes.TrimRight(edited[20:end], " ")
	for len(text)%4 != 0 {
		text = append(text, ' ')
	}
	tail := append([]byte{}, edited[end:]...)
	whole := append(append(append([]byte{}, data[:12]...), le(len(text))...), "JSON"...)
	whole = append(append(whole, text...), tail...)
	copy(whole[8:], le(len(whole)))
	s, err := LoadFile(context.Background(), write(t, t.TempDir(), "head.glb", whole), Options{})
	if err != nil {
		t.Fatal(err)
	}
	want := math.Round(255 * texture.EncodeSRGB(0.5*texture.DecodeSRGB(200.0/255)))
	if p := s.BaseColor[0].Pix; float64(p[0]) != want || p[1] != 200 {
		t.Errorf("got %v, want %v 200 200", p[:3], want)
	}
	if !strings.Contains(strings.Join(s.Notes, "\n"), "multiplied by 0.5 1 1") {
		t.Errorf("notes %q", s.Notes)
	}
}

func le(n int) []byte { return []byte{byte(n), byte(n >> 8), byte(n >> 16), byte(n >> 24)} }

func TestBrokenPictureIsAnError(t *testing.T) {
	png := flat(t, 1, 2, 3)
	p := write(t, t.TempDir(), "head.glb", glb(t, box(0.3), gltf.Options{Images: []*gltf.Image{{Data: png[:len(png)-20]}}}))
	if _, err := LoadFile(context.Background(), p, Options{}); err == nil || !strings.Contains(err.Error(), "head.glb") {
		t.Errorf("got %v", err)
	}
}

func TestUnknownRegionsAreCleared(t *testing.T) {
	m := box(0.3)
	m.Label[2] = 200
	s, err := LoadFile(context.Background(), write(t, t.TempDir(), "head.glb", glb(t, m, gltf.Options{})), Options{})
	if err != nil || s.Mesh.Label[2] != 0 || s.Mesh.Label[1] != uint8(terms.Chest) || len(s.Notes) == 0 {
		t.Fatalf("%v, labels %v", err, s.Mesh.Label)
	}
	for i := range m.Label {
		m.Label[i] = 0
	}
	s, err = LoadFile(context.Background(), write(t, t.TempDir(), "head.glb", glb(t, m, gltf.Options{})), Options{})
	if err != nil || s.Labels != LabelsNone || s.Mesh.Label != nil {
		t.Errorf("%v: labels %q", err, s.Labels)
	}
}
