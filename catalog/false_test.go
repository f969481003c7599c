package catalog

import (
	"bytes"
	"context"
	"strings"
	"testing"
	"time"

	"mien/catalog/git"
	"mien/catalog/record"
)

// smuggle adds bytes to the history as a malicious or broken program could.
func smuggle(t *testing.T, c *Catalog, path string, text []byte) {
	t.Helper()
	head, err := c.repo.Head()
	if err != nil {
		t.Fatal(err)
	}
	b := git.Batch{Files: []git.File{{Path: path, Data: text}}, Author: "x", When: time.Unix(0, 0), Message: "m"}
	if _, err := c.repo.Append(head, b); err != nil {
		t.Fatal(err)
	}
}

// TestFalseRecordsAreFound puts records into the history that this package would never write.
func TestFalseRecordsAreFound(t *testing.T) {
	ctx := context.Background()
	for _, test := range []struct {
		name string
		make func(c *Catalog, good []byte) (path string, text []byte)
		want string // of a fault
		note string
		read bool // entries can still be read
	}{
		{"another path", func(c *Catalog, good []byte) (string, []byte) {
			e, _ := record.Decode(good, c.keys)
			return strings.Replace(e.Path(), "e/", "e/x", 1), good
		}, "its own path is", "", false},
		{"not canonical", func(c *Catalog, good []byte) (string, []byte) {
			text := bytes.Replace(good, []byte(`"by":"manager-1"`), []byte(`"by":"manager\u002d1"`), 1)
			e, _ := record.Decode(text, noRing{})
			return e.Path(), text
		}, "not in canonical form", "", false},
		{"body of another record", func(c *Catalog, good []byte) (string, []byte) {
			text := bytes.Replace(good, []byte(`"tier":2`), []byte(`"tier":1`), 1)
			e, _ := record.Decode(text, noRing{})
			return e.Path(), text
		}, "does not match its key and open fields", "", false},
		{"unknown reference", func(c *Catalog, _ []byte) (string, []byte) {
			d := draft(3)
			d.After = []record.ID{{1, 2, 3}}
			text, _, _ := record.Encode(d, c.clock.Next(), c.keys)
			e, _ := record.Decode(text, c.keys)
			return e.Path(), text
		}, "names record 041060", "", true},
		{"no record", func(*Catalog, []byte) (string, []byte) { return "e/x/notes.txt", []byte("hello") }, "byte 0", "", false},
		{"far future of another site", func(c *Catalog, _ []byte) (string, []byte) {
			text, _, _ := record.Encode(draft(3), record.Stamp{Ms: c.now().AddDate(1, 0, 0).UnixMilli(), Site: "road-0001"}, c.keys)
			e, _ := record.Decode(text, c.keys)
			return e.Path(), text
		}, "", "ahead of this machine's clock", true},
		{"second beginning", func(c *Catalog, _ []byte) (string, []byte) {
			text, _, _ := record.Encode(record.Draft{Kind: KindCreate, Open: map[string]any{"catalog": c.ID()}}, c.clock.Next(), c.keys)
			e, _ := record.Decode(text, c.keys)
			return e.Path(), text
		}, "2 records of kind catalog.create", "", true},
	} {
		t.Run(test.name, func(t *testing.T) {
			c := start(t)
			if _, err := c.Append(ctx, drafts(2)); err != nil {
				t.Fatal(err)
			}
			good, _, err := record.Encode(draft(1), c.clock.Next(), c.keys)
			if err != nil {
				t.Fatal(err)
			}
			path, text := test.make(c, good)
			smuggle(t, c, path, text)
			rep, err := c.Verify(ctx, nil)
			if err != nil {
				t.Fatal(err)
			}
			var all []string
			for _, f := range rep.Faults {
				all = append(all, f.Fault)
			}
			faults, notes := strings.Join(all, "\n"), strings.Join(rep.Notes, "\n")
			if (test.want == "") != (faults == "") || !strings.Contains(faults, test.want) || !strings.Contains(notes, test.note) {
				t.Errorf("faults %q, notes %q", faults, notes)
			}
			_, err = c.Entries(ctx)
			if test.read && err != nil || !test.read && !IsDamage(err) && test.name != "not canonical" {
				t.Errorf("entries: %v", err)
			}
			if test.note == "" {
				return
			}
			if _, err := c.Append(ctx, drafts(1)); err != nil { // the far record must not drag our clock along
				t.Fatal(err)
			}
			entries, err := c.Entries(ctx)
			if err != nil || entries[len(entries)-1].At.Site != "road-0001" {
				t.Errorf("last entry at %+v, %v", entries[len(entries)-1].At, err)
			}
		})
	}
}

type noRing struct{}

func (noRing) Unseal(string, []byte, record.Box) ([]byte, error) { return nil, record.ErrNoKey }

// TestClockPassesOverTheFarFuture gives another site a record that is an hour ahead and one that is a year
// ahead: our next record comes after the first and not after the second.
func TestClockPassesOverTheFarFuture(t *testing.T) {
	ctx := context.Background()
	c := start(t)
	hour, year := c.now().Add(time.Hour).UnixMilli(), c.now().AddDate(1, 0, 0).UnixMilli()
	for _, ms := range []int64{hour, year} {
		text, _, err := record.Encode(draft(3), record.Stamp{Ms: ms, Site: "road-0001"}, c.keys)
		if err != nil {
			t.Fatal(err)
		}
		e, err := record.Decode(text, c.keys)
		if err != nil {
			t.Fatal(err)
		}
		smuggle(t, c, e.Path(), text)
	}
	ids, err := c.Append(ctx, drafts(1))
	if err != nil {
		t.Fatal(err)
	}
	entries, err := c.Entries(ctx)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if e.ID == ids[0] && (e.At.Ms != hour || e.At.N != 1) {
			t.Errorf("written at %+v, want (%d, 1)", e.At, hour)
		}
	}
}
