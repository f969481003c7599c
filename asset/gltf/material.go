package gltf

import (
	"bytes"
	"errors"
	"fmt"
	"strings"

	doc "github.com/qmuntal/gltf"

	"mien/asset/mesh"
	"mien/asset/terms"
)

// materials fills f's material names, classes and base colour pictures; used lists the materials of
// the document that triangles use, -1 for none.
func (d *decoder) materials(f *File, used []int32) error {
	read := map[int]*Image{}
	for _, k := range used {
		if k < 0 {
			f.Images, f.Tints = append(f.Images, nil), append(f.Tints, Tint{1, 1, 1})
			if len(used) > 1 {
				f.Mesh.MaterialSet = append(f.Mesh.MaterialSet, mesh.Material{})
			}
			continue
		}
		m := d.doc.Materials[k]
		f.Mesh.MaterialSet = append(f.Mesh.MaterialSet, mesh.Material{Name: m.Name, Class: uint8(terms.ClassOfMaterial(m.Name))})
		tint, image := Tint{1, 1, 1}, (*Image)(nil)
		if pbr := m.PBRMetallicRoughness; pbr != nil {
			if c := pbr.BaseColorFactor; c != nil {
				tint = Tint{c[0], c[1], c[2]}
			}
			if pbr.BaseColorTexture != nil {
				var err error
				if image, err = d.baseColor(pbr.BaseColorTexture.Index, m.Name, read); err != nil {
					return err
				}
			}
		} else if has(m.Extensions, "KHR_materials_pbrSpecularGlossiness") {
			d.note("material %q: diffuse colour of %q is not read", m.Name, "KHR_materials_pbrSpecularGlossiness")
		}
		f.Images, f.Tints = append(f.Images, image), append(f.Tints, tint)
	}
	return nil
}

// baseColor reads the picture of texture i once.
func (d *decoder) baseColor(i int, material string, read map[int]*Image) (*Image, error) {
	if i < 0 || i >= len(d.doc.Textures) {
		return nil, d.fault("material %q: texture %d out of range 0 to %d", material, i, len(d.doc.Textures)-1)
	}
	t := d.doc.Textures[i]
	if t.Source == nil {
		d.note("material %q: base colour is in a format that is not read", material)
		return nil, nil
	}
	k := *t.Source
	if k < 0 || k >= len(d.doc.Images) {
		return nil, d.fault("texture %d: image %d out of range 0 to %d", i, k, len(d.doc.Images)-1)
	}
	if im, ok := read[k]; ok {
		return im, nil
	}
	im, err := d.image(k)
	var missing *missingError
	if errors.As(err, &missing) {
		d.lost = append(d.lost, missing.name)
		read[k] = nil
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	read[k] = im
	return im, nil
}

func (d *decoder) image(k int) (*Image, error) {
	src := d.doc.Images[k]
	im := &Image{Name: src.Name, Mime: src.MimeType}
	what := fmt.Sprintf("image %d", k)
	switch {
	case src.BufferView != nil:
		data, _, err := d.view(*src.BufferView)
		if err != nil {
			return nil, err
		}
		im.Data = data
	case src.URI != "":
		data, err := d.resource(what, src.URI, 0)
		if err != nil {
			return nil, err
		}
		im.Data = data
		if !strings.HasPrefix(src.URI, "data:") {
			im.File, _ = d.localName(what, src.URI)
		}
	default:
		return nil, d.fault("%s has neither a buffer view nor a URI", what)
	}
	if m := sniff(im.Data); m != "" {
		im.Mime = m
	}
	return im, nil
}

// sniff returns the media type that data begins like, "" when it is neither PNG nor JPEG.
func sniff(data []byte) string {
	switch {
	case bytes.HasPrefix(data, []byte("\x89PNG\r\n\x1a\n")):
		return "image/png"
	case bytes.HasPrefix(data, []byte("\xff\xd8\xff")):
		return "image/jpeg"
	}
	return ""
}

// colourOf builds the material block that Encode writes.
func colourOf(texture *int) *doc.PBRMetallicRoughness {
	p := &doc.PBRMetallicRoughness{MetallicFactor: doc.Float(0), RoughnessFactor: doc.Float(0.8)}
	if texture != nil {
		p.BaseColorTexture = &doc.TextureInfo{Index: *texture}
	}
	return p
}
