// Package foldtest turns drafts into entries without a catalog, for tests of folds.
package foldtest

import (
	"encoding/json"
	"fmt"
	"sort"
	"testing"
	"time"

	"mien/catalog/day"
	"mien/catalog/record"
)

// Log is the records of one site. It checks what a real catalog would refuse.
type Log struct {
	Site    string
	NowMs   int64
	Entries []record.Entry
	n       int64
	lost    map[string]bool
}

// New returns an empty log whose clock stands at noon UTC of d.
func New(site string, d day.Day) *Log {
	l := &Log{Site: site}
	l.On(d)
	return l
}

// On sets the clock to noon UTC of d. Like a hybrid clock it never goes back.
func (l *Log) On(d day.Day) {
	l.NowMs = max(l.NowMs, d.Time().Add(12*time.Hour).UnixMilli())
}

// LoseKey makes the sealed bodies of a subject's records unreadable from now on.
func (l *Log) LoseKey(subject string) {
	if l.lost == nil {
		l.lost = map[string]bool{}
	}
	l.lost[subject] = true
	for i := range l.Entries {
		if l.Entries[i].Subject == subject && l.Entries[i].Sealed != nil {
			l.Entries[i].Sealed, l.Entries[i].NoKey = nil, true
		}
	}
}

// Add appends a draft as a record one millisecond later than the last.
func (l *Log) Add(t testing.TB, d record.Draft, err error) record.Entry {
	t.Helper()
	if err != nil {
		t.Fatalf("command: %v", err)
	}
	l.NowMs++
	l.n++
	e := record.Entry{Schema: 1, Kind: d.Kind, Subject: d.Subject, By: d.By, After: d.After,
		At: record.Stamp{Ms: l.NowMs, Site: l.Site}, Open: body(t, d.Open), Sealed: body(t, d.Sealed)}
	whole := fmt.Sprintf("%s %d %d %s %s %s %s", l.Site, l.NowMs, l.n, d.Kind, d.Subject, e.Open, e.Sealed)
	e.ID = record.IDOf([]byte(whole))
	if l.lost[d.Subject] && e.Sealed != nil {
		e.Sealed, e.NoKey = nil, true
	}
	l.Entries = append(l.Entries, e)
	return e
}

func body(t testing.TB, v any) json.RawMessage {
	t.Helper()
	if v == nil {
		return nil
	}
	b, err := json.Marshal(v)
	if err != nil {
		t.Fatalf("body: %v", err)
	}
	c, err := record.Canonical(b)
	if err != nil {
		t.Fatalf("body %s is not canonical: %v", b, err)
	}
	return c
}

// Merge returns the records of all logs in the order of the fold.
func Merge(logs ...*Log) []record.Entry {
	var all []record.Entry
	for _, l := range logs {
		all = append(all, l.Entries...)
	}
	Sort(all)
	return all
}

// Sort puts entries in the order of the fold: time, counter, site, id.
func Sort(all []record.Entry) {
	sort.Slice(all, func(i, j int) bool {
		a, b := all[i], all[j]
		switch {
		case a.At.Ms != b.At.Ms:
			return a.At.Ms < b.At.Ms
		case a.At.N != b.At.N:
			return a.At.N < b.At.N
		case a.At.Site != b.At.Site:
			return a.At.Site < b.At.Site
		}
		return a.ID.String() < b.ID.String()
	})
}
