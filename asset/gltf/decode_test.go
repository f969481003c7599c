package gltf

import (
	"context"
	"encoding/base64"
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"
)

// glb wraps a JSON text and a binary chunk.
func glb(text string, bin []byte) []byte {
	for len(text)%4 != 0 {
		text += " "
	}
	for len(bin)%4 != 0 {
		bin = append(bin, 0)
	}
	out := binary.LittleEndian.AppendUint32([]byte("glTF"), 2)
	out = binary.LittleEndian.AppendUint32(out, uint32(12+8+len(text)+8+len(bin)))
	out = binary.LittleEndian.AppendUint32(out, uint32(len(text)))
	out = append(append(out, "JSON"...), text...)
	out = binary.LittleEndian.AppendUint32(out, uint32(len(bin)))
	return append(append(out, "BIN\x00"...), bin...)
}

func floatBytes(v ...float32) (out []byte) {
	for _, x := range v {
		out = float(out, x)
	}
	return out
}

func shortBytes(v ...int16) (out []byte) {
	for _, x := range v {
		out = binary.LittleEndian.AppendUint16(out, uint16(x))
	}
	return out
}

// The tetrahedron (0,0,0), (1,0,0), (0,1,0), (0,0,1) has volume 1/6 when it faces outside.
var (
	cornerPos   = []float32{0, 0, 0, 1, 0, 0, 0, 1, 0, 0, 0, 1}
	cornerIndex = []uint32{0, 2, 1, 0, 1, 3, 0, 3, 2, 1, 2, 3}
)

// tetra writes a file of the tetrahedron: indices of the given component type, and what node says.
func tetra(component int, node, rest string) []byte {
	bin := floatBytes(cornerPos...)
	for _, i := range cornerIndex {
		switch component {
		case 5121:
			bin = append(bin, byte(i))
		case 5123:
			bin = binary.LittleEndian.AppendUint16(bin, uint16(i))
		default:
			bin = binary.LittleEndian.AppendUint32(bin, i)
		}
	}
	return glb(fmt.Sprintf(`{"asset":{"version":"2.0"},"scene":0,"scenes":[{"nodes":[0]}],"nodes":[{"mesh":0%s}],
		"meshes":[{"primitives":[{"attributes":{"POSITION":0},"indices":1}]}],
		"accessors":[{"bufferView":0,"componentType":5126,"count":4,"type":"VEC3","min":[0,0,0],"max":[1,1,1]},{"bufferView":1,"componentType":%d,"count":12,"type":"SCALAR"}],
		"bufferViews":[{"buffer":0,"byteLength":48},{"buffer":0,"byteOffset":48,"byteLength":%d}],"buffers":[{"byteLength":%d}]%s}`,
		node, component, len(bin)-48, len(bin), rest), bin)
}

func volume(t *testing.T, data []byte, want float64) *File {
	t.Helper()
	f := decode(t, data)
	if len(f.Mesh.Pos) != 4 || len(f.Mesh.Tri) != 4 {
		t.Errorf("%d vertices, %d triangles, want 4 and 4", len(f.Mesh.Pos), len(f.Mesh.Tri))
	}
	if v := f.Mesh.Volume(); math.Abs(v-want) > 1e-4*want {
		t.Errorf("volume %v, want %v", v, want)
	}
	return f
}

func TestIndexTypes(t *testing.T) {
	for _, c := range []int{5121, 5123, 5125} {
		volume(t, tetra(c, "", ""), 1.0/6)
	}
}

// A mirrored node is legal and keeps the surface facing outside: the volume stays positive.
func TestNodeTransforms(t *testing.T) {
	for node, want := range map[string]float64{
		`,"scale":[-1,1,1]`: 1.0 / 6, `,"scale":[2,3,4]`: 4, `,"scale":[-2,-2,-2]`: 8.0 / 6,
		`,"rotation":[0,0.7071068,0,0.7071068],"translation":[5,6,7]`: 1.0 / 6,
		`,"matrix":[0,1,0,0, 1,0,0,0, 0,0,1,0, 3,3,3,1]`:              1.0 / 6,
	} {
		volume(t, tetra(5123, node, ""), want)
	}
	f := decode(t, tetra(5123, `,"rotation":[0,0.70710678,0,0.70710678],"translation":[5,6,7]`, ""))
	if p := f.Mesh.Pos[1]; math.Hypot(float64(p[0])-5, float64(p[2])-6) > 1e-6 { // +X turns to -Z about +Y
		t.Errorf("(1,0,0) goes to %v, want 5 6 6", p)
	}
}

