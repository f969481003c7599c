package sync

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"mien/asset"
	"mien/catalog"
	"mien/catalog/day"
	"mien/catalog/forget"
	"mien/catalog/projection"
	"mien/catalog/record"
	"mien/catalog/roster"
	"mien/catalog/session"
)

// Each step of a drawn test writes to the disk and waits for it, so a few runs are what time allows.
func TestMain(m *testing.M) {
	if task := os.Getenv(childEnv); task != "" {
		os.Exit(child(strings.Split(task, "\n")))
	}
	flag.Parse()
	if f := flag.Lookup("rapid.checks"); f.Value.String() == f.DefValue {
		flag.Set("rapid.checks", "6")
	}
	os.Exit(m.Run())
}

// place is one copy with a clock of its own.
type place struct {
	testing.TB
	*catalog.Catalog
	now time.Time
	n   int
}

func (p *place) clock() time.Time {
	p.now = p.now.Add(time.Second)
	return p.now
}

var start = time.Date(2026, 10, 3, 9, 0, 0, 0, time.UTC)

func first(t testing.TB) *place {
	t.Helper()
	p := &place{TB: t, now: start}
	c, err := catalog.Init(context.Background(), filepath.Join(t.TempDir(), "studio"), catalog.InitOptions{Site: "studio", Now: p.clock})
	if err != nil {
		t.Fatal(err)
	}
	return p.hold(c)
}

func (p *place) hold(c *catalog.Catalog) *place {
	p.Catalog = c
	p.Cleanup(func() { c.Close() })
	return p
}

// open opens a copy that a sync has made, with a clock that is wrong by skew.
func open(t testing.TB, dir string, skew time.Duration) *place {
	t.Helper()
	p := &place{TB: t, now: start.Add(skew)}
	c, err := catalog.Open(context.Background(), dir, catalog.Options{Now: p.clock})
	if err != nil {
		t.Fatal(err)
	}
	return p.hold(c)
}

func (p *place) sync(dir string, o Options) *Report {
	p.Helper()
	r, err := Run(context.Background(), p.Catalog, dir, o)
	if err != nil {
		p.Fatal(err)
	}
	return r
}

func (p *place) state() *projection.State {
	p.Helper()
	entries, err := p.Entries(context.Background())
	if err != nil {
		p.Fatal(err)
	}
	s, _ := projection.Fold(entries)
	return s
}

// do records what a command drafts; a command that is refused records nothing.
func (p *place) do(d record.Draft, err error) (done bool) {
	p.Helper()
	if err == nil {
		err = p.state().Check(d)
	}
	if err != nil {
		return false
	}
	if _, err := p.Append(context.Background(), []record.Draft{d}); err != nil {
		p.Fatal(err)
	}
	return true
}

// scan stores a file and takes it in. If the intake is refused, the file goes again.
func (p *place) scan(subject, text string) asset.Hash {
	p.Helper()
	ctx := context.Background()
	h, size, existed, err := p.Store().Put(ctx, strings.NewReader(text))
	if err != nil {
		p.Fatal(err)
	}
	p.n++
	on := day.Of(start)
	in := session.IntakeOpen{Session: session.Name(on, 'a', strings.SplitN(p.Site(), "-", 2)[0]), Captured: on,
		Takes: []session.TakeOpen{{Number: p.n, Stage: asset.StageRaw, Files: []session.File{{Hash: h, Size: size, Kind: asset.KindMesh}}}}}
	in.Takes[0].Part, in.Takes[0].Pose = "head", "neutral"
	taken := p.do(session.Intake(p.state().Session, "manager-1", subject, in, session.IntakeSealed{Note: "note of " + subject,
		Takes: []session.TakeSealed{{Names: []string{subject + "-head.glb"}}}}))
	if !taken && !existed {
		if err := p.Store().Remove(ctx, h); err != nil {
			p.Fatal(err)
		}
	}
	return h
}

func (p *place) has(h asset.Hash) bool {
	p.Helper()
	ok, err := p.Store().Has(context.Background(), h)
	if err != nil {
		p.Fatal(err)
	}
	return ok
}

