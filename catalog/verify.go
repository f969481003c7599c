package catalog

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"

	"mien/asset"
	"mien/catalog/git"
	"mien/catalog/record"
	"mien/catalog/store"
	"mien/catalog/store/local"
)

// Progress hears how far a long task is: step is a word for people ("records", "files"), done and total
// count what the step counts. It is called from one goroutine at a time.
type Progress func(step string, done, total int64)

// Fault is one thing that is missing or holds other bytes.
type Fault struct {
	Object string `json:"object"`
	Fault  string `json:"fault"`
}

// Report is what [Catalog.Verify] found.
type Report struct {
	Commits int      `json:"commits"`
	Objects int      `json:"objects"` // of the record history
	Records int      `json:"records"`
	Closed  int      `json:"closed"` // records whose sealed body has no key here
	Files   int      `json:"files"`  // in the store
	Bytes   int64    `json:"bytes"`
	Spare   int      `json:"spare"` // files in the store that no record names
	Faults  []Fault  `json:"faults"`
	Notes   []string `json:"notes"` // remarkable, but nothing is lost
}

func (r *Report) fault(object, format string, args ...any) {
	r.Faults = append(r.Faults, Fault{object, fmt.Sprintf(format, args...)})
}

// damage notes an error, once, under the object that it is about, which is object unless it says itself.
func (r *Report) damage(object string, err error) {
	f := Fault{object, err.Error()}
	var records *git.DamageError
	var own *DamageError
	var missing *store.MissingError
	var file *store.DamageError
	switch {
	case errors.As(err, &own) && own.Fault != "":
		f = Fault{own.Object, own.Fault}
	case errors.As(err, &records):
		f = Fault{recordsName + " " + records.Object, records.Fault}
	case errors.As(err, &missing):
		f = Fault{storeName + " object " + missing.Hash.Short(), "not here"}
	case errors.As(err, &file):
		f = Fault{storeName + " object " + file.Hash.Short(), "content hash is " + file.Got.Short()}
	}
	if !slices.Contains(r.Faults, f) {
		r.Faults = append(r.Faults, f)
	}
}

func (r *Report) note(format string, args ...any) {
	r.Notes = append(r.Notes, fmt.Sprintf(format, args...))
}

// Err returns nil if nothing is wrong, else a [DamageError] with the first fault and their number.
func (r *Report) Err() error {
	switch len(r.Faults) {
	case 0:
		return nil
	case 1:
		return &DamageError{Object: r.Faults[0].Object, Fault: r.Faults[0].Fault}
	}
	return &DamageError{Object: r.Faults[0].Object, Fault: fmt.Sprintf("%s (and %d more faults)", r.Faults[0].Fault, len(r.Faults)-1)}
}

// Verify reads the whole catalog and judges every byte it can: the git objects and that the history only
// ever grew; that each record is canonical, stands at its own path, opens with its key, and names only
// records that are here; and the content of each stored file against its name, and that none is missing.
//
// An error means that Verify was stopped; what is damaged is in the report, in a fixed order. progress may
// be nil. Cost: one read of everything.
func (c *Catalog) Verify(ctx context.Context, progress Progress) (*Report, error) {
	return c.VerifyExcept(ctx, nil, progress)
}

// VerifyExcept is [Catalog.Verify] where gone, which may be nil, tells which files of the store went with
// the subjects that were erased: they are not missing.
func (c *Catalog) VerifyExcept(ctx context.Context, gone func(asset.Hash) bool, progress Progress) (*Report, error) {
	if progress == nil {
		progress = func(string, int64, int64) {}
	}
	rep := &Report{Faults: []Fault{}, Notes: []string{}}
	objects, err := c.repo.Verify(ctx, func(done, total int64) { progress("history", done, total) })
	if err != nil {
		return nil, err
	}
	rep.Commits, rep.Objects, rep.Notes = objects.Commits, objects.Objects, append(rep.Notes, objects.Notes...)
	for _, f := range objects.Faults {
		rep.fault(recordsName+" "+f.Object, "%s", f.Fault)
	}
	entries, err := c.verifyRecords(ctx, rep, progress)
	if err != nil {
		return nil, err
	}
	c.verifyOrder(rep, entries)
	if err := c.verifyKeys(rep, entries); err != nil {
		return nil, err
	}
	return rep, c.verifyStore(ctx, rep, entries, gone, progress)
}

