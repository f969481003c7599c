package git

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"sync"

	"github.com/go-git/go-git/v5/plumbing"
	"github.com/go-git/go-git/v5/plumbing/format/objfile"
)

// DamageError says that something that must stand in the repository is missing or holds other bytes.
type DamageError struct {
	Object string
	Fault  string
}

func (e *DamageError) Error() string { return fmt.Sprintf("records %s: %s", e.Object, e.Fault) }

// errAbsent says that no pack and no file of its own holds an object.
var errAbsent = errors.New("object is not here")

// objects reads the objects of a repository. It is safe for use by several goroutines, beside a process
// that adds packs or rolls them up.
type objects struct {
	dir string // of the repository's objects

	mu    sync.RWMutex
	packs []*pack // in order of name
	bulk  bool    // packs are kept in memory
}

func (o *objects) folder() string { return filepath.Join(o.dir, "pack") }

func (o *objects) list() []*pack {
	o.mu.RLock()
	defer o.mu.RUnlock()
	return slices.Clone(o.packs)
}

// refresh brings the list of packs up to date. Packs that have gone stay readable until close.
func (o *objects) refresh() error {
	o.mu.Lock()
	defer o.mu.Unlock()
	for try := 0; ; try++ {
		names, err := packNames(o.folder())
		if err != nil {
			return err
		}
		known := make(map[string]*pack, len(o.packs))
		for _, p := range o.packs {
			known[p.name] = p
		}
		var packs, fresh []*pack
		for _, name := range names {
			p := known[name]
			if p == nil {
				p, err = openPack(o.folder(), name)
				if err != nil {
					break
				}
				fresh = append(fresh, p)
				if o.bulk {
					err = p.load()
				}
			}
			packs = append(packs, p)
		}
		if err == nil {
			for _, p := range o.packs {
				if !slices.Contains(packs, p) {
					p.close()
				}
			}
			o.packs = packs
			return nil
		}
		for _, p := range fresh {
			p.close()
		}
		if !errors.Is(err, fs.ErrNotExist) {
			return err
		}
		if try == 5 { // a pack may go while we look, but not for ever
			return &DamageError{Object: "packs", Fault: "an index stands without its pack: " + missingName(err)}
		}
	}
}

func missingName(err error) string {
	if p := (*fs.PathError)(nil); errors.As(err, &p) {
		return filepath.Base(p.Path)
	}
	return err.Error()
}

// load brings all packs into memory, which makes reading many objects fast; unload lets them go.
func (o *objects) load() error {
	o.mu.Lock()
	defer o.mu.Unlock()
	o.bulk = true
	for _, p := range o.packs {
		if err := p.load(); err != nil {
			return &DamageError{Object: p.name, Fault: err.Error()}
		}
	}
	return nil
}

// loadIndexes brings the indexes alone into memory, where they can be read, until the returned function runs.
func (o *objects) loadIndexes() (unload func()) {
	packs := o.list()
	for _, p := range packs {
		p.index.load() // what cannot be read now is found out by who needs it
	}
	return func() {
		o.mu.RLock()
		defer o.mu.RUnlock()
		for _, p := range packs {
			if !o.bulk {
				p.index.data.Store(nil)
			}
		}
	}
}

func (o *objects) unload() {
	o.mu.Lock()
	defer o.mu.Unlock()
	o.bulk = false
	for _, p := range o.packs {
		p.index.data.Store(nil)
		p.body.data.Store(nil)
	}
}

func (o *objects) close() {
	o.mu.Lock()
	defer o.mu.Unlock()
	for _, p := range o.packs {
		p.close()
	}
	o.packs = nil
}

// read returns an object that must be of the given type. Its content must not be changed.
func (o *objects) read(h Hash, t objectType) ([]byte, error) {
	got, content, err := o.lookup(h)
	if errors.Is(err, errAbsent) { // written, or rolled up, since we looked
		if err := o.refresh(); err != nil {
			return nil, err
		}
		got, content, err = o.lookup(h)
	}
	if err != nil {
		return nil, &DamageError{Object: t.String() + " " + h.Short(), Fault: err.Error()}
	}
	if got != t {
		return nil, &DamageError{Object: t.String() + " " + h.Short(), Fault: "is a " + got.String()}
	}
	return content, nil
}

func (o *objects) lookup(h Hash) (objectType, []byte, error) {
	o.mu.RLock()
	defer o.mu.RUnlock()
	return o.locate(h, 0)
}

// maxChain bounds how many changes may build on each other. git writes at most 4095.
const maxChain = 4096

func (o *objects) locate(h Hash, chain int) (objectType, []byte, error) {
	for i := len(o.packs) - 1; i >= 0; i-- {
		off, err := o.packs[i].find(h)
		if err != nil {
			return 0, nil, fmt.Errorf("%s: %w", o.packs[i].name, err)
		}
		if off >= 0 {
			t, content, err := o.packed(o.packs[i], off, chain)
			if err != nil {
				err = fmt.Errorf("%s: byte %d: %w", o.packs[i].name, off, err)
			}
			return t, content, err
		}
	}
	return o.loose(h)
}

// packed reads the object at an offset of a pack.
func (o *objects) packed(p *pack, off int64, chain int) (objectType, []byte, error) {
	hd, err := p.head(off)
	if err != nil {
		return 0, nil, err
	}
	if chain > maxChain {
		return 0, nil, errDelta
	}
	content, err := p.unpack(hd.body, hd.size)
	if err != nil {
		return 0, nil, err
	}
	t := hd.typ
	var base []byte
	switch t {
	case typeOffset:
		t, base, err = o.packed(p, hd.base, chain+1)
	case typeRef:
		t, base, err = o.locate(hd.ref, chain+1)
	default:
		return t, content, nil
	}
	if err == nil {
		content, err = applyDelta(base, content)
	}
	return t, content, err
}

// loose reads an object that stands in a file of its own, as other clients write them.
func (o *objects) loose(h Hash) (t objectType, content []byte, err error) {
	defer guard(&err)
	name := h.String()
	packed, err := os.ReadFile(filepath.Join(o.dir, name[:2], name[2:]))
	if errors.Is(err, fs.ErrNotExist) {
		return 0, nil, errAbsent
	}
	if err != nil {
		return 0, nil, err
	}
	// A head may be of any length. One that ends within the first piece of the file is short.
	_, _, piece, err := openLoose(packed[:min(len(packed), 512)])
	if err != nil {
		return 0, nil, err
	}
	piece.Close()
	t, size, r, err := openLoose(packed)
	if err != nil {
		return 0, nil, err
	}
	defer r.Close()
	if content, err = io.ReadAll(io.LimitReader(r, maxObject)); err != nil {
		return 0, nil, err
	}
	if int64(len(content)) != size {
		return 0, nil, fmt.Errorf("file of its own: %d bytes, its head says %d", len(content), size)
	}
	if got := Hash(r.Hash()); got != h {
		return 0, nil, fmt.Errorf("file of its own: content hash is %s", got.Short())
	}
	return t, content, nil
}

// openLoose reads the head of an object in a file of its own. The reader gives its content.
func openLoose(packed []byte) (t objectType, size int64, r *objfile.Reader, err error) {
	if r, err = objfile.NewReader(bytes.NewReader(packed)); err != nil {
		return 0, 0, nil, fmt.Errorf("file of its own: %w", err)
	}
	t, size, err = r.Header()
	if err == nil && (t < typeCommit || t > typeTag) {
		err = plumbing.ErrInvalidType
	}
	if err != nil {
		r.Close()
		return 0, 0, nil, fmt.Errorf("file of its own: head: %w", err)
	}
	return t, size, r, nil
}
