package loop

import (
	"context"
	"encoding/json"
	"slices"
	"time"

	"mien/asset"
	"mien/catalog"
	"mien/catalog/day"
	"mien/catalog/forget"
	"mien/catalog/people"
	"mien/catalog/record"
	"mien/catalog/roster"
	"mien/catalog/session"
)

// Disclosure is everything that is held on one subject, the document `mien.disclosure/1`.
type Disclosure struct {
	Schema  string           `json:"schema"`
	Subject string           `json:"subject"`
	On      day.Day          `json:"on"`
	Name    string           `json:"name"`
	Born    day.Day          `json:"born"`
	Note    string           `json:"note"`
	Hold    bool             `json:"hold"`
	Erased  bool             `json:"erased"`
	Files   []HeldFile       `json:"files"`
	Bytes   int64            `json:"bytes"` // of the files that are here
	Records []HeldRecord     `json:"records"`
	Results []HeldComparison `json:"results"` // pictures and documents in this machine's cache
	Closed  int              `json:"closed"`  // records whose key is not here
}

// HeldFile is a stored file.
type HeldFile struct {
	Hash    asset.Hash `json:"hash"`
	Size    int64      `json:"size"` // -1 when it is not here
	Name    string     `json:"name"` // as it was delivered, "" when nothing tells
	Session string     `json:"session"`
	Take    string     `json:"take"`
	Users   []string   `json:"shared_with"` // others who use the same bytes
	Paths   []string   `json:"paths"`       // of the records that name it, in records.git
}

// HeldRecord is a record, with both its bodies in clear.
type HeldRecord struct {
	At      string          `json:"at"`
	ID      record.ID       `json:"id"`
	Kind    record.Kind     `json:"kind"`
	By      string          `json:"by"`
	Subject string          `json:"subject"` // another one's if it tells of takes that were refiled
	Path    string          `json:"path"`
	Open    json.RawMessage `json:"open"`
	Sealed  json.RawMessage `json:"sealed"`
}

// HeldComparison is a comparison in the cache.
type HeldComparison struct {
	Key    asset.Hash `json:"key"`
	Folder string     `json:"folder"`
}

// Disclose lists everything that is held on a subject here: records with their sealed bodies opened, files
// with their hashes and the records that name them, and cached results. It records nothing.
func (l *Loop) Disclose(ctx context.Context, code string) (*Disclosure, error) {
	if err := l.May(people.Disclose); err != nil {
		return nil, err
	}
	v, err := l.State.Roster.Get(code)
	if err != nil {
		return nil, err
	}
	entries, err := l.Catalog.Entries(ctx)
	if err != nil {
		return nil, err
	}
	d := &Disclosure{Schema: "mien.disclosure/1", Subject: code, On: l.Today(), Name: v.Name, Born: v.Born, Note: v.Note, Hold: v.Hold,
		Erased: v.Erased, Files: []HeldFile{}, Records: []HeldRecord{}, Results: []HeldComparison{}}
	intakes := map[record.ID]bool{}
	for _, t := range l.State.Session.Takes(code) {
		intakes[t.Intake] = true
	}
	paths := map[asset.Hash][]string{}
	for _, e := range entries {
		for _, h := range catalog.Mentions(e) {
			if p := paths[h]; len(p) == 0 || p[len(p)-1] != e.Path() {
				paths[h] = append(p, e.Path())
			}
		}
		if e.Subject == code || intakes[e.ID] {
			d.record(e)
		}
	}
	h := forget.Of(entries, l.State)
	own, shared := h.Files(code)
	for _, file := range slices.Concat(own, shared) {
		f := HeldFile{Hash: file, Size: l.heldFile(ctx, file).Size, Users: slices.DeleteFunc(h.Users(file), func(s string) bool { return s == code }), Paths: paths[file]}
		if v.Erased && f.Size < 0 {
			continue
		}
		if takes := l.State.Session.WithFile(file); len(takes) > 0 {
			f.describe(takes, code)
		}
		d.Bytes += max(0, f.Size)
		d.Files = append(d.Files, f)
	}
	for _, c := range l.State.Appearance.Comparisons(code) {
		if folder := l.ResultFolder(c); folder != "" {
			d.Results = append(d.Results, HeldComparison{c.Key, folder})
		}
	}
	return d, nil
}

func (d *Disclosure) record(e record.Entry) {
	v := HeldRecord{At: e.At.Time().Format(time.RFC3339), ID: e.ID, Kind: e.Kind, By: e.By, Subject: e.Subject, Path: e.Path(), Open: e.Open, Sealed: e.Sealed}
	if v.Sealed == nil {
		v.Sealed = json.RawMessage("null")
	}
	if e.NoKey {
		d.Closed++
	}
	d.Records = append(d.Records, v)
}

// describe says from which take of the subject a file comes.
func (f *HeldFile) describe(takes []*session.Take, code string) {
	for _, t := range takes {
		if t.Subject != code {
			continue
		}
		f.Session, f.Take = t.Session, t.Ref()
		for i := range t.Files {
			if t.Files[i].Hash == f.Hash && i < len(t.Names) {
				f.Name = t.Names[i]
			}
		}
	}
}

// RecordDisclosed records that a subject was given what is held about them.
func (l *Loop) RecordDisclosed(ctx context.Context, code, note string) error {
	if err := l.May(people.Disclose); err != nil {
		return err
	}
	d, err := roster.Disclosed(l.State.Roster, l.by, code, l.Today(), note)
	if err != nil {
		return err
	}
	_, err = l.Append(ctx, d)
	return err
}