// verifyRecords checks each record on its own and returns those that can be read, in fold order.
func (c *Catalog) verifyRecords(ctx context.Context, rep *Report, progress Progress) ([]record.Entry, error) {
	head, err := c.repo.Head()
	if err != nil {
		return nil, nil // the history's own check has said so
	}
	leaves, _, err := c.repo.Changes(ctx, git.Hash{}, head)
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	if err != nil {
		rep.damage(recordsName, err)
	}
	if err := c.repo.Load(); err != nil {
		rep.damage(recordsName, err)
	}
	defer c.repo.Unload()
	c.keys.forget()
	entries := make([]record.Entry, 0, len(leaves))
	for i, leaf := range leaves {
		if i%chunk == 0 {
			if err := ctx.Err(); err != nil {
				return nil, err
			}
			progress("records", int64(i), int64(len(leaves)))
		}
		text, err := c.repo.Blob(leaf.Hash)
		if err == nil {
			err = record.Check(leaf.Path(), text)
		}
		var e record.Entry
		if err == nil {
			e, err = record.Decode(text, c.keys)
		}
		if err != nil {
			rep.damage(recordsName+" "+leaf.Path(), err)
			continue
		}
		entries = append(entries, e)
	}
	progress("records", int64(len(leaves)), int64(len(leaves)))
	rep.Records = len(leaves)
	slices.SortFunc(entries, record.Compare)
	return entries, nil
}

// verifyOrder checks what records say of each other.
func (c *Catalog) verifyOrder(rep *Report, entries []record.Entry) {
	place := make(map[record.ID]int, len(entries))
	for i := range entries {
		place[entries[i].ID] = i
	}
	created := 0
	limit := c.now().Add(record.SkewCap).UnixMilli()
	for i := range entries {
		e := &entries[i]
		if e.Kind == KindCreate {
			created++
			if !bytes.Contains(e.Open, []byte(`"`+c.ID()+`"`)) {
				rep.fault(siteName, "names catalog %s, the first record says %s", c.ID(), e.Open)
			}
		}
		for _, id := range e.After {
			at, ok := place[id]
			switch {
			case !ok:
				rep.fault(recordsName+" "+e.Path(), "names record %s, which is not here", id.Short(8))
			case at >= i:
				rep.note("record %s: names %s, which comes later in the fold", e.ID.Short(8), id.Short(8))
			}
		}
		if e.At.Ms > limit {
			rep.note("record %s: written at %s, which is ahead of this machine's clock", e.ID.Short(8), e.At.Time().Format("2006-01-02 15:04"))
		}
		if e.Schema > record.Schema {
			rep.note("record %s: schema %d, this program knows up to %d", e.ID.Short(8), e.Schema, record.Schema)
		}
	}
	if created != 1 && len(rep.Faults) == 0 {
		rep.fault(recordsName, "%d records of kind %s, allowed is 1", created, KindCreate)
	}
}

// verifyKeys checks the key files, and that what was sealed at this site can be opened at this site.
func (c *Catalog) verifyKeys(rep *Report, entries []record.Entry) error {
	files, err := os.ReadDir(c.keys.dir)
	if err != nil {
		return err
	}
	for _, f := range files {
		name, ok := strings.CutSuffix(f.Name(), ".key")
		if !ok {
			rep.note("%s/%s: does not belong here", keysName, f.Name())
			continue
		}
		info, err := f.Info()
		if err == nil && info.Mode().Perm()&0o077 != 0 {
			rep.note("%s/%s: readable by others (mode %04o)", keysName, f.Name(), info.Mode().Perm())
		}
		if _, err := c.keys.get(name); err != nil && !errors.Is(err, record.ErrNoKey) {
			rep.damage(keysName+"/"+f.Name(), err)
		}
	}
	closed, foreign := map[string]int{}, map[string]int{}
	for i := range entries {
		e := &entries[i]
		if !e.NoKey {
			continue
		}
		rep.Closed++
		var destroyed *KeyDestroyedError
		_, err := c.keys.get(owner(e.Subject))
		switch {
		case errors.As(err, &destroyed) || e.Schema > record.Schema:
		case e.At.Site == c.Site():
			closed[owner(e.Subject)]++
		default:
			foreign[owner(e.Subject)]++
		}
	}
	for _, name := range slices.Sorted(maps.Keys(closed)) {
		rep.fault(keysName+"/"+name+".key", "key is missing, %d records written here cannot be opened", closed[name])
	}
	for _, name := range slices.Sorted(maps.Keys(foreign)) {
		rep.note("%s/%s.key: not here, %d records from other sites stay closed", keysName, name, foreign[name])
	}
	return nil
}

