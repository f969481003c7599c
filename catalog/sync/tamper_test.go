package sync

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"mien/asset"
	"mien/catalog"
	"mien/catalog/forget"
	"mien/catalog/git"
	"mien/catalog/record"
	"mien/catalog/roster"
)

// checkFiles says whether a copy holds exactly the files that somebody who was not erased uses. A file may be
// lost in one case: those who use it were erased and are under a hold, no copy has it any more, and this one
// awaits it. Then every copy that had it had carried the erasure out before it heard of the hold.
func (p *place) checkFiles(all []*place) error {
	entries, err := p.Entries(context.Background())
	if err != nil {
		return err
	}
	state := p.state()
	h := forget.Of(entries, state)
	rep, err := p.VerifyExcept(context.Background(), h.Erased, nil)
	if err == nil {
		err = rep.Err()
	}
	if err != nil {
		return err
	}
	if rep.Spare > 0 {
		return errors.New(p.Site() + ": holds files that nobody uses")
	}
	awaited, err := p.Awaited()
	if err != nil {
		return err
	}
	for _, v := range state.Session.Takes("") {
		for _, f := range v.Files {
			lost := !h.Erased(f.Hash) && slices.Contains(awaited, f.Hash)
			for _, user := range h.Users(f.Hash) {
				s, err := state.Roster.Get(user)
				lost = lost && err == nil && s.Erased
			}
			for _, other := range all {
				lost = lost && !other.has(f.Hash)
			}
			if p.has(f.Hash) == h.Erased(f.Hash) && !lost {
				return errors.New(p.Site() + ": file " + f.Hash.Short() + " of " + v.Subject)
			}
		}
	}
	return nil
}

// tamper commits a file to the records of a copy behind its back.
func tamper(t *testing.T, dir, path string, data []byte) {
	t.Helper()
	r, err := git.Open(filepath.Join(dir, "records.git"))
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	head, err := r.Head()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := r.Append(head, git.Batch{Files: []git.File{{Path: path, Data: data}}, Author: "nobody", When: start, Message: "x"}); err != nil {
		t.Fatal(err)
	}
}

