package loop

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"sort"
	"strings"

	"mien/asset"
	"mien/asset/gltf"
	"mien/asset/obj"
	"mien/asset/ply"
	"mien/catalog/fault"
	"mien/catalog/policy"
)

// delivered is one file of a delivery.
type delivered struct {
	Rel     string // slash-separated, below the delivery's folder
	Size    int64
	Kind    asset.Kind
	Channel asset.Channel
	Light   asset.Light
}

// deliveredTake is the files of one take, as named by the manifest or by their names.
type deliveredTake struct {
	Subject string
	Shot    policy.Shot
	Number  int
	Stage   asset.Stage
	Files   []delivered
}

// name is what messages call the take: its mesh file, or its first file.
func (t deliveredTake) name() string {
	for _, f := range t.Files {
		if f.Kind == asset.KindMesh {
			return f.Rel
		}
	}
	return t.Files[0].Rel
}

// delivery is a folder as it was handed over, sorted into takes.
type delivery struct {
	root    *os.Root
	takes   []deliveredTake
	unfiled []delivered // nothing says whose they are
	litter  int         // files that an operating system leaves behind
	bytes   int64
	session sessionFacts
	anyone  bool
}

// litterNames are files that operating systems leave in folders; they hold nothing of the delivery.
var litterNames = map[string]bool{".ds_store": true, "thumbs.db": true, "desktop.ini": true, ".directory": true}

func isLitter(rel string) bool {
	base := strings.ToLower(path.Base(rel))
	return litterNames[base] || strings.HasPrefix(base, "._") || strings.Contains(rel, "__MACOSX/")
}

// kindOf tells what a file is by its extension.
func kindOf(rel string) asset.Kind {
	switch strings.ToLower(path.Ext(rel)) {
	case ".glb", ".gltf", ".obj", ".ply":
		return asset.KindMesh
	case ".png", ".jpg", ".jpeg", ".tif", ".tiff", ".exr":
		return asset.KindTexture
	case ".mtl":
		return asset.KindMaterial
	}
	return asset.KindOther
}

// readDelivery lists folder and sorts its files into takes. A link is refused: what it leads to may
// lie outside the delivery. subject, when not empty, is whom files belong to whose names do not say;
// anyone lets such names pass without a subject.
func readDelivery(ctx context.Context, folder, subject string, anyone bool, p *policy.Policy) (*delivery, error) {
	info, err := os.Stat(folder)
	if err != nil {
		return nil, fmt.Errorf("delivery %s: %w", folder, errors.Unwrap(err))
	}
	if !info.IsDir() {
		return nil, fault.Invalid("delivery "+folder, "a file, allowed is a folder")
	}
	root, err := os.OpenRoot(folder)
	if err != nil {
		return nil, err
	}
	d := &delivery{root: root, anyone: anyone}
	var files []delivered
	err = fs.WalkDir(root.FS(), ".", func(rel string, e fs.DirEntry, err error) error {
		if err != nil {
			return fmt.Errorf("delivery %s: %w", filepath.Join(folder, rel), err)
		}
		if err := ctx.Err(); err != nil {
			return err
		}
		switch {
		case e.IsDir():
			return nil
		case isLitter(rel):
			d.litter++
			return nil
		case !e.Type().IsRegular():
			return fault.Invalid("delivery "+filepath.Join(folder, rel), "a link or special file, allowed are files and folders; nothing was stored")
		}
		info, err := e.Info()
		if err != nil {
			return err
		}
		d.bytes += info.Size()
		files = append(files, delivered{Rel: rel, Size: info.Size(), Kind: kindOf(rel)})
		return nil
	})
	if err == nil {
		err = d.sort(ctx, folder, files, subject, p)
	}
	if err != nil {
		root.Close()
		return nil, err
	}
	return d, nil
}

