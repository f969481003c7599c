package gltf

import (
	"encoding/json"
	"image/color"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"mien/asset/mesh"
)

// validate runs the Khronos validator's npm package, whose folder the environment names, over the file
// given as the last argument.
const validate = `
const v = require(process.argv[1]);
v.validateBytes(new Uint8Array(require('fs').readFileSync(process.argv[2]))).then(
  (r) => process.stdout.write(JSON.stringify(r.issues)));
`

func TestEncodedFilesAreValid(t *testing.T) {
	folder := os.Getenv("MIEN_GLTF_VALIDATOR")
	if folder == "" {
		t.Skip("MIEN_GLTF_VALIDATOR does not name the folder of the npm package gltf-validator")
	}
	node, err := exec.LookPath("node")
	if err != nil {
		t.Skip("node is missing")
	}
	whole := globe(0.12, 40, 60)
	large := globe(0.12, 200, 400)
	bare := whole.Clone()
	bare.UV, bare.TriUV, bare.Label, bare.Material, bare.MaterialSet = nil, nil, nil, nil, nil
	thin := &mesh.Mesh{Pos: [][3]float32{{0, 0, 0}, {1, 0, 0}, {2, 0, 0}}, Tri: [][3]uint32{{0, 1, 2}}} // no area, no normal
	colours := make([][4]uint8, len(whole.Pos))
	picture := &Image{Name: "base", Data: picture(t, color.White)}
	for name, data := range map[string][]byte{
		"pictures": encode(t, whole, Options{Images: []*Image{picture, picture}}),
		"large":    encode(t, large, Options{Images: []*Image{nil, picture}}),
		"colours":  encode(t, whole, Options{Color: colours}),
		"bare":     encode(t, bare, Options{}),
		"thin":     encode(t, thin, Options{}),
	} {
		file := filepath.Join(t.TempDir(), name+".glb")
		if err := os.WriteFile(file, data, 0o600); err != nil {
			t.Fatal(err)
		}
		c := exec.Command(node, "-e", validate, folder, file)
		c.Stderr = os.Stderr
		out, err := c.Output()
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		var issues struct {
			NumErrors, NumWarnings int
			Messages               []struct{ Code, Message, Pointer string }
		}
		if err := json.Unmarshal(out, &issues); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		if issues.NumErrors+issues.NumWarnings > 0 {
			t.Errorf("%s: %d errors, %d warnings: %v", name, issues.NumErrors, issues.NumWarnings, issues.Messages)
		}
	}
}
