package gltf

import (
	"encoding/json"
	"math"
	"strings"

	doc "github.com/qmuntal/gltf"
)

const (
	extQuantization     = "KHR_mesh_quantization"
	extTextureTransform = "KHR_texture_transform"
	extDraco            = "KHR_draco_mesh_compression"
)

// packedViews lists the extensions that hold a buffer view's bytes in compressed form.
var packedViews = [...]string{"EXT_meshopt_compression", "KHR_meshopt_compression"}

// readable reports whether a file that requires extension e can be read. Material extensions change
// how light plays on a surface, never its shape or base colour.
func readable(e string) bool {
	switch e {
	case extQuantization, extTextureTransform, "KHR_lights_punctual":
		return true
	}
	return strings.HasPrefix(e, "KHR_materials_") && e != "KHR_materials_pbrSpecularGlossiness"
}

// has reports whether an object carries extension e.
func has(x doc.Extensions, e string) bool {
	_, ok := x[e]
	return ok
}

// uvTransform maps texture coordinates as KHR_texture_transform says: u' = A u + t.
type uvTransform struct {
	a [4]float64 // row-major 2x2
	t [2]float64
}

var uvIdentity = uvTransform{a: [4]float64{1, 0, 0, 1}}

// apply maps the coordinates v (u, v, u, v, ...) in place.
func (x uvTransform) apply(v [][2]float32) {
	for i := range v {
		s, t := float64(v[i][0]), float64(v[i][1])
		v[i][0] = float32(float64(x.a[0]*s) + float64(x.a[1]*t) + x.t[0])
		v[i][1] = float32(float64(x.a[2]*s) + float64(x.a[3]*t) + x.t[1])
	}
}

// textureTransform returns the transform that info carries and the coordinate set that it selects.
// A malformed extension counts as absent.
func textureTransform(info *doc.TextureInfo) (x uvTransform, set int) {
	x, set = uvIdentity, info.TexCoord
	raw, ok := info.Extensions[extTextureTransform]
	if !ok {
		return x, set
	}
	text, err := json.Marshal(raw)
	if err != nil {
		return x, set
	}
	body := struct {
		Offset   [2]float64 `json:"offset"`
		Rotation float64    `json:"rotation"`
		Scale    [2]float64 `json:"scale"`
		TexCoord *int       `json:"texCoord"`
	}{Scale: [2]float64{1, 1}}
	if json.Unmarshal(text, &body) != nil {
		return x, set
	}
	if body.TexCoord != nil {
		set = *body.TexCoord
	}
	sin, cos := math.Sincos(body.Rotation)
	// translation * rotation * scale, with the matrices of the extension's text
	x.a = [4]float64{cos * body.Scale[0], sin * body.Scale[1], -sin * body.Scale[0], cos * body.Scale[1]}
	x.t = body.Offset
	return x, set
}
