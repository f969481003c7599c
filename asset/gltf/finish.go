package gltf

import (
	"mien/asset/mesh"
	"mien/asset/soup"
)

// finish welds positions and drops what no triangle needs. used lists the materials of the document that
// triangles use, -1 for none.
func (b *builder) finish() (m *mesh.Mesh, used []int32, err error) {
	count := len(b.d.doc.Materials)
	s, err := b.soup.Finish(b.d.ctx, make([]mesh.Material, count+1))
	if err != nil {
		return nil, nil, err
	}
	if len(s.Mesh.Tri) == 0 {
		return nil, nil, b.d.fault("no triangles")
	}
	b.d.notes = append(b.d.notes, s.Notes...)
	s.Mesh.MaterialSet = nil
	for _, k := range s.Material {
		if k == count {
			k = -1
		}
		used = append(used, int32(k))
	}
	return s.Mesh, used, nil
}

// checkMaterials refuses more materials than a mesh can number.
func (d *decoder) checkMaterials() error {
	if n := len(d.doc.Materials); n >= soup.MaxMaterials {
		return d.unsupported("%d materials, read are up to %d", n, soup.MaxMaterials-1)
	}
	return nil
}
