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
	s, surface, _, err := p.take(ctx, look, cap, part)
	return s, surface, err
}

// take also returns the JPEG file of the base colour, nil when the capture keeps pixels exact.
func (p Person) take(ctx context.Context, look Look, cap Capture, part asset.Part) (*scan.Scan, *Surface, []byte, error) {
	surface, err := p.Surface(ctx, look, cap, part)
	if err != nil {
		return nil, nil, nil, err
	}
	im, err := p.Paint(ctx, look, cap, surface)
	if err != nil {
		return nil, nil, nil, err
	}
	var file []byte
	if cap.JPEGQuality > 0 {
		var b bytes.Buffer
		if err := texture.EncodeJPEG(&b, im, cap.JPEGQuality); err != nil {
			return nil, nil, nil, err
		}
		file = b.Bytes()
		if im, _, err = texture.DecodeBytes(file, string(part), texture.Limits{}); err != nil {
			return nil, nil, nil, err
		}
	}
	pose := asset.PoseNeutral
	if part == asset.PartBody {
		pose = asset.PoseA
	}
	s := &scan.Scan{
		Name: string(part) + " " + string(pose), Part: part, Pose: pose, Stage: cap.Stage, Light: asset.LightCross,
		Mesh: surface.Mesh, MetresPerUnit: 1, Labels: scan.LabelsAttribute,
		BaseColor: make([]*texture.Image, max(1, len(surface.Mesh.MaterialSet))),
	}
	if s.Stage == "" {
		s.Stage = asset.StageRaw
	}
	for k := range s.BaseColor {
		s.BaseColor[k] = im
	}
	if cap.NoLabels {
		bare := *surface.Mesh
		bare.Label = nil
		s.Mesh, s.Labels = &bare, scan.LabelsNone
	}
	s.Hash = contentHash(s.Mesh, im)
	return s, surface, file, nil
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
