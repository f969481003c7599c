package gltf

import (
	"context"
	"errors"
	"image/color"
	"math"
	"runtime"
	"strconv"
	"strings"
	"testing"
)

// Every file breaks one rule; the error says which and where.
func TestBrokenFiles(t *testing.T) {
	whole := string(tetra(5123, "", ""))
	edit := func(from, to string) []byte {
		if !strings.Contains(whole, from) {
			t.Fatalf("the file has no %q", from)
		}
		return reglb(t, strings.Replace(whole, from, to, 1))
	}
	nan := []byte(whole)
	at := strings.Index(whole, "BIN\x00") + 4 + 2*12 + 4 // y of vertex 2
	copy(nan[at:], floatBytes(float32(math.NaN())))
	cut := []byte(whole)[:len(whole)-30]
	lie := []byte(whole)
	lie[12], lie[13], lie[14] = 0xff, 0xff, 0x07
	for name, c := range map[string]struct {
		data []byte
		want string
	}{
		"empty":            {nil, `head.glb: byte 0: neither the word "glTF" nor a JSON object, file has 0 bytes`},
		"text":             {[]byte("hello"), "byte 0: neither"},
		"header":           {[]byte("glTF\x02\x00"), "byte 6: header has 12 bytes"},
		"truncated chunk":  {cut, "BIN chunk says 72 bytes, file ends after 42"},
		"JSON chunk":       {lie, "byte 12: JSON chunk says 524287 bytes, file ends after"},
		"syntax":           {glb(`{"asset":{"version":"2.0"},}`, nil), "byte 47: JSON: invalid character"},
		"no asset":         {glb(`{}`, nil), "asset is required"},
		"NaN":              {nan, "mesh 0 primitive 0: vertex 2: coordinate y is NaN"},
		"index":            {edit(`"count":4,`, `"count":3,`), "vertex index 3 at corner 5 out of range 0 to 2"},
		"huge count":       {edit(`"count":4,`, `"count":4000000000,`), "accessor 0: 4000000000 elements of 12 bytes from byte 0, its buffer view has 48"},
		"huge sparse":      {edit(`{"bufferView":0,"componentType":5126,"count":4,`, `{"sparse":{"count":1,"indices":{"bufferView":1,"componentType":5123},"values":{"bufferView":0}},"componentType":5126,"count":4000000000,`), "declares 4000000000 elements"},
		"negative offset":  {edit(`"bufferView":0,`, `"bufferView":0,"byteOffset":-4,`), "from byte -4"},
		"past the view":    {edit(`"bufferView":0,`, `"bufferView":0,"byteOffset":24,`), "4 elements of 12 bytes from byte 24, its buffer view has 48"},
		"view":             {edit(`"byteLength":48`, `"byteLength":9223372036854775807`), "9223372036854775807 bytes from byte 0, buffer 0 has 72"},
		"stride":           {edit(`"byteLength":48`, `"byteStride":4,"byteLength":48`), "stride 4, an element has 12 bytes"},
		"buffer":           {edit(`"buffers":[{"byteLength":72}]`, `"buffers":[{"byteLength":73000}]`), "declares 73000 bytes, has 72"},
		"no data":          {edit(`{"bufferView":0,`, `{`), "accessor 0 has no data"},
		"accessor":         {edit(`"POSITION":0`, `"POSITION":7`), "accessor 7 out of range 0 to 1"},
		"shape":            {edit(`"VEC3"`, `"VEC2"`), "has 2 components, allowed are 3"},
		"own parent":       {edit(`"nodes":[{"mesh":0}]`, `"nodes":[{"mesh":0,"children":[0]}]`), "node 0 is reached twice"},
		"node":             {edit(`"scenes":[{"nodes":[0]}]`, `"scenes":[{"nodes":[4]}]`), "node 4 out of range 0 to 0"},
		"mesh":             {edit(`"nodes":[{"mesh":0}]`, `"nodes":[{"mesh":-1}]`), "mesh -1 out of range"},
		"material":         {edit(`"indices":1`, `"indices":1,"material":3`), "material 3 out of range"},
		"scene":            {edit(`"scene":0`, `"scene":9`), "scene 9 out of range 0 to 0"},
		"null":             {edit(`"nodes":[{"mesh":0}]`, `"nodes":[null]`), "node 0 is null"},
		"points only":      {edit(`"indices":1`, `"indices":1,"mode":0`), "no triangles"},
		"two corners more": {edit(`"count":12`, `"count":11`), "11 corners, allowed are multiples of 3"},
		"far away":         {edit(`{"mesh":0}`, `{"mesh":0,"scale":[1e39,1,1]}`), "beyond the range of numbers"},
	} {
		_, err := Decode(context.Background(), "head.glb", c.data, nil)
		var f *FormatError
		if !errors.As(err, &f) || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %v, want a format error with %q", name, err, c.want)
		}
	}
}