// verifyStore reads every stored file, and looks for those that records name.
func (c *Catalog) verifyStore(ctx context.Context, rep *Report, entries []record.Entry, gone func(asset.Hash) bool, progress Progress) error {
	wanted := map[asset.Hash]int64{}
	mentioned := map[asset.Hash]bool{}
	for i := range entries {
		for _, h := range Mentions(entries[i]) {
			mentioned[h] = true
		}
		var destroyed *KeyDestroyedError
		if _, err := c.keys.get(owner(entries[i].Subject)); gone == nil && errors.As(err, &destroyed) {
			continue // an erased subject's files went with its key
		}
		for _, ref := range Files(entries[i]) {
			if gone == nil || !gone(ref.Hash) {
				wanted[ref.Hash] = ref.Size
			}
		}
	}
	var files []store.Info
	var total int64
	err := c.store.Walk(ctx, func(info store.Info) error {
		files = append(files, info)
		total += info.Size
		return nil
	})
	if err != nil {
		return err
	}
	faults, err := c.hashFiles(ctx, files, func(done int64) { progress("files", done, total) })
	if err != nil {
		return err
	}
	for i, info := range files {
		size, named := wanted[info.Hash]
		switch {
		case faults[i] != nil:
			rep.damage(storeName+" object "+info.Hash.Short(), faults[i])
		case named && size != info.Size:
			rep.fault(storeName+" object "+info.Hash.Short(), "%d bytes, a record says %d", info.Size, size)
		case !named && !mentioned[info.Hash]:
			rep.Spare++
		}
		delete(wanted, info.Hash)
	}
	awaited, err := c.Awaited()
	if err != nil {
		rep.damage(awaitedName, err)
	}
	away := 0
	for _, h := range awaited {
		if _, missing := wanted[h]; missing {
			delete(wanted, h)
			away++
		}
	}
	if away > 0 {
		rep.note("%d files of other sites have not come here yet; a sync brings them", away)
	}
	for _, h := range sortedHashes(wanted) {
		rep.damage(storeName, &store.MissingError{Hash: h})
	}
	rep.Files, rep.Bytes = len(files), total
	if s, ok := c.store.(*local.Store); ok {
		strangers, err := s.Strangers(ctx)
		if err != nil {
			return err
		}
		for _, path := range strangers {
			rep.note("%s: does not belong here", filepath.ToSlash(filepath.Join(storeName, path)))
		}
	}
	return nil
}

// hashFiles reads files, several at a time. faults[i] says what is wrong with files[i].
func (c *Catalog) hashFiles(ctx context.Context, files []store.Info, progress func(done int64)) (faults []error, err error) {
	faults = make([]error, len(files))
	next := make(chan int)
	var wait sync.WaitGroup
	var mu sync.Mutex
	var done int64
	for range min(runtime.GOMAXPROCS(0), len(files)) {
		wait.Go(func() {
			for i := range next {
				_, err := store.Check(ctx, c.store, files[i].Hash)
				mu.Lock()
				faults[i] = err
				done += files[i].Size
				progress(done)
				mu.Unlock()
			}
		})
	}
	for i := range files {
		if ctx.Err() != nil {
			break
		}
		next <- i
	}
	close(next)
	wait.Wait()
	return faults, ctx.Err()
}
