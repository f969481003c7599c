package catalog

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path"
	"path/filepath"

	"mien/catalog/durable"
	"mien/catalog/git"
	"mien/catalog/record"
)

// quarantineName is the folder of what another copy holds in place of a record.
const quarantineName = "quarantine"

// Met is what [Catalog.Meet] did.
type Met struct {
	Came  int      // records that came here
	Went  int      // records that went to the other copy
	Far   []string // paths of records that came and are written more than [record.SkewCap] ahead of our clock
	Aside []Aside  // what the other copy holds in place of records, or no longer holds
}

// Aside is something in another copy that is not the record that its path promises.
type Aside struct {
	Path  string `json:"path"`
	Fault string `json:"fault"`
	Kept  string `json:"kept"` // where its bytes were put, relative to this catalog; "" if there are none
}

// OtherCatalogError says that a folder holds a copy of another catalog.
type OtherCatalogError struct {
	Dir       string
	Own, Name string
}

func (e *OtherCatalogError) Error() string {
	return fmt.Sprintf("sync with %s: holds catalog %.8s, this one is %.8s: only copies of one catalog can meet", e.Dir, e.Name, e.Own)
}

// Hint returns the next step.
func (e *OtherCatalogError) Hint() string {
	return "name an empty folder to make a copy of this catalog there"
}

// Meet brings the records of two copies of one catalog together: afterwards both hold all records of both,
// under the same commit. Files and keys stay where they are; the files that records name and that are not
// here yet are noted as awaited.
//
// Both copies may be read and written meanwhile: the slow part, copying, needs no lock, and the two branches
// move while both locks are held, within milliseconds. A meeting that is cut short leaves both whole.
//
// Every record that comes in is checked against its path. What is no record, stands under another's path, or
// was taken away again in the other copy, is tampered with: its bytes are set aside in the folder quarantine,
// the sound records are taken over one by one, and nothing is written to the other copy. If it is this copy
// that is damaged, nothing is done and a [DamageError] tells.
func (c *Catalog) Meet(ctx context.Context, other *Catalog, progress Progress) (*Met, error) {
	if progress == nil {
		progress = func(string, int64, int64) {}
	}
	if c.ID() != other.ID() {
		return nil, &OtherCatalogError{Dir: other.dir, Own: c.ID(), Name: other.ID()}
	}
	if c.Site() == other.Site() {
		return nil, fmt.Errorf("sync with %s: is this very copy", other.dir)
	}
	m := &meeting{c: c, other: other, progress: progress}
	const patience = 3 // how often writers may be faster than the copying
	for range patience {
		if err := m.prepare(ctx); err != nil || m.done {
			return m.met, err
		}
		var moved bool
		err := lockBoth(ctx, c, other, func() (err error) {
			moved, err = m.move()
			return err
		})
		if err != nil {
			return m.met, err
		}
		if moved {
			return m.met, m.finish(ctx)
		}
	}
	err := lockBoth(ctx, c, other, func() error {
		if err := m.prepare(ctx); err != nil || m.done {
			return err
		}
		_, err := m.move()
		return err
	})
	if err != nil {
		return m.met, err
	}
	return m.met, m.finish(ctx)
}

