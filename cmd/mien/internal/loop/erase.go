package loop

import (
	"bytes"
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"time"

	"mien/asset"
	"mien/catalog/forget"
	"mien/catalog/people"
	"mien/catalog/record"
	"mien/catalog/roster"
)

// Erasure is what the erasure of a subject removes, the document `mien.erase/1`.
type Erasure struct {
	Schema  string       `json:"schema"`
	Subject string       `json:"subject"`
	Done    bool         `json:"done"` // false: this is what it would remove
	Records int          `json:"records"`
	Sealed  int          `json:"sealed_records"` // that nobody can open afterwards
	Files   []ErasedFile `json:"files"`
	Bytes   int64        `json:"bytes"`
	Kept    []ErasedFile `json:"kept"`    // used by somebody else too
	Results int          `json:"results"` // comparisons in the cache
	Sites   []string     `json:"sites"`   // other copies that have written, which carry it out when they sync
	Refiled []string     `json:"refiled"` // records of others that tell of takes of this subject, from before they were refiled
}

// ErasedFile is one file of a subject.
type ErasedFile struct {
	Hash  asset.Hash `json:"hash"`
	Size  int64      `json:"size"` // -1 when it is not here
	Users []string   `json:"users,omitempty"`
}

// PlanErase says what the erasure of a subject would remove. It changes nothing.
func (l *Loop) PlanErase(ctx context.Context, code string) (*Erasure, error) {
	if err := l.May(people.Erase); err != nil {
		return nil, err
	}
	if _, err := roster.Erase(l.State.Roster, l.by, code); err != nil {
		return nil, err
	}
	entries, err := l.Catalog.Entries(ctx)
	if err != nil {
		return nil, err
	}
	e := &Erasure{Schema: "mien.erase/1", Subject: code, Files: []ErasedFile{}, Kept: []ErasedFile{}, Sites: []string{}, Refiled: []string{}}
	owner := map[record.ID]string{}
	for _, v := range entries {
		owner[v.ID] = v.Subject
		if v.Subject == code {
			e.Records++
			if v.Sealed != nil || v.NoKey {
				e.Sealed++
			}
		}
		if v.At.Site != l.Catalog.Site() && !slices.Contains(e.Sites, v.At.Site) {
			e.Sites = append(e.Sites, v.At.Site)
		}
	}
	slices.Sort(e.Sites)
	for _, t := range l.State.Session.Takes(code) {
		if owner[t.Intake] == code {
			continue
		}
		for _, v := range entries {
			named := v.ID == t.Intake || bytes.Contains(v.Open, []byte(t.ID.String()))
			ref := v.Subject + " " + string(v.Kind) + " " + v.ID.Short(8)
			if named && v.Subject != code && (v.Sealed != nil || v.NoKey) && !slices.Contains(e.Refiled, ref) {
				e.Refiled = append(e.Refiled, ref)
			}
		}
	}
	h := forget.Of(entries, l.State)
	own, shared := h.Files(code)
	for _, f := range own {
		if v := l.heldFile(ctx, f); v.Size >= 0 {
			e.Files = append(e.Files, v)
			e.Bytes += v.Size
		}
	}
	for _, f := range shared {
		v := l.heldFile(ctx, f)
		v.Users = slices.DeleteFunc(h.Users(f), func(s string) bool { return s == code })
		if v.Size >= 0 {
			e.Kept = append(e.Kept, v)
		}
	}
	for _, c := range l.State.Appearance.Comparisons(code) {
		if l.ResultFolder(c) != "" {
			e.Results++
		}
	}
	return e, nil
}

func (l *Loop) heldFile(ctx context.Context, h asset.Hash) ErasedFile {
	info, err := l.Catalog.Store().Stat(ctx, h)
	if err != nil {
		return ErasedFile{Hash: h, Size: -1}
	}
	return ErasedFile{Hash: h, Size: info.Size}
}

// Erase erases a subject for ever: first the record that says so, then the files that only this subject
// uses, the key, and the results in the cache. Where it is cut short, opening the catalog goes on with it.
func (l *Loop) Erase(ctx context.Context, code string) (*Erasure, error) {
	e, err := l.PlanErase(ctx, code)
	if err != nil {
		return nil, err
	}
	d, err := roster.Erase(l.State.Roster, l.by, code)
	if err != nil {
		return nil, err
	}
	if _, err := l.Append(ctx, d); err != nil {
		return nil, err
	}
	e.Done = true
	if err := l.carryOut(ctx); err != nil {
		return nil, err
	}
	_, err = l.forgetResults(true)
	return e, err
}

// carryOut carries out what is known of erasures and has not been done in this copy, and folds again.
func (l *Loop) carryOut(ctx context.Context) error {
	entries, err := l.Catalog.Entries(ctx)
	if err != nil {
		return err
	}
	if _, err := forget.Of(entries, l.State).CarryOut(ctx, l.Catalog); err != nil {
		return err
	}
	return l.fold(ctx)
}

// catchUp does at opening what an erasure that was cut short, or came from another copy, left to do. A copy
// that may only be read is left as it is.
func (l *Loop) catchUp(ctx context.Context) error {
	due, err := forget.Due(l.Catalog, l.State)
	if err == nil && due {
		err = l.carryOut(ctx)
	}
	if err == nil {
		_, err = l.forgetResults(due)
	}
	if errors.Is(err, fs.ErrPermission) {
		return nil
	}
	return err
}

// abandonedResult is the age from which on an unfinished result was left by a killed process.
const abandonedResult = time.Hour

// forgetResults removes from the cache the results of erased subjects; with all set, also those that no
// record tells whose they are. It returns how many there were.
func (l *Loop) forgetResults(all bool) (int, error) {
	dir := filepath.Join(l.cache, "results")
	theirs, gone := map[string]bool{}, false
	var codes []string
	for _, v := range l.State.Roster.List() {
		codes = append(codes, v.Code)
		gone = gone || v.Erased
	}
	for _, v := range l.State.Roster.Props() {
		codes = append(codes, v.Code)
	}
	if !gone && !all {
		return 0, nil
	}
	drop := map[string]bool{}
	for _, code := range codes {
		for _, c := range l.State.Appearance.Comparisons(code) {
			if l.erasedBy(code, c.Old, c.New) {
				drop[c.Key.String()] = true
			} else {
				theirs[c.Key.String()] = true
			}
		}
	}
	names, err := os.ReadDir(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return 0, nil
	}
	if err != nil {
		return 0, err
	}
	n := 0
	for _, f := range names {
		name := f.Name()
		if theirs[name] || !all && !drop[name] {
			continue
		}
		if info, err := f.Info(); name[0] == '.' && (err != nil || time.Since(info.ModTime()) < abandonedResult) {
			continue
		}
		if err := os.RemoveAll(filepath.Join(dir, name)); err != nil {
			return n, err
		}
		n++
	}
	return n, nil
}

// erasedBy reports whether an erasure reaches what a record about a subject says of takes: the subject was
// erased, or the one under whom a take is filed now.
func (l *Loop) erasedBy(subject string, takes ...record.ID) bool {
	about := []string{subject}
	for _, id := range takes {
		if t := l.State.Session.Take(id); t != nil {
			about = append(about, t.Subject)
		}
	}
	for _, code := range about {
		if v, err := l.State.Roster.Get(code); err == nil && v.Erased && !v.Hold {
			return true
		}
	}
	return false
}