// sort assigns files to takes: those that the manifest lists, then those whose names fit a pattern,
// then those that a mesh refers to.
func (d *delivery) sort(ctx context.Context, folder string, files []delivered, subject string, p *policy.Policy) error {
	byRel := map[string]int{}
	for i, f := range files {
		byRel[f.Rel] = i
	}
	taken := make([]bool, len(files))
	if i, ok := byRel[manifestName]; ok {
		taken[i] = true
		if err := d.readManifest(folder, files, byRel, taken, subject, p); err != nil {
			return err
		}
	}
	type key struct {
		subject string
		shot    policy.Shot
		number  int
		folder  string
	}
	at := map[key]int{}
	for i := range files {
		if taken[i] {
			continue
		}
		f := &files[i]
		fields, ok := d.readName(f, subject, p)
		if !ok {
			continue
		}
		if subject != "" && fields.Code != subject {
			return fault.Invalid("intake "+subject, "%s says it belongs to %s; leave out --subject or move the file", f.Rel, fields.Code)
		}
		taken[i] = true
		f.Channel, f.Light = fields.Channel, fields.Light
		if f.Kind == asset.KindTexture && f.Channel == "" {
			f.Channel = asset.BaseColor
		}
		k := key{fields.Code, fields.Shot, max(1, fields.Take), path.Dir(f.Rel)}
		n, ok := at[k]
		if !ok {
			n = len(d.takes)
			at[k] = n
			d.takes = append(d.takes, deliveredTake{Subject: k.subject, Shot: k.shot, Number: k.number, Stage: fields.Stage})
		}
		d.takes[n].Files = append(d.takes[n].Files, *f)
	}
	if err := d.attachReferences(ctx, files, byRel, taken); err != nil {
		return err
	}
	for i, f := range files {
		if !taken[i] {
			d.unfiled = append(d.unfiled, f)
		}
	}
	sort.SliceStable(d.takes, func(a, b int) bool {
		x, y := d.takes[a], d.takes[b]
		if x.Subject != y.Subject {
			return x.Subject < y.Subject
		}
		if x.Shot != y.Shot {
			return x.Shot.String() < y.Shot.String()
		}
		return x.Number < y.Number
	})
	return nil
}

// readName reads whose file f is and what it shows from its name; with a subject given, names that
// leave the subject out are read as the subject's.
func (d *delivery) readName(f *delivered, subject string, p *policy.Policy) (policy.Fields, bool) {
	if f.Kind != asset.KindMesh && f.Kind != asset.KindTexture && f.Kind != asset.KindMaterial {
		return policy.Fields{}, false
	}
	stem := strings.TrimSuffix(path.Base(f.Rel), path.Ext(f.Rel))
	if fields, ok := p.ReadName(stem); ok && knows(p, fields.Shot.Part) {
		return fields, true
	}
	if subject == "" && !d.anyone {
		return policy.Fields{}, false
	}
	if subject == "" {
		subject = "anyone"
	}
	fields, ok := p.ReadName(subject + "_" + stem)
	return fields, ok && knows(p, fields.Shot.Part)
}

// attachReferences gives every take the files that its mesh file refers to.
func (d *delivery) attachReferences(ctx context.Context, files []delivered, byRel map[string]int, taken []bool) error {
	for n := range d.takes {
		t := &d.takes[n]
		for _, f := range append([]delivered(nil), t.Files...) {
			refs, err := d.references(ctx, f.Rel)
			if err != nil {
				return fmt.Errorf("delivery: %s: %w", f.Rel, err)
			}
			for _, ref := range refs {
				i, ok := byRel[path.Join(path.Dir(f.Rel), ref)]
				if ok && !taken[i] {
					taken[i] = true
					g := files[i]
					if g.Kind == asset.KindTexture {
						g.Channel = asset.BaseColor
					}
					t.Files = append(t.Files, g)
				}
			}
		}
	}
	return nil
}

// references returns the files that a mesh file refers to, as seen from its folder.
func (d *delivery) references(ctx context.Context, rel string) ([]string, error) {
	ext := strings.ToLower(path.Ext(rel))
	if ext != ".gltf" && ext != ".obj" && ext != ".ply" {
		return nil, nil
	}
	folder, err := fs.Sub(d.root.FS(), path.Dir(rel))
	if err != nil {
		return nil, err
	}
	f, err := folder.Open(path.Base(rel))
	if err != nil {
		return nil, err
	}
	defer f.Close()
	switch ext {
	case ".obj":
		return obj.References(ctx, f, folder)
	case ".ply":
		return ply.References(f, folder), nil
	}
	data, err := io.ReadAll(f)
	return gltf.References(data), err
}

func (d *delivery) close() { d.root.Close() }