func TestChildrenInheritTheirParents(t *testing.T) {
	data := []byte(strings.Replace(string(tetra(5123, "", "")), `"nodes":[{"mesh":0}]`, `"nodes":[{"mesh":0}]`, 1))
	f := decode(t, data)
	text := `{"asset":{"version":"2.0"},"scenes":[{"nodes":[1]}],"nodes":[{"mesh":0,"scale":[2,2,2]},{"children":[0],"translation":[1,0,0]}],
		"meshes":[{"primitives":[{"attributes":{"POSITION":0}}]}],"accessors":[{"bufferView":0,"componentType":5126,"count":3,"type":"VEC3"}],
		"bufferViews":[{"buffer":0,"byteLength":36}],"buffers":[{"byteLength":36}]}`
	g := decode(t, glb(text, floatBytes(0, 0, 0, 1, 0, 0, 0, 1, 0)))
	if got := g.Mesh.Pos[1]; got != [3]float32{3, 0, 0} {
		t.Errorf("got %v, want 3 0 0", got)
	}
	if len(f.Notes)+len(g.Notes) != 0 {
		t.Errorf("notes %q %q", f.Notes, g.Notes)
	}
}

func TestMeshOutsideTheShownScene(t *testing.T) {
	for text, note := range map[string]string{
		`"scene":0,"scenes":[{},{"nodes":[0]}]`: "scene 0 is empty, scene 1 is read",
		`"scene":0,"scenes":[{}]`:               "no scene holds a mesh",
		`"extras":{}`:                           "no scene holds a mesh",
	} {
		data := strings.Replace(string(tetra(5123, "", "")), `"scene":0,"scenes":[{"nodes":[0]}]`, text, 1)
		f := volume(t, reglb(t, data), 1.0/6)
		if len(f.Notes) != 1 || !strings.HasPrefix(f.Notes[0], note) {
			t.Errorf("%s: notes %q, want %q", text, f.Notes, note)
		}
	}
}

// reglb repairs the lengths of a file whose JSON text was edited.
func reglb(t *testing.T, data string) []byte {
	t.Helper()
	at := strings.Index(data, "BIN\x00")
	return glb(data[20:at-4], []byte(data[at+4:]))
}

// One position in each of the ways that a file may hold it: the tetrahedron's volume is the judge.
func TestPositionEncodings(t *testing.T) {
	index := []byte{0, 2, 1, 0, 1, 3, 0, 3, 2, 1, 2, 3}
	mesh := `"meshes":[{"primitives":[{"attributes":{"POSITION":0},"indices":1}]}]`
	head := `{"asset":{"version":"2.0"},"scenes":[{"nodes":[0]}],` + mesh
	indices := `{"bufferView":0,"componentType":5121,"count":12,"type":"SCALAR"}`
	t.Run("interleaved", func(t *testing.T) {
		var bin []byte
		for i := 0; i < 12; i += 3 {
			bin = append(bin, floatBytes(9, cornerPos[i], cornerPos[i+1], cornerPos[i+2], 9)...)
		}
		volume(t, glb(head+`,"nodes":[{"mesh":0}],"accessors":[{"bufferView":1,"byteOffset":4,"componentType":5126,"count":4,"type":"VEC3"},`+indices+`],
			"bufferViews":[{"buffer":0,"byteLength":12},{"buffer":0,"byteOffset":12,"byteLength":80,"byteStride":20}],"buffers":[{"byteLength":92}]}`, append(index, bin...)), 1.0/6)
	})
	t.Run("normalised shorts", func(t *testing.T) {
		var bin []byte
		for i := 0; i < 12; i += 3 {
			bin = append(bin, shortBytes(int16(cornerPos[i]*32767), int16(cornerPos[i+1]*32767), int16(cornerPos[i+2]*32767), 0)...)
		}
		volume(t, glb(head+`,"nodes":[{"mesh":0,"scale":[2,2,2]}],"extensionsUsed":["KHR_mesh_quantization"],"extensionsRequired":["KHR_mesh_quantization"],
			"accessors":[{"bufferView":1,"componentType":5122,"normalized":true,"count":4,"type":"VEC3"},`+indices+`],
			"bufferViews":[{"buffer":0,"byteLength":12},{"buffer":0,"byteOffset":12,"byteLength":32,"byteStride":8}],"buffers":[{"byteLength":44}]}`, append(index, bin...)), 8.0/6)
	})
	t.Run("bytes", func(t *testing.T) {
		var bin []byte
		for i := 0; i < 12; i += 3 {
			bin = append(bin, byte(cornerPos[i])*10, byte(cornerPos[i+1])*10, byte(cornerPos[i+2])*10, 0)
		}
		volume(t, glb(head+`,"nodes":[{"mesh":0,"scale":[0.1,0.1,0.1]}],"extensionsRequired":["KHR_mesh_quantization"],
			"accessors":[{"bufferView":1,"componentType":5121,"count":4,"type":"VEC3"},`+indices+`],
			"bufferViews":[{"buffer":0,"byteLength":12},{"buffer":0,"byteOffset":12,"byteLength":16,"byteStride":4}],"buffers":[{"byteLength":28}]}`, append(index, bin...)), 1.0/6)
	})
	t.Run("sparse", func(t *testing.T) { // three of four positions replace zeros
		bin := append(append([]byte{}, index...), 1, 2, 3, 0)
		bin = append(bin, floatBytes(cornerPos[3:]...)...)
		volume(t, glb(head+`,"nodes":[{"mesh":0}],"accessors":[{"componentType":5126,"count":4,"type":"VEC3",
			"sparse":{"count":3,"indices":{"bufferView":1,"componentType":5121},"values":{"bufferView":2}}},`+indices+`],
			"bufferViews":[{"buffer":0,"byteLength":12},{"buffer":0,"byteOffset":12,"byteLength":3},{"buffer":0,"byteOffset":16,"byteLength":36}],"buffers":[{"byteLength":52}]}`, bin), 1.0/6)
	})
}

