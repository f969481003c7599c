package forget

import (
	"context"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"mien/asset"
	"mien/asset/terms"
	"mien/catalog"
	"mien/catalog/day"
	"mien/catalog/policy"
	"mien/catalog/projection"
	"mien/catalog/record"
	"mien/catalog/request"
	"mien/catalog/roster"
	"mien/catalog/session"
)

// studio is a catalog with three subjects.
type studio struct {
	testing.TB
	*catalog.Catalog
}

func newStudio(t testing.TB) *studio {
	t.Helper()
	now := time.Date(2026, 10, 3, 9, 0, 0, 0, time.UTC)
	c, err := catalog.Init(context.Background(), filepath.Join(t.TempDir(), "catalog"), catalog.InitOptions{Now: func() time.Time {
		now = now.Add(time.Second)
		return now
	}})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	s := &studio{t, c}
	for _, code := range []string{"ath-0001", "ath-0002", "ath-0003"} {
		s.do(roster.Add(s.state().Roster, "m-1", roster.New{Code: code, Name: "Name of " + code}))
	}
	return s
}

func (s *studio) entries() []record.Entry {
	s.Helper()
	entries, err := s.Entries(context.Background())
	if err != nil {
		s.Fatal(err)
	}
	return entries
}

func (s *studio) state() *projection.State {
	st, problems := projection.Fold(s.entries())
	if len(problems) > 0 {
		s.Fatal(problems)
	}
	return st
}

func (s *studio) holdings() *Holdings { return Of(s.entries(), s.state()) }

func (s *studio) do(d record.Draft, err error) record.ID {
	s.Helper()
	if err != nil {
		s.Fatal(err)
	}
	ids, err := s.Append(context.Background(), []record.Draft{d})
	if err != nil {
		s.Fatal(err)
	}
	return ids[0]
}

func (s *studio) put(text string) session.File {
	s.Helper()
	h, n, _, err := s.Store().Put(context.Background(), strings.NewReader(text))
	if err != nil {
		s.Fatal(err)
	}
	return session.File{Hash: h, Size: n, Kind: asset.KindMesh}
}

// intake files one take, with as many files as there are texts.
func (s *studio) intake(subject string, number int, texts ...string) *session.Take {
	s.Helper()
	on := day.Day("2026-10-03")
	k := session.TakeOpen{Shot: policy.Shot{Part: "head", Pose: "neutral"}, Number: number, Stage: asset.StageRaw}
	var names []string
	for _, text := range texts {
		k.Files = append(k.Files, s.put(text))
		names = append(names, text+".glb")
	}
	id := s.do(session.Intake(s.state().Session, "m-1", subject, session.IntakeOpen{Session: session.Name(on, 'a', "road"), Captured: on, Takes: []session.TakeOpen{k}},
		session.IntakeSealed{Takes: []session.TakeSealed{{Names: names}}}))
	return s.state().Session.Take(session.TakeID(id, 0))
}

func (s *studio) carryOut() *Done {
	s.Helper()
	d, err := s.holdings().CarryOut(context.Background(), s.Catalog)
	if err != nil {
		s.Fatal(err)
	}
	return d
}

func (s *studio) has(text string) bool {
	ok, err := s.Store().Has(context.Background(), asset.HashBytes([]byte(text)))
	if err != nil {
		s.Fatal(err)
	}
	return ok
}

func (s *studio) wantStore(texts ...string) {
	s.Helper()
	n := 0
	for _, text := range texts {
		if !s.has(text) {
			s.Errorf("%q is gone", text)
		}
	}
	err := filepath.WalkDir(filepath.Join(s.Dir(), "store"), func(path string, d os.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			n++
		}
		return err
	})
	if err != nil || n != len(texts) {
		s.Errorf("%d files in the store, want %d, %v", n, len(texts), err)
	}
	rep, err := Verify(context.Background(), s.Catalog, nil)
	if err != nil || rep.Err() != nil || rep.Spare != 0 {
		s.Errorf("%v %+v", err, rep)
	}
}