func (p *place) whole() {
	p.Helper()
	rep, err := p.Verify(context.Background(), nil)
	if err != nil || rep.Err() != nil {
		p.Errorf("%s: %v %+v", p.Site(), err, rep)
	}
}

// picture is what a state says, by value.
func picture(s *projection.State) string {
	var b strings.Builder
	for _, v := range s.Roster.List() {
		fmt.Fprintln(&b, v.Code, v.Name, v.Note, v.Tier, v.Squads, v.Consents, v.Hold, v.Erased, v.NoKey)
	}
	for _, t := range s.Session.Takes("") {
		fmt.Fprintln(&b, t.Ref(), t.Subject, t.Session, t.Number, t.Standing, t.Contested, t.Names)
	}
	return b.String()
}

func TestACopyIsMadeAndMeets(t *testing.T) {
	a := first(t)
	a.do(roster.Add(a.state().Roster, "manager-1", roster.New{Code: "ath-0147", Name: "Ila Morn"}))
	h := a.scan("ath-0147", "a mesh")
	dir := filepath.Join(t.TempDir(), "disk", "copy")
	r := a.sync(dir, Options{Site: "road"})
	if !r.Made || r.Records.Went != 3 || r.Files.Went != 1 || r.Bytes.Went != 6 || r.Keys.Went == 0 || r.KeysMoved || !strings.HasPrefix(r.RemoteSite, "road-") {
		t.Errorf("%+v", r)
	}
	b := open(t, dir, time.Hour)
	b.whole()
	if !b.has(h) || b.ID() != a.ID() || b.Site() == a.Site() || b.Site() != r.RemoteSite {
		t.Errorf("copy %s of %s at %s", b.ID(), a.ID(), b.Site())
	}
	if v, err := b.state().Roster.Get("ath-0147"); err != nil || v.Name != "" || !v.NoKey {
		t.Errorf("without keys: %+v %v", v, err)
	}
	if r := a.sync(dir, Options{WithKeys: true}); !r.KeysMoved || r.Made {
		t.Errorf("%+v", r)
	}
	if v, err := b.state().Roster.Get("ath-0147"); err != nil || v.Name != "Ila Morn" {
		t.Errorf("with keys: %+v %v", v, err)
	}
	h2 := b.scan("ath-0147", "another mesh")
	a.do(roster.SetHold(a.state().Roster, "privacy-1", "ath-0147", true, "a dispute"))
	if r := a.sync(dir, Options{}); r.Records.Came != 1 || r.Records.Went != 1 || r.Files.Came != 1 || r.Files.Went != 0 {
		t.Errorf("%+v", r)
	}
	if !a.has(h2) || picture(a.state()) != picture(b.state()) {
		t.Error("the copies differ")
	}
	if r := a.sync(dir, Options{}); r.Records != (Both{}) || r.Files != (Both{}) || r.Awaited != (Both{}) {
		t.Errorf("nothing was left to do: %+v", r)
	}
	a.whole()
	b.whole()
}

func TestRecordsOnly(t *testing.T) {
	a := first(t)
	a.do(roster.Add(a.state().Roster, "manager-1", roster.New{Code: "ath-0147"}))
	h := a.scan("ath-0147", "a mesh")
	dir := filepath.Join(t.TempDir(), "copy")
	if r := a.sync(dir, Options{RecordsOnly: true}); r.Files != (Both{}) || r.Awaited != (Both{Went: 1}) {
		t.Errorf("%+v", r)
	}
	b := open(t, dir, 0)
	b.whole() // a file that has not come yet is no damage
	if b.has(h) {
		t.Error("the file went")
	}
	if r := a.sync(dir, Options{}); r.Files.Went != 1 || r.Awaited != (Both{}) {
		t.Errorf("%+v", r)
	}
	if err := os.Remove(b.Dir() + "/store/" + h.String()[:2] + "/" + h.String()); err != nil {
		t.Fatal(err)
	}
	if rep, _ := b.Verify(context.Background(), nil); rep.Err() == nil {
		t.Error("a file that had come and was lost is damage")
	}
	if r := a.sync(dir, Options{}); r.Files.Went != 1 {
		t.Errorf("%+v", r)
	}
	b.whole()
}