// A strip and a fan of four corners are two triangles that face the same way.
func TestStripAndFan(t *testing.T) {
	for mode, pos := range map[int][]float32{
		5: {0, 0, 0, 1, 0, 0, 0, 1, 0, 1, 1, 0}, 6: {0, 0, 0, 1, 0, 0, 1, 1, 0, 0, 1, 0},
	} {
		f := decode(t, glb(fmt.Sprintf(`{"asset":{"version":"2.0"},"scenes":[{"nodes":[0]}],"nodes":[{"mesh":0}],
			"meshes":[{"primitives":[{"mode":%d,"attributes":{"POSITION":0}}]}],"accessors":[{"bufferView":0,"componentType":5126,"count":4,"type":"VEC3"}],
			"bufferViews":[{"buffer":0,"byteLength":48}],"buffers":[{"byteLength":48}]}`, mode), floatBytes(pos...)))
		if len(f.Mesh.Tri) != 2 || f.Mesh.Area() != 1 {
			t.Fatalf("mode %d: %d triangles, area %v", mode, len(f.Mesh.Tri), f.Mesh.Area())
		}
		for i := range f.Mesh.Tri {
			if n := f.Mesh.FaceNormal(i); n[2] != 1 {
				t.Errorf("mode %d: triangle %d faces %v, want +Z", mode, i, n)
			}
		}
	}
}

func TestTextureTransform(t *testing.T) {
	bin := append(floatBytes(0, 0, 0, 1, 0, 0, 0, 1, 0), floatBytes(0, 0, 1, 0, 0, 1)...)
	f := decode(t, glb(`{"asset":{"version":"2.0"},"scenes":[{"nodes":[0]}],"nodes":[{"mesh":0}],"extensionsUsed":["KHR_texture_transform"],
		"meshes":[{"primitives":[{"attributes":{"POSITION":0,"TEXCOORD_1":1},"material":0}]}],
		"materials":[{"pbrMetallicRoughness":{"baseColorTexture":{"index":0,"extensions":{"KHR_texture_transform":{"offset":[0.5,0.25],"scale":[0.5,2],"texCoord":1}}}}}],
		"textures":[{}],"accessors":[{"bufferView":0,"componentType":5126,"count":3,"type":"VEC3"},{"bufferView":1,"componentType":5126,"count":3,"type":"VEC2"}],
		"bufferViews":[{"buffer":0,"byteLength":36},{"buffer":0,"byteOffset":36,"byteLength":24}],"buffers":[{"byteLength":60}]}`, bin))
	for i, want := range [][2]float32{{0.5, 0.25}, {1, 0.25}, {0.5, 2.25}} {
		if f.Mesh.UV[i] != want {
			t.Errorf("coordinate %d is %v, want %v", i, f.Mesh.UV[i], want)
		}
	}
}