func TestValidButUnsupported(t *testing.T) {
	whole := string(tetra(5123, "", ""))
	edit := func(from, to string) []byte { return reglb(t, strings.Replace(whole, from, to, 1)) }
	packed := strings.Replace(whole, `"indices":1}`, `"indices":1,"extensions":{"KHR_draco_mesh_compression":{"bufferView":0,"attributes":{"POSITION":0}}}}`, 1)
	packed = strings.Replace(packed, `{"bufferView":0,"componentType":5126`, `{"componentType":5126`, 1)
	for want, data := range map[string][]byte{
		`required extension "KHR_draco_mesh_compression"`: edit(`"scene":0`, `"extensionsRequired":["KHR_draco_mesh_compression"],"scene":0`),
		`required extension "EXT_meshopt_compression"`:    edit(`"scene":0`, `"extensionsRequired":["EXT_meshopt_compression"],"scene":0`),
		`required extension "ACME_unheard_of"`:            edit(`"scene":0`, `"extensionsRequired":["ACME_unheard_of"],"scene":0`),
		`compressed with "KHR_draco_mesh_compression"`:    reglb(t, packed),
		`glTF version "3.0"`:                              edit(`"version":"2.0"`, `"version":"3.0"`),
		`container version 1`:                             append([]byte("glTF\x01\x00\x00\x00"), whole[8:]...),
	} {
		_, err := Decode(context.Background(), "head.glb", data, nil)
		var u *UnsupportedError
		if !errors.As(err, &u) || !strings.Contains(err.Error(), want) {
			t.Errorf("got %v, want an unsupported error with %q", err, want)
		}
	}
}

// Ten thousand nodes that show one mesh of a shared buffer would be a thousand times the file.
func TestInstancesAreBounded(t *testing.T) {
	m := globe(1, 100, 200)
	data := string(encode(t, m, Options{}))
	nodes := strings.Repeat(`{"mesh":0},`, 10000)
	children := make([]string, 10000)
	for i := range children {
		children[i] = strconv.Itoa(i)
	}
	s := strings.Replace(data, `"nodes":[{"name":"scan","mesh":0}]`, `"nodes":[`+strings.TrimSuffix(nodes, ",")+`]`, 1)
	s = strings.Replace(s, `"scenes":[{"nodes":[0]}]`, `"scenes":[{"nodes":[`+strings.Join(children, ",")+`]}]`, 1)
	if s == data {
		t.Fatal("nothing replaced")
	}
	file := reglb(t, s)
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	_, err := Decode(context.Background(), "x.glb", file, nil)
	runtime.ReadMemStats(&after)
	var u *UnsupportedError
	if !errors.As(err, &u) {
		t.Fatalf("got %v, want an unsupported error", err)
	}
	if n := after.TotalAlloc - before.TotalAlloc; n > 200*uint64(len(file)) {
		t.Errorf("%d bytes allocated for a file of %d", n, len(file))
	}
}

func TestCancelled(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	stop()
	if _, err := Decode(ctx, "x.glb", encode(t, globe(1, 20, 20), Options{Images: []*Image{{Data: picture(t, color.White)}}}), nil); !errors.Is(err, context.Canceled) {
		t.Errorf("got %v", err)
	}
}