// A sync that is stopped at any moment leaves two whole copies, and the next one ends the work.
func TestASyncCutShort(t *testing.T) {
	a := first(t)
	dir := filepath.Join(t.TempDir(), "copy")
	a.do(roster.Add(a.state().Roster, "manager-1", roster.New{Code: "ath-0147"}))
	a.scan("ath-0147", "zero")
	for stop := 0; ; stop++ {
		ctx, cancel := context.WithCancel(context.Background())
		n := 0
		_, err := Run(ctx, a.Catalog, dir, Options{Progress: func(string, int64, int64) {
			if n++; n > 3*stop {
				cancel()
			}
		}})
		cancel()
		a.whole()
		if b, err := catalog.Open(context.Background(), dir, catalog.Options{}); err == nil {
			if rep, err := b.Verify(context.Background(), nil); err != nil || rep.Err() != nil {
				t.Errorf("stopped after %d: %v %+v", 3*stop, err, rep)
			}
			if stop < 4 {
				(&place{TB: t, Catalog: b, n: 10 * stop}).scan("ath-0147", fmt.Sprint("there ", stop))
				a.scan("ath-0147", fmt.Sprint("here ", stop))
			}
			b.Close()
		}
		if err == nil {
			break
		}
		if !errors.Is(err, context.Canceled) {
			t.Fatal(err)
		}
	}
	if r := a.sync(dir, Options{}); r.Awaited != (Both{}) {
		t.Errorf("%+v", r)
	}
	b := open(t, dir, 0)
	b.whole()
	if x, y := len(a.state().Session.Takes("")), len(b.state().Session.Takes("")); x != y {
		t.Errorf("%d takes here, %d there", x, y)
	}
}

// Three sites whose clocks are up to a day and a half wrong write, meet in any order, erase and hold: once
// all have met, all fold to the same state and hold the same files.
func TestThreeSitesAgree(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		a := first(t)
		codes := []string{"ath-0001", "ath-0002", "ath-0003"}
		for _, code := range codes {
			a.do(roster.Add(a.state().Roster, "manager-1", roster.New{Code: code, Name: "Name of " + code}))
		}
		dirs := []string{a.Dir(), filepath.Join(t.TempDir(), "b"), filepath.Join(t.TempDir(), "c")}
		keys := Options{WithKeys: true}
		a.sync(dirs[1], keys)
		a.sync(dirs[2], keys)
		skew := rapid.Int64Range(-36, 36)
		sites := []*place{a, open(t, dirs[1], time.Duration(skew.Draw(rt, "skew b"))*time.Hour), open(t, dirs[2], time.Duration(skew.Draw(rt, "skew c"))*time.Hour)}
		for _, s := range sites {
			defer s.Close()
		}
		for k := range rapid.IntRange(3, 9).Draw(rt, "steps") {
			s := sites[rapid.IntRange(0, 2).Draw(rt, "site")]
			code := rapid.SampledFrom(codes).Draw(rt, "code")
			switch rapid.IntRange(0, 5).Draw(rt, "what") {
			case 0:
				s.sync(dirs[rapid.SampledFrom(others(sites, s)).Draw(rt, "with")], keys)
			case 1:
				s.do(roster.Set(s.state().Roster, "manager-1", code, roster.Change{Tier: 1 + k%3, Note: fmt.Sprint("note ", k)}))
			case 2:
				s.scan(code, fmt.Sprint("mesh ", rapid.IntRange(0, 2).Draw(rt, "mesh")))
			case 3:
				s.do(roster.Erase(s.state().Roster, "privacy-1", code))
			case 4:
				s.do(roster.SetHold(s.state().Roster, "privacy-1", code, k%2 == 0, ""))
			case 5:
				if takes := s.state().Session.Takes(code); len(takes) > 0 {
					s.do(session.Reject(s.state().Session, "lead-1", takes[0].Ref(), "soft"))
				}
			}
		}
		for range 2 {
			sites[0].sync(dirs[1], keys)
			sites[1].sync(dirs[2], keys)
			sites[2].sync(dirs[0], keys)
		}
		want := picture(sites[0].state())
		for _, s := range sites {
			if got := picture(s.state()); got != want {
				rt.Errorf("%s folds to\n%s\n%s to\n%s", s.Site(), got, sites[0].Site(), want)
			}
			if err := s.checkFiles(sites); err != nil {
				rt.Error(err)
			}
		}
	})
}