// A JSON file with a buffer in a data URI and one beside it.
func TestTextFiles(t *testing.T) {
	bin := append(floatBytes(cornerPos...), 0, 2, 1, 0, 1, 3, 0, 3, 2, 1, 2, 3)
	text := `{"asset":{"version":"2.0"},"scenes":[{"nodes":[0]}],"nodes":[{"mesh":0}],"meshes":[{"primitives":[{"attributes":{"POSITION":0},"indices":1}]}],
		"accessors":[{"bufferView":0,"componentType":5126,"count":4,"type":"VEC3"},{"bufferView":1,"componentType":5121,"count":12,"type":"SCALAR"}],
		"bufferViews":[{"buffer":0,"byteLength":48},{"buffer":0,"byteOffset":48,"byteLength":12}],"buffers":[{"byteLength":60,"uri":"` + "%s" + `"}]}`
	volume(t, []byte(fmt.Sprintf(text, "data:application/octet-stream;base64,"+base64.StdEncoding.EncodeToString(bin))), 1.0/6)
	beside := fstest.MapFS{"geo/a b.bin": {Data: bin}}
	f, err := Decode(context.Background(), "take.gltf", []byte(fmt.Sprintf(text, "geo/a%20b.bin")), beside)
	if err != nil || len(f.Beside) != 1 || f.Beside[0] != "geo/a b.bin" {
		t.Errorf("beside: %v, %v", f, err)
	}
	for _, uri := range []string{"../secret.bin", "/etc/passwd", "geo/../../x.bin", "file:///etc/passwd", "https://example.org/x.bin", "gone.bin", `..\\x.bin`} {
		if _, err := Decode(context.Background(), "take.gltf", []byte(fmt.Sprintf(text, uri)), beside); err == nil {
			t.Errorf("%s: read", uri)
		}
	}
}

func TestOpenStaysInTheFolder(t *testing.T) {
	dir := t.TempDir()
	if err := os.Mkdir(filepath.Join(dir, "in"), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "secret.bin"), make([]byte, 48), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink("../secret.bin", filepath.Join(dir, "in", "link.bin")); err != nil {
		t.Fatal(err)
	}
	text := `{"asset":{"version":"2.0"},"scenes":[{"nodes":[0]}],"nodes":[{"mesh":0}],"meshes":[{"primitives":[{"attributes":{"POSITION":0}}]}],
		"accessors":[{"bufferView":0,"componentType":5126,"count":3,"type":"VEC3"}],"bufferViews":[{"buffer":0,"byteLength":36}],"buffers":[{"byteLength":48,"uri":"link.bin"}]}`
	p := filepath.Join(dir, "in", "take.gltf")
	if err := os.WriteFile(p, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(context.Background(), p); err == nil || !strings.Contains(err.Error(), "link.bin") {
		t.Errorf("a link out of the folder: %v", err)
	}
}

// Two nodes that show one mesh move it each from where it stands.
func TestOneMeshInTwoPlaces(t *testing.T) {
	text := strings.Replace(string(tetra(5125, "", "")), `"scenes":[{"nodes":[0]}],"nodes":[{"mesh":0}]`,
		`"scenes":[{"nodes":[0,1]}],"nodes":[{"mesh":0,"translation":[10,0,0]},{"mesh":0,"translation":[0,5,0]}]`, 1)
	m := decode(t, reglb(t, text)).Mesh
	if len(m.Pos) != 8 || len(m.Tri) != 8 {
		t.Fatalf("%d vertices, %d triangles, want 8 and 8", len(m.Pos), len(m.Tri))
	}
	for i := range 4 {
		a, b := m.Pos[i], m.Pos[4+i]
		if [3]float32{a[0] - 10, a[1], a[2]} != [3]float32{b[0], b[1] - 5, b[2]} || a[0] < 10 || b[1] < 5 || b[0] > 1 {
			t.Errorf("corner %d at %v and %v", i, a, b)
		}
	}
	if m.Tri[4][0] != m.Tri[0][0]+4 {
		t.Errorf("triangles %v", m.Tri)
	}
}