// Only what nobody else uses goes: a file of two subjects stays, one of two erased subjects goes with the
// second, and a photo goes although no record tells its size.
func TestErasureRemovesWhatNobodyElseUses(t *testing.T) {
	s := newStudio(t)
	s.intake("ath-0001", 1, "own", "shared with two")
	s.intake("ath-0002", 1, "shared with two", "shared with three")
	s.intake("ath-0003", 1, "shared with three")
	photo := s.put("photo")
	s.do(request.Sight(s.state().Request, "a-1", request.Report{Subject: "ath-0001", Kind: terms.Tattoo, Region: "neck-front", Source: terms.FromAgent, Seen: "2026-10-02", Photo: photo.Hash}))
	own, shared := s.holdings().Files("ath-0001")
	if len(own) != 2 || len(shared) != 1 || !slices.Equal(s.holdings().Users(shared[0]), []string{"ath-0001", "ath-0002"}) {
		t.Errorf("own %v, shared %v", own, shared)
	}
	if d := s.carryOut(); d.Files != 0 || len(d.Subjects) != 0 {
		t.Errorf("nobody was erased: %+v", d)
	}
	s.wantStore("own", "shared with two", "shared with three", "photo")

	s.do(roster.Erase(s.state().Roster, "p-1", "ath-0001"))
	if due, err := Due(s.Catalog, s.state()); !due || err != nil {
		t.Error("an erasure was due", err)
	}
	if d := s.carryOut(); d.Files != 2 || d.Bytes != int64(len("own")+len("photo")) || !slices.Equal(d.Subjects, []string{"ath-0001"}) {
		t.Errorf("%+v", d)
	}
	if due, err := Due(s.Catalog, s.state()); due || err != nil {
		t.Error("an erasure is still due", err)
	}
	s.wantStore("shared with two", "shared with three")
	s.do(roster.Erase(s.state().Roster, "p-1", "ath-0002"))
	s.carryOut()
	s.wantStore("shared with three")
	if d := s.carryOut(); d.Files != 0 || len(d.Subjects) != 0 {
		t.Errorf("done twice: %+v", d)
	}
	v, err := s.state().Roster.Get("ath-0003")
	if err != nil || v.Name != "Name of ath-0003" {
		t.Errorf("%+v %v", v, err)
	}
}

// A take that was filed under the wrong subject goes with the right one, and stays when the wrong one goes.
func TestErasureFollowsRefiling(t *testing.T) {
	for _, erased := range []string{"ath-0001", "ath-0002"} {
		s := newStudio(t)
		k := s.intake("ath-0001", 1, "of two in truth")
		s.intake("ath-0001", 2, "of one")
		s.do(session.Refile(s.state().Session, "m-1", k.Ref(), "ath-0002", policy.Shot{}, 0, "wrong person"))
		s.do(roster.Erase(s.state().Roster, "p-1", erased))
		s.carryOut()
		if erased == "ath-0001" {
			s.wantStore("of two in truth")
		} else {
			s.wantStore("of one")
		}
	}
}

// A hold that another site set before it heard of the erasure keeps key and files until it is lifted.
func TestAHoldStopsTheCarryingOut(t *testing.T) {
	s := newStudio(t)
	s.intake("ath-0001", 1, "held")
	before := s.state()
	s.do(roster.Erase(before.Roster, "p-1", "ath-0001"))
	s.do(roster.SetHold(before.Roster, "p-2", "ath-0001", true, "a dispute"))
	if d := s.carryOut(); d.Files != 0 || !slices.Equal(d.Held, []string{"ath-0001"}) {
		t.Errorf("%+v", d)
	}
	s.wantStore("held")
	lift, err := roster.SetHold(s.state().Roster, "p-2", "ath-0001", false, "settled")
	if err != nil {
		t.Fatal(err)
	}
	if err := s.state().Check(lift); err != nil || lift.Sealed != nil {
		t.Errorf("the hold cannot be lifted: %v", err)
	}
	s.do(lift, nil)
	if d := s.carryOut(); d.Files != 1 {
		t.Errorf("%+v", d)
	}
	s.wantStore()
}

// After the erasure nothing about the subject can be sealed again, and nothing of it stands in a file.
func TestNothingIsLeftInClear(t *testing.T) {
	s := newStudio(t)
	s.intake("ath-0001", 1, "bytes of the scan")
	s.do(roster.Erase(s.state().Roster, "p-1", "ath-0001"))
	s.carryOut()
	for _, words := range []string{"Name of ath-0001", "bytes of the scan"} {
		err := filepath.WalkDir(s.Dir(), func(path string, d os.DirEntry, err error) error {
			if err != nil || d.IsDir() {
				return err
			}
			if b, err := os.ReadFile(path); err != nil || strings.Contains(string(b), words) {
				t.Errorf("%s holds %q %v", path, words, err)
			}
			return nil
		})
		if err != nil {
			t.Error(err)
		}
	}
	_, err := s.Append(context.Background(), []record.Draft{{Kind: "subject.set", Subject: "ath-0001", Open: struct{}{}, Sealed: roster.Noted{Note: "x"}}})
	if err == nil {
		t.Error("a new key was made for an erased subject")
	}
	for _, k := range s.state().Session.Takes("ath-0001") {
		if k.Standing != session.Withdrawn || k.Names != nil {
			t.Errorf("%+v", k)
		}
	}
}
