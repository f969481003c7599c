package gltf

import (
	"bytes"
	"context"
	"reflect"
	"testing"
)

// FuzzDecode feeds any bytes: no panic, a sound mesh or an error, and encoding what was decoded gives
// the same surface back.
func FuzzDecode(f *testing.F) {
	f.Add(tetra(5121, "", ""))
	f.Add(tetra(5125, `,"scale":[-1,2,1]`, ""))
	f.Add(encode(f, globe(1, 4, 5), Options{}))
	f.Add([]byte(`{"asset":{"version":"2.0"}}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		ctx := context.Background()
		first, err := Decode(ctx, "f.glb", data, nil)
		if err != nil {
			return
		}
		if err := first.Mesh.Check(); err != nil {
			t.Fatal(err)
		}
		var w bytes.Buffer
		if err := Encode(&w, first.Mesh, Options{}); err != nil {
			t.Fatal(err)
		}
		second, err := Decode(ctx, "g.glb", w.Bytes(), nil)
		if err != nil {
			t.Fatal(err)
		}
		a, b := byMaterial(first.Mesh), second.Mesh
		if len(a.Pos) != len(b.Pos) || !reflect.DeepEqual(a.Tri, b.Tri) || !reflect.DeepEqual(a.Material, b.Material) {
			t.Fatalf("%d vertices, %d triangles became %d, %d", len(a.Pos), len(a.Tri), len(b.Pos), len(b.Tri))
		}
		for i := range a.Pos {
			if a.Pos[i] != b.Pos[i] {
				t.Fatalf("vertex %d: %v became %v", i, a.Pos[i], b.Pos[i])
			}
		}
	})
}