// Records of a copy that are not what their path says are set aside; the sound ones come; nothing is
// written to that copy, and ours stays whole.
func TestTamperedRecordsAreSetAside(t *testing.T) {
	a := first(t)
	a.do(roster.Add(a.state().Roster, "manager-1", roster.New{Code: "ath-0147"}))
	dir := filepath.Join(t.TempDir(), "copy")
	a.sync(dir, Options{WithKeys: true})
	b := open(t, dir, 0)
	b.scan("ath-0147", "sound")
	entries, err := b.Entries(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	path := entries[len(entries)-1].Path()
	forged := strings.Replace(path, "-0-", "-1-", 1)
	tamper(t, dir, forged, []byte(`{"after":[],"open":{}}`))
	a.scan("ath-0147", "of ours")

	r := a.sync(dir, Options{})
	if len(r.Aside) != 1 || r.Aside[0].Path != forged || r.Records.Came != 1 || r.Records.Went != 0 || !catalog.IsDamage(r.Err()) {
		t.Fatalf("%+v", r)
	}
	kept, err := os.ReadFile(filepath.Join(a.Dir(), r.Aside[0].Kept))
	if err != nil || !bytes.Equal(kept, []byte(`{"after":[],"open":{}}`)) {
		t.Errorf("kept %q, %v", kept, err)
	}
	if n := len(a.state().Session.Takes("")); n != 2 {
		t.Errorf("%d takes here, want ours and theirs", n)
	}
	a.whole()
	again := a.sync(dir, Options{})
	if len(again.Aside) != 1 || again.Records.Came != 0 {
		t.Errorf("%+v", again)
	}
	a.whole()
}

// A record that is sound but for one changed word does not come in, whether it stands under the old path or
// a new one.
func TestChangedRecordsAreSetAside(t *testing.T) {
	ctx := context.Background()
	a := first(t)
	a.do(roster.Add(a.state().Roster, "manager-1", roster.New{Code: "ath-0147", Tier: 2}))
	dir := filepath.Join(t.TempDir(), "copy")
	a.sync(dir, Options{})
	b := open(t, dir, 0)
	text, _, err := record.Encode(record.Draft{Kind: "subject.set", Subject: "ath-0147", Open: roster.SetOpen{Tier: 1}},
		record.Stamp{Ms: start.UnixMilli(), Site: b.Site()}, nil)
	if err != nil {
		t.Fatal(err)
	}
	own := (&record.Entry{ID: record.IDOf(text), At: record.Stamp{Ms: start.UnixMilli(), Site: b.Site()}}).Path()
	tamper(t, dir, own, bytes.Replace(text, []byte(`"tier":1`), []byte(`"tier":3`), 1))
	tamper(t, dir, strings.Replace(own, "-0-", "-7-", 1), text)
	r := a.sync(dir, Options{})
	if len(r.Aside) != 2 || r.Records != (Both{}) {
		t.Errorf("%+v", r)
	}
	if entries, err := a.Entries(ctx); err != nil || len(entries) != 2 {
		t.Errorf("%d records, %v", len(entries), err)
	}
	a.whole()
}

// The same path with other bytes: the record whose id the path carries is ours and stays.
func TestOtherBytesUnderOnePath(t *testing.T) {
	a := first(t)
	a.do(roster.Add(a.state().Roster, "manager-1", roster.New{Code: "ath-0147"}))
	dir := filepath.Join(t.TempDir(), "copy")
	a.sync(dir, Options{})
	a.scan("ath-0147", "of ours")
	entries, _ := a.Entries(context.Background())
	path := entries[len(entries)-1].Path()
	tamper(t, dir, path, []byte(`{}`))
	r := a.sync(dir, Options{})
	if len(r.Aside) != 1 || r.Aside[0].Path != path || r.Records != (Both{}) {
		t.Errorf("%+v", r)
	}
	a.whole()
}

// A copy that is damaged itself does not spread it: the sync stops.
func TestOwnDamageStops(t *testing.T) {
	a := first(t)
	dir := filepath.Join(t.TempDir(), "copy")
	a.sync(dir, Options{})
	b := open(t, dir, 0)
	tamper(t, a.Dir(), "e/x/1.json", []byte(`{}`))
	if _, err := Run(context.Background(), a.Catalog, dir, Options{}); !catalog.IsDamage(err) {
		t.Errorf("%v", err)
	}
	b.whole()
	if n := len(b.state().Roster.List()); n != 0 {
		t.Error("damage went over")
	}
}

// A record from the far future is kept and told, and does not take our clock along.
func TestFarFuture(t *testing.T) {
	a := first(t)
	a.do(roster.Add(a.state().Roster, "manager-1", roster.New{Code: "ath-0147"}))
	dir := filepath.Join(t.TempDir(), "copy")
	a.sync(dir, Options{WithKeys: true})
	b := open(t, dir, 90*24*time.Hour)
	b.do(roster.Set(b.state().Roster, "manager-1", "ath-0147", roster.Change{Tier: 3}))
	if r := a.sync(dir, Options{}); len(r.Far) != 1 || r.Records.Came != 1 {
		t.Errorf("%+v", r)
	}
	a.scan("ath-0147", "later")
	entries, _ := a.Entries(context.Background())
	if last := entries[len(entries)-1]; last.At.Site != b.Site() {
		t.Errorf("our clock followed to %v", last.At.Time())
	}
}

// A file that one store has damaged does not travel, and the others do.
func TestDamagedFilesDoNotTravel(t *testing.T) {
	a := first(t)
	a.do(roster.Add(a.state().Roster, "manager-1", roster.New{Code: "ath-0147"}))
	var all []asset.Hash
	for _, text := range []string{"one mesh", "two mesh", "three mesh"} {
		all = append(all, a.scan("ath-0147", text))
	}
	bad := filepath.Join(a.Dir(), "store", all[1].String()[:2], all[1].String())
	os.Chmod(bad, 0o600)
	os.WriteFile(bad, []byte("two mess"), 0o600)
	dir := filepath.Join(t.TempDir(), "copy")
	r := a.sync(dir, Options{})
	if r.Files.Went != 2 || len(r.Faults) != 1 || !catalog.IsDamage(r.Err()) || r.Awaited.Went != 1 {
		t.Errorf("%+v", r)
	}
	b := open(t, dir, 0)
	if !b.has(all[0]) || b.has(all[1]) || !b.has(all[2]) {
		t.Error("the wrong files went")
	}
	b.whole()
}

// Both branches move while the records are on their way: the meeting begins again.
func TestHeadsMoveDuringAMeeting(t *testing.T) {
	a := first(t)
	a.do(roster.Add(a.state().Roster, "manager-1", roster.New{Code: "ath-0147"}))
	dir := filepath.Join(t.TempDir(), "copy")
	a.sync(dir, Options{WithKeys: true})
	b := open(t, dir, 0)
	for _, times := range []int{1, 2, 9} {
		a.do(roster.Set(a.state().Roster, "manager-1", "ath-0147", roster.Change{Tier: 1}))
		b.do(roster.Set(b.state().Roster, "manager-1", "ath-0147", roster.Change{Tier: 3}))
		n := 0
		ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
		writers := []string{a.Dir(), dir}
		r, err := Run(ctx, a.Catalog, dir, Options{RecordsOnly: true, Progress: func(step string, done, total int64) {
			if step == "records" && done == 1 && n < times {
				n++
				c, err := catalog.Open(ctx, writers[n%2], catalog.Options{})
				if err != nil {
					t.Error(err)
					return
				}
				defer c.Close()
				short, stop := context.WithTimeout(ctx, 50*time.Millisecond)
				defer stop()
				c.Append(short, []record.Draft{{Kind: "subject.set", Subject: "ath-0147", Open: roster.SetOpen{Tier: 2}}})
			}
		}})
		cancel()
		if err != nil || n < min(times, 2) {
			t.Fatalf("%d times: %v, moved %d times, %+v", times, err, n, r)
		}
		if picture(a.state()) != picture(b.state()) && times < 3 {
			t.Errorf("%d times: the copies differ", times)
		}
	}
	a.sync(dir, Options{})
	if picture(a.state()) != picture(b.state()) {
		t.Error("the copies differ")
	}
	a.whole()
	b.whole()
}

// Writers on both sides go on while two copies meet, again and again; nothing is lost.
func TestWritersGoOn(t *testing.T) {
	ctx := context.Background()
	a := first(t)
	a.do(roster.Add(a.state().Roster, "manager-1", roster.New{Code: "ath-0147"}))
	dir := filepath.Join(t.TempDir(), "copy")
	a.sync(dir, Options{WithKeys: true})
	const each = 15
	done := make(chan error, 2)
	for _, folder := range []string{a.Dir(), dir} {
		go func() {
			c, err := catalog.Open(ctx, folder, catalog.Options{})
			for i := 0; err == nil && i < each; i++ {
				var d = roster.Change{Tier: 1 + i%3}
				s := &place{TB: t, Catalog: c}
				s.do(roster.Set(s.state().Roster, "manager-1", "ath-0147", d))
			}
			done <- err
		}()
	}
	for left := 2; left > 0; {
		select {
		case err := <-done:
			if left--; err != nil {
				t.Fatal(err)
			}
		default:
			a.sync(dir, Options{})
		}
	}
	a.sync(dir, Options{})
	b := open(t, dir, 0)
	for _, s := range []*place{a, b} {
		entries, err := s.Entries(ctx)
		if err != nil || len(entries) != 2+2*each {
			t.Errorf("%s: %d records, want %d, %v", s.Site(), len(entries), 2+2*each, err)
		}
		s.whole()
	}
}