// A hold that is heard of after the erasure was carried out: what a copy still has comes back, and what none
// has is awaited, which is no damage, until the hold is lifted.
func TestHoldAfterErasure(t *testing.T) {
	for _, kept := range []bool{true, false} {
		a := first(t)
		a.do(roster.Add(a.state().Roster, "manager-1", roster.New{Code: "ath-0147"}))
		dirs := []string{filepath.Join(t.TempDir(), "b"), filepath.Join(t.TempDir(), "c")}
		var h asset.Hash
		if kept {
			h = a.scan("ath-0147", "a mesh")
		}
		a.sync(dirs[0], Options{WithKeys: true})
		a.sync(dirs[1], Options{WithKeys: true})
		b, c := open(t, dirs[0], 0), open(t, dirs[1], time.Hour)
		if !kept {
			h = b.scan("ath-0147", "a mesh")
		}
		c.do(roster.SetHold(c.state().Roster, "privacy-1", "ath-0147", true, "a dispute"))
		a.do(roster.Erase(a.state().Roster, "privacy-1", "ath-0147"))
		a.sync(dirs[0], Options{})
		if a.has(h) || b.has(h) {
			t.Error("the erasure was not carried out")
		}
		b.sync(dirs[1], Options{RecordsOnly: true})
		all := []*place{a, b, c}
		if rep, err := forget.Verify(context.Background(), b.Catalog, nil); err != nil || rep.Err() != nil || b.has(h) {
			t.Errorf("before the files: %v %+v", err, rep)
		}
		b.sync(dirs[1], Options{})
		r := c.sync(a.Dir(), Options{})
		if want := map[bool]int64{true: 0, false: 1}[kept]; r.Awaited != (Both{want, want}) {
			t.Errorf("%+v", r)
		}
		for _, s := range all {
			if err := s.checkFiles(all); err != nil || s.has(h) != kept {
				t.Errorf("%s: %v, file here: %v", s.Site(), err, s.has(h))
			}
		}
		a.do(roster.SetHold(a.state().Roster, "privacy-1", "ath-0147", false, ""))
		for range 2 {
			a.sync(dirs[0], Options{})
			b.sync(dirs[1], Options{})
		}
		for _, s := range all {
			list, err := s.Awaited()
			if s.has(h) || len(list) > 0 || err != nil {
				t.Errorf("%s: after the hold: awaits %v, %v", s.Site(), list, err)
			}
		}
	}
}

func others(sites []*place, s *place) []int {
	var out []int
	for i := range sites {
		if sites[i] != s {
			out = append(out, i)
		}
	}
	return out
}

func TestRefusals(t *testing.T) {
	ctx := context.Background()
	a, b := first(t), first(t)
	var other *catalog.OtherCatalogError
	if _, err := Run(ctx, a.Catalog, b.Dir(), Options{}); !errors.As(err, &other) {
		t.Errorf("another catalog: %v", err)
	}
	if _, err := Run(ctx, a.Catalog, a.Dir(), Options{}); err == nil {
		t.Error("met itself")
	}
	full := t.TempDir()
	os.WriteFile(filepath.Join(full, "holiday.txt"), nil, 0o600)
	if _, err := Run(ctx, a.Catalog, full, Options{}); err == nil || !strings.Contains(err.Error(), "holiday.txt") {
		t.Errorf("a folder of something else: %v", err)
	}
	if names, _ := os.ReadDir(full); len(names) != 1 {
		t.Errorf("left %v behind", names)
	}
	if !reflect.DeepEqual(picture(a.state()), picture(b.state())) {
		t.Error("something was recorded")
	}
}
