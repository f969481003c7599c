package invent

import (
	"bytes"
	"context"
	"encoding/binary"
	"math"

	"github.com/zeebo/blake3"

	"mien/asset"
	"mien/asset/mesh"
	"mien/asset/scan"
	"mien/asset/texture"
)

// Take returns a complete scan of a part as the rig would have taken it: mesh with texture
// coordinates, region labels unless the capture leaves them out, and a base colour that all materials
// share. It also returns the surface behind it, which holds the truth.
func (p Person) Take(ctx context.Context, look Look, cap Capture, part asset.Part) (*scan.Scan, *Surface, error) {
	surface, im, file, err := p.record(ctx, look, cap, part)
	if err != nil {
		return nil, nil, err
	}
	if file != nil {
		if im, _, err = texture.DecodeBytes(file, string(part), texture.Limits{}); err != nil {
			return nil, nil, err
		}
	}
	pose := asset.PoseNeutral
	if part == asset.PartBody {
		pose = asset.PoseA
	}
	s := &scan.Scan{
		Name: string(part) + " " + string(pose), Part: part, Pose: pose, Stage: cap.Stage, Light: asset.LightCross,
		Mesh: cap.labelled(surface.Mesh), MetresPerUnit: 1, Labels: scan.LabelsAttribute,
		BaseColor: make([]*texture.Image, max(1, len(surface.Mesh.MaterialSet))),
	}
	if s.Stage == "" {
		s.Stage = asset.StageRaw
	}
	if s.Mesh.Label == nil {
		s.Labels = scan.LabelsNone
	}
	for k := range s.BaseColor {
		s.BaseColor[k] = im
	}
	s.Hash = contentHash(s.Mesh, im)
	return s, surface, nil
}

// record makes the surface of a take, its base colour before any JPEG, and the JPEG file, nil when the
// capture keeps pixels exact.
func (p Person) record(ctx context.Context, look Look, cap Capture, part asset.Part) (*Surface, *texture.Image, []byte, error) {
	surface, err := p.Surface(ctx, look, cap, part)
	if err != nil {
		return nil, nil, nil, err
	}
	im, err := p.Paint(ctx, look, cap, surface)
	if err != nil || cap.JPEGQuality == 0 {
		return surface, im, nil, err
	}
	var b bytes.Buffer
	if err := texture.EncodeJPEG(&b, im, cap.JPEGQuality); err != nil {
		return nil, nil, nil, err
	}
	return surface, im, b.Bytes(), nil
}

// labelled returns the mesh as the capture hands it on: without region labels if it leaves them out.
func (c *Capture) labelled(m *mesh.Mesh) *mesh.Mesh {
	if !c.NoLabels {
		return m
	}
	bare := *m
	bare.Label = nil
	return &bare
}

// contentHash stands for the hash of the files that a scan in memory does not have.
func contentHash(m *mesh.Mesh, im *texture.Image) asset.Hash {
	h := blake3.New()
	var b []byte
	for _, p := range m.Pos {
		for _, v := range p {
			b = binary.LittleEndian.AppendUint32(b, math.Float32bits(v))
		}
	}
	for _, t := range m.Tri {
		for _, v := range t {
			b = binary.LittleEndian.AppendUint32(b, v)
		}
	}
	for _, u := range m.UV {
		for _, v := range u {
			b = binary.LittleEndian.AppendUint32(b, math.Float32bits(v))
		}
	}
	h.Write(b)
	h.Write(m.Label)
	pixels := im.Hash()
	h.Write(pixels[:])
	var out asset.Hash
	h.Sum(out[:0])
	return out
}