// finish takes away what told that records were on their way, and rolls up packs.
func (m *meeting) finish(ctx context.Context) error {
	for _, side := range [...]*Catalog{m.c, m.other} {
		err := side.locked(ctx, func() error {
			for _, h := range m.begun {
				if err := side.repo.Received(h); err != nil {
					return err
				}
			}
			var damaged *git.DamageError
			if err := side.repo.RollUp(); err != nil && !errors.As(err, &damaged) {
				return fmt.Errorf("records have met, their packs could not be rolled up: %w", err)
			}
			return nil
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// lockBoth runs f under the locks of both copies. They are always taken in the same order, so that two
// meetings of the same copies never wait for each other.
func lockBoth(ctx context.Context, a, b *Catalog, f func() error) error {
	if a.Site() > b.Site() {
		a, b = b, a
	}
	return a.locked(ctx, func() error { return b.locked(ctx, f) })
}

type meeting struct {
	c, other    *Catalog
	progress    Progress
	met         *Met
	done        bool
	own, theirs git.Hash // heads when it was prepared
	to          git.Hash // where both branches go
	begun       []git.Hash
	arrivals    [2]arrivals
}

// arrivals are the records that come to one copy.
type arrivals struct {
	files []FileRef
	far   []string
	sound []git.Leaf
	bad   []Aside
	data  [][]byte // of bad
}

// prepare copies what each side lacks and makes the commit to which both go. It moves nothing.
func (m *meeting) prepare(ctx context.Context) (err error) {
	c, other := m.c, m.other
	m.met, m.done = &Met{}, false
	if m.own, err = c.repo.Head(); err != nil {
		return c.damage(err)
	}
	if m.theirs, err = other.repo.Head(); err != nil {
		return other.afar(err)
	}
	if m.own == m.theirs {
		m.done = true
		return nil
	}
	relation, err := m.relate(ctx)
	if err != nil {
		return err
	}
	come, gone, err := c.repo.Differ(ctx, m.own, other.repo, m.theirs)
	if err != nil {
		return c.damage(err)
	}
	if err := m.inspect(ctx, come, gone, relation); err != nil || m.done {
		return err
	}
	m.begun = append(m.begun, m.own, m.theirs)
	count := func(objects int) { m.progress("records", int64(objects), int64(max(objects, len(come)+len(gone)))) }
	if _, err := c.repo.Receive(ctx, other.repo, m.theirs, count); err != nil {
		return other.afar(err)
	}
	if _, err := other.repo.Receive(ctx, c.repo, m.own, count); err != nil {
		return c.damage(err)
	}
	switch relation {
	case git.Ahead:
		m.to = m.own
	case git.Behind:
		m.to = m.theirs
	default:
		if m.to, err = c.repo.Unite(ctx, m.own, m.theirs); err != nil {
			return c.damage(err)
		}
		m.begun = append(m.begun, m.to)
		if _, err := other.repo.Receive(ctx, c.repo, m.to, nil); err != nil {
			return c.damage(err)
		}
	}
	return nil
}

// relate compares the two heads where both histories are. If neither copy has the other's head, neither
// history contains the other.
func (m *meeting) relate(ctx context.Context) (git.Relation, error) {
	for _, r := range [...]*git.Repo{m.c.repo, m.other.repo} {
		both := true
		for _, h := range [...]git.Hash{m.own, m.theirs} {
			here, err := r.Has(h)
			if err != nil {
				return 0, err
			}
			both = both && here
		}
		if both {
			return r.Relate(ctx, m.own, m.theirs)
		}
	}
	return git.Apart, nil
}

// inspect judges the records that only one of the copies has, and deals with a copy that was tampered with.
func (m *meeting) inspect(ctx context.Context, come, gone []git.Leaf, relation git.Relation) error {
	var err error
	if m.arrivals[0], err = m.c.arriving(ctx, m.other.repo, come, m.progress); err != nil {
		return err
	}
	if m.arrivals[1], err = m.other.arriving(ctx, m.c.repo, gone, m.progress); err != nil {
		return err
	}
	if bad := m.arrivals[1].bad; len(bad) > 0 {
		return &DamageError{Object: recordsName + " " + bad[0].Path, Fault: bad[0].Fault}
	}
	if relation == git.Ahead && len(come) > 0 {
		return &DamageError{Object: recordsName + " " + come[0].Path(), Fault: "was taken away in this copy"}
	}
	bad := &m.arrivals[0]
	if relation == git.Behind {
		for _, leaf := range gone {
			bad.bad = append(bad.bad, Aside{Path: leaf.Path(), Fault: "was taken away in the other copy"})
			bad.data = append(bad.data, nil)
		}
	}
	m.met.Came, m.met.Went, m.met.Far = len(m.arrivals[0].sound), len(gone), m.arrivals[0].far
	if len(bad.bad) == 0 {
		return nil
	}
	m.done, m.met.Went = true, 0
	return m.salvage(ctx)
}

// arriving reads the records that c lacks and another repository has.
func (c *Catalog) arriving(ctx context.Context, from *git.Repo, leaves []git.Leaf, progress Progress) (a arrivals, err error) {
	if len(leaves) > chunk {
		if err := from.Load(); err != nil {
			return a, err
		}
		defer from.Unload()
	}
	limit := c.now().Add(record.SkewCap).UnixMilli()
	for i, leaf := range leaves {
		if i%chunk == 0 {
			if err := ctx.Err(); err != nil {
				return a, err
			}
			progress("checking records", int64(i), int64(len(leaves)))
		}
		text, err := from.Blob(leaf.Hash)
		if err == nil {
			err = record.Check(leaf.Path(), text)
		}
		var e record.Entry
		if err == nil {
			e, err = record.Decode(text, closed{})
		}
		if err == nil && e.Kind == KindCreate {
			err = errors.New("begins another catalog")
		}
		if err != nil {
			a.bad = append(a.bad, Aside{Path: leaf.Path(), Fault: err.Error()})
			a.data = append(a.data, text)
			continue
		}
		if e.At.Ms > limit {
			a.far = append(a.far, leaf.Path())
		}
		a.files = append(a.files, Files(e)...)
		a.sound = append(a.sound, leaf)
	}
	return a, nil
}

// closed opens nothing: what a record says in the open is enough to let it in.
type closed struct{}

func (closed) Unseal(string, []byte, record.Box) ([]byte, error) { return nil, record.ErrNoKey }

// move moves both branches, ours first, unless one of them has moved since. Both locks are held.
func (m *meeting) move() (moved bool, err error) {
	c, other := m.c, m.other
	if now, err := c.repo.Head(); err != nil || now != m.own {
		return false, c.damage(err)
	}
	if now, err := other.repo.Head(); err != nil || now != m.theirs {
		return false, other.afar(err)
	}
	for i, side := range [...]struct {
		c    *Catalog
		from git.Hash
	}{{c, m.own}, {other, m.theirs}} {
		if err := side.c.await(m.arrivals[i].files); err != nil {
			return false, err
		}
		if side.from == m.to {
			continue
		}
		if err := side.c.repo.Advance(side.from, m.to); err != nil {
			return false, side.c.damage(err)
		}
	}
	return true, nil
}

// salvage takes over the sound records of a copy that was tampered with, and sets the others aside.
func (m *meeting) salvage(ctx context.Context) error {
	c, a := m.c, &m.arrivals[0]
	for i, data := range a.data {
		if data != nil {
			name := fmt.Sprintf("%s.%s", path.Base(a.bad[i].Path), record.IDOf(data).Short(8))
			a.bad[i].Kept = quarantineName + "/" + name
			dir := filepath.Join(c.dir, quarantineName)
			if err := durable.Mkdir(dir); err != nil {
				return err
			}
			if err := durable.Write(filepath.Join(dir, name), data, 0o600); err != nil {
				return err
			}
		}
	}
	m.met.Aside = a.bad
	if len(a.sound) == 0 {
		return nil
	}
	files := make([]git.File, len(a.sound))
	for i, leaf := range a.sound {
		data, err := m.other.repo.Blob(leaf.Hash)
		if err != nil {
			return m.other.afar(err)
		}
		files[i] = git.File{Path: leaf.Path(), Data: data}
	}
	return c.locked(ctx, func() error {
		head, err := c.repo.Head()
		if err != nil {
			return c.damage(err)
		}
		if err := c.await(a.files); err != nil {
			return err
		}
		_, err = c.repo.Append(head, git.Batch{Files: files, Author: c.site.Site, When: c.now(),
			Message: fmt.Sprintf("%d records of a damaged copy", len(files))})
		return c.damage(err)
	})
}

// afar says of an error that it is about another copy than the one that the user has opened.
func (c *Catalog) afar(err error) error {
	var d *DamageError
	if errors.As(c.damage(err), &d) {
		return &DamageError{Object: filepath.Join(c.dir, d.Object), Fault: d.Fault, Err: err}
	}
	return err
}

// SameFolder reports whether dir is the folder of this catalog.
func (c *Catalog) SameFolder(dir string) bool {
	a, errA := os.Stat(c.dir)
	b, errB := os.Stat(dir)
	return errA == nil && errB == nil && os.SameFile(a, b)
}
