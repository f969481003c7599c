package invent

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"sync"

	"mien/asset"
	"mien/asset/gltf"
	"mien/asset/mesh"
	"mien/asset/texture"
)

// Shot is one take of a delivery.
type Shot struct {
	Part    asset.Part
	Pose    asset.Pose // "" is the usual one of the part
	Number  int        // 0 is 1
	Look    Look
	Capture Capture
	Beside  bool    // the base colour lies beside the mesh instead of inside it
	Person  *Person // who really stood in the rig, nil for the person delivered
	Faults  []Fault
}

// Name returns the stem that the shot's files have for a subject: `<code>_<part>_<pose>_<nn>`.
func (s Shot) Name(code string) string {
	pose := s.Pose
	if pose == "" {
		pose = asset.PoseNeutral
		if s.Part == asset.PartBody {
			pose = asset.PoseA
		}
	}
	return fmt.Sprintf("%s_%s_%s_%02d", code, s.Part, pose, max(1, s.Number))
}

// Deliver writes shots into dir, which it creates, the way a solver hands them over: one binary glTF a
// take, the base colour inside or beside it as JPEG or PNG. It returns the names of the files written,
// in order of the shots. Same arguments give the same bytes. Shots are made side by side.
func (p Person) Deliver(ctx context.Context, dir, code string, shots []Shot) ([]string, error) {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, err
	}
	names := make([][]string, len(shots))
	errs := make([]error, len(shots))
	slots := make(chan struct{}, runtime.GOMAXPROCS(0))
	var wait sync.WaitGroup
	for i := range shots {
		slots <- struct{}{}
		wait.Go(func() {
			defer func() { <-slots }()
			names[i], errs[i] = p.write(ctx, dir, code, shots[i])
		})
	}
	wait.Wait()
	var all []string
	for i := range shots {
		if errs[i] != nil {
			return nil, fmt.Errorf("deliver %s: %w", shots[i].Name(code), errs[i])
		}
		all = append(all, names[i]...)
	}
	return all, nil
}

// write makes one shot and writes its files.
func (p Person) write(ctx context.Context, dir, code string, shot Shot) ([]string, error) {
	if shot.has(LeftOut) {
		return nil, nil
	}
	who := p
	if shot.Person != nil {
		who = *shot.Person
	}
	surface, im, picture, err := who.record(ctx, shot.Look, shot.Capture, shot.Part)
	if err != nil {
		return nil, err
	}
	m := shot.Capture.labelled(surface.Mesh)
	for _, f := range shot.Faults {
		m = f.bend(who, m, surface)
	}
	if shot.has(FlippedV) {
		im, picture = upsideDown(im), nil
	}
	kind := "jpg"
	if shot.Capture.JPEGQuality == 0 {
		kind = "png"
	}
	if picture == nil {
		var b bytes.Buffer
		if kind == "png" {
			err = texture.EncodePNG(&b, im)
		} else {
			err = texture.EncodeJPEG(&b, im, shot.Capture.JPEGQuality)
		}
		if err != nil {
			return nil, err
		}
		picture = b.Bytes()
	}

	stem := shot.Name(code)
	type file struct {
		name string
		data []byte
	}
	var files []file
	o := gltf.Options{Name: stem, Generator: "solver"}
	switch {
	case shot.has(NoTexture):
	case shot.Beside:
		files = append(files, file{stem + "_base-color." + kind, picture})
	default:
		mime := map[string]string{"jpg": "image/jpeg", "png": "image/png"}[kind]
		shared := &gltf.Image{Name: stem + "_base-color", Mime: mime, Data: picture}
		o.Images = make([]*gltf.Image, max(1, len(m.MaterialSet)))
		for k := range o.Images {
			o.Images[k] = shared
		}
	}
	var b bytes.Buffer
	if err := gltf.Encode(&b, m, o); err != nil {
		return nil, err
	}
	data := b.Bytes()
	if shot.has(NotANumber) {
		data = withNaN(data, m)
	}
	if shot.has(Truncated) {
		data = data[:len(data)*3/5]
	}
	files = append([]file{{stem + ".glb", data}}, files...)
	if shot.has(Twice) {
		files = append(files, file{stem + " copy.glb", data})
	}
	var names []string
	for _, f := range files {
		if err := os.WriteFile(filepath.Join(dir, f.name), f.data, 0o644); err != nil {
			return nil, err
		}
		names = append(names, f.name)
	}
	return names, nil
}

func (s Shot) has(f Fault) bool {
	for _, g := range s.Faults {
		if g == f {
			return true
		}
	}
	return false
}

// Litter writes the foreign files that travel on a drive: a picture index, system files, a note and a
// photo. It returns their names.
func Litter(dir string, seed uint64) ([]string, error) {
	r := newRandom(seed, "litter")
	photo := texture.New(160, 120)
	for i := range photo.Pix {
		photo.Pix[i] = uint8(90 + r.pick(40) + i/3%160/3)
	}
	var b bytes.Buffer
	if err := texture.EncodeJPEG(&b, photo, 80); err != nil {
		return nil, err
	}
	index := make([]byte, 2048)
	for i := range index {
		index[i] = byte(r.next())
	}
	names := []string{"thumbs.cache", ".folder-index", "notes.txt", "PICT0412.jpg"}
	for i, data := range [][]byte{
		index, index[:64],
		[]byte("rig 2, row C: camera 31 was out for the last two subjects\nlights warm by noon\n"),
		b.Bytes(),
	} {
		if err := os.WriteFile(filepath.Join(dir, names[i]), data, 0o644); err != nil {
			return nil, err
		}
	}
	return names, nil
}

// upsideDown returns the image with its rows in reverse order.
func upsideDown(im *texture.Image) *texture.Image {
	out := texture.New(im.W, im.H)
	for y := 0; y < im.H; y++ {
		copy(out.Pix[3*im.W*y:], im.Pix[3*im.W*(im.H-1-y):][:3*im.W])
	}
	return out
}

// withNaN returns the file with one coordinate of a position in the middle replaced by NaN.
func withNaN(data []byte, m *mesh.Mesh) []byte {
	var want [12]byte
	for k := len(m.Pos) / 2; k < len(m.Pos); k++ {
		putPosition(want[:], m.Pos[k])
		if at := bytes.Index(data, want[:]); at >= 0 {
			out := append([]byte(nil), data...)
			copy(out[at+4:], []byte{0, 0, 0xc0, 0x7f})
			return out
		}
	}
	return data
}
