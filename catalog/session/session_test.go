package session

import (
	"errors"
	"reflect"
	"strings"
	"testing"

	"mien/asset"
	"mien/catalog/day"
	"mien/catalog/fault"
	"mien/catalog/fold/foldtest"
	"mien/catalog/policy"
	"mien/catalog/record"
)

var (
	head  = policy.Shot{Part: asset.PartHead, Pose: asset.PoseNeutral}
	body  = policy.Shot{Part: asset.PartBody, Pose: asset.PoseA}
	smile = policy.Shot{Part: asset.PartHead, Pose: "smile"}
)

type story struct {
	*testing.T
	st  *State
	log *foldtest.Log
}

func newStory(t *testing.T) *story {
	return &story{t, NewState(), foldtest.New("road", "2025-09-01")}
}

func (s *story) do(d record.Draft, err error) record.Entry {
	s.Helper()
	e := s.log.Add(s, d, err)
	if err := s.st.Apply(e); err != nil {
		s.Fatal(err)
	}
	return e
}

// take is shorthand for one take of a delivery.
type take struct {
	shot   policy.Shot
	number int
	stage  asset.Stage
	opt    string // "", "accepted", "held"
}

func delivery(session string, takes ...take) (IntakeOpen, IntakeSealed) {
	o := IntakeOpen{Session: session, Captured: day.Day(session[:10]), Rig: "rig-1", Site: "road"}
	var sealed IntakeSealed
	for _, k := range takes {
		t := TakeOpen{Shot: k.shot, Number: k.number, Stage: k.stage, Accepted: k.opt == "accepted"}
		if k.opt == "held" {
			t.Held = []string{"unit"}
		}
		name := session + k.shot.String() + string(rune('0'+k.number)) + string(k.stage)
		t.Files = []File{{Hash: asset.HashBytes([]byte(name)), Size: 9, Kind: asset.KindMesh}}
		o.Takes = append(o.Takes, t)
		sealed.Takes = append(sealed.Takes, TakeSealed{Names: []string{name + ".glb"}})
	}
	return o, sealed
}

func (s *story) intake(subject, session string, takes ...take) []record.ID {
	s.Helper()
	o, sealed := delivery(session, takes...)
	e := s.do(Intake(s.st, "m-1", subject, o, sealed))
	var ids []record.ID
	for n := range takes {
		ids = append(ids, TakeID(e.ID, n))
	}
	return ids
}

func (s *story) likeness(d day.Day) string {
	var out []string
	for _, a := range s.st.Likeness("ath-0147", d) {
		out = append(out, a.Shot.String()+" "+a.Session+" "+string(a.Best().Stage))
	}
	return strings.Join(out, ", ")
}

func TestPartialGenerationsOverlay(t *testing.T) {
	s := newStory(t)
	s.intake("ath-0147", "2025-09-01a-road", take{head, 1, asset.StageRaw, "accepted"}, take{head, 2, asset.StageRaw, ""}, take{body, 1, asset.StageRaw, "accepted"})
	s.intake("ath-0147", "2026-02-01a-road", take{head, 1, asset.StageRaw, "accepted"})
	for d, want := range map[day.Day]string{
		"2025-08-31": "",
		"2025-09-01": "body/a-pose 2025-09-01a-road raw, head/neutral 2025-09-01a-road raw",
		"2026-02-01": "body/a-pose 2025-09-01a-road raw, head/neutral 2026-02-01a-road raw",
	} {
		if got := s.likeness(d); got != want {
			t.Errorf("on %s: %q, want %q", d, got, want)
		}
	}
	g := s.st.Generations("ath-0147", []policy.Shot{body, head})
	if len(g) != 2 || g[0].Partial() || !g[1].Partial() || g[1].Number != 2 || g[1].Missing[0] != body {
		t.Errorf("%+v", g)
	}
	p := s.st.Pairs("ath-0147", "2026-02-01a-road")
	if len(p) != 1 || p[0].Shot != head || p[0].Old.Session != "2025-09-01a-road" || !p[0].SameStage {
		t.Errorf("%+v", p)
	}
	c := s.st.Coverage("ath-0147", "2026-09-02", policy.Default())
	if c[0].Attempt == nil || c[0].Old || c[1].AgeMonths != 12 || c[1].Old || c[2].Attempt != nil {
		t.Errorf("%+v", c[:3])
	}
	if r := s.st.Repeats(head, "rig-1", "2025-09-01"); len(r) != 1 || len(r[0].Takes) != 2 {
		t.Errorf("repeats %+v", r)
	}
}

func TestALateSessionByDateNotByArrival(t *testing.T) {
	s := newStory(t)
	s.intake("ath-0147", "2026-02-01a-road", take{head, 1, asset.StageRaw, "accepted"})
	s.intake("ath-0147", "2025-12-01a-studio", take{head, 1, asset.StageRaw, "accepted"})
	if got := s.likeness("2026-03-01"); got != "head/neutral 2026-02-01a-road raw" {
		t.Errorf("the newest by capture date holds, got %q", got)
	}
	if p := s.st.Pairs("ath-0147", "2025-12-01a-studio"); len(p) != 0 {
		t.Errorf("nothing came before: %+v", p)
	}
	if g := s.st.Generations("ath-0147", nil); g[0].Session != "2025-12-01a-studio" {
		t.Errorf("running numbers go by date: %+v", g)
	}
}

func TestAStageArrivesWeeksLater(t *testing.T) {
	s := newStory(t)
	s.intake("ath-0147", "2025-09-01a-road", take{head, 1, asset.StageRaw, "accepted"})
	s.intake("ath-0147", "2026-02-01a-road", take{head, 1, asset.StageRaw, "accepted"})
	fitted := s.intake("ath-0147", "2026-02-01a-road", take{head, 1, asset.StageFitted, ""})
	if got := s.likeness("2026-03-01"); got != "head/neutral 2026-02-01a-road fitted" {
		t.Errorf("got %q", got)
	}
	if p := s.st.Pairs("ath-0147", "2026-02-01a-road"); p[0].New.Stage != asset.StageRaw || !p[0].SameStage {
		t.Errorf("compared at the stage both have: %+v", p[0])
	}
	s.do(Reject(s.st, "lead-1", "T-"+fitted[0].Short(8), "slid over the ear"))
	if got := s.likeness("2026-03-01"); got != "head/neutral 2026-02-01a-road raw" {
		t.Errorf("a bad stage leaves the one before: %q", got)
	}
}

func TestRejectingTakesWhatWasMadeFromIt(t *testing.T) {
	s := newStory(t)
	raw := s.intake("ath-0147", "2026-02-01a-road", take{head, 1, asset.StageRaw, "accepted"}, take{head, 2, asset.StageRaw, ""})
	s.intake("ath-0147", "2026-02-01a-road", take{head, 1, asset.StageFitted, "accepted"})
	s.do(Reject(s.st, "lead-1", raw[0].Short(8), "moved between exposures"))
	if got := s.likeness("2026-03-01"); got != "" {
		t.Errorf("got %q", got)
	}
	if c := s.st.Chosen("ath-0147"); len(c) != 1 || c[0].Number != 2 {
		t.Errorf("%+v", c)
	}
	o, sealed := delivery("2026-02-01a-road", take{head, 1, asset.StageRaw, "accepted"})
	o.Takes[0].Files[0].Hash = asset.HashBytes([]byte("mended"))
	mended := TakeID(s.do(Intake(s.st, "m-1", "ath-0147", o, sealed)).ID, 0)
	if got := s.st.Likeness("ath-0147", "2026-03-01"); len(got) != 1 || len(got[0].Takes) != 1 || got[0].Best().ID != mended {
		t.Errorf("mended files count, what was made of the bad ones does not: %+v", got)
	}
	o, sealed = delivery("2026-02-01a-road", take{head, 1, asset.StageFitted, ""})
	o.Takes[0].Files[0].Hash = asset.HashBytes([]byte("fitted again"))
	again := TakeID(s.do(Intake(s.st, "m-1", "ath-0147", o, sealed)).ID, 0)
	if got := s.st.Likeness("ath-0147", "2026-03-01"); got[0].Best().ID != again {
		t.Errorf("what was made of the mended files counts: %+v", got)
	}
	s.do(Withdraw(s.st, "lead-1", mended.Short(12), ""))
	s.do(Withdraw(s.st, "lead-1", again.Short(12), ""))
	s.do(Accept(s.st, "lead-1", raw[0].Short(8), "looked again"))
	if got := s.likeness("2026-03-01"); got != "head/neutral 2026-02-01a-road fitted" {
		t.Errorf("got %q", got)
	}
}

func TestADeliveryComesInAgainMended(t *testing.T) {
	s := newStory(t)
	s.intake("ath-0147", "2026-02-01a-road", take{head, 1, asset.StageRaw, "accepted"})
	o, sealed := delivery("2026-02-01a-road", take{head, 1, asset.StageRaw, ""})
	o.Takes[0].Files[0].Hash = asset.HashBytes([]byte("mended"))
	e := s.do(Intake(s.st, "m-1", "ath-0147", o, sealed))
	a := s.st.Attempts("ath-0147")
	if len(a) != 1 || len(a[0].Takes) != 1 || a[0].Best().ID != TakeID(e.ID, 0) {
		t.Errorf("the later files of one stage hold: %+v", a)
	}
}

func TestChosenTake(t *testing.T) {
	s := newStory(t)
	ids := s.intake("ath-0147", "2026-02-01a-road", take{head, 1, asset.StageRaw, ""}, take{head, 2, asset.StageRaw, ""}, take{head, 3, asset.StageRaw, ""})
	number := func() int { return s.st.Chosen("ath-0147")[0].Number }
	if number() != 1 || s.likeness("2026-03-01") != "" {
		t.Errorf("the first stored is chosen and counts for nothing: %d", number())
	}
	s.do(Accept(s.st, "m-1", ids[1].Short(6), ""))
	if number() != 2 {
		t.Errorf("the first accepted: %d", number())
	}
	s.do(Choose(s.st, "m-1", ids[2].Short(6), "calmer brow"))
	if number() != 3 || s.likeness("2026-03-01") == "" {
		t.Errorf("an explicit choice: %d", number())
	}
	s.do(Withdraw(s.st, "m-1", ids[2].Short(6), ""))
	if number() != 2 {
		t.Errorf("a withdrawn take is no choice: %d", number())
	}
	var c *fault.ConflictError
	if _, err := Choose(s.st, "m-1", ids[2].Short(6), ""); !errors.As(err, &c) {
		t.Error(err)
	}
	if _, err := Accept(s.st, "m-1", ids[1].Short(6), ""); !errors.As(err, &c) || c.By != "m-1" || c.When != "2025-09-01" {
		t.Error(err)
	}
}

func TestHeldTakeNeedsAReason(t *testing.T) {
	s := newStory(t)
	ids := s.intake("ath-0147", "2026-02-01a-road", take{head, 1, asset.StageRaw, "held"})
	if len(s.st.Attempts("ath-0147")) != 0 {
		t.Error("a held take is used")
	}
	if _, err := Accept(s.st, "m-1", ids[0].Short(6), " "); err == nil || !strings.Contains(err.Error(), "unit") {
		t.Error(err)
	}
	s.do(Accept(s.st, "m-1", ids[0].Short(6), "the scale bar says it is right"))
	if s.likeness("2026-03-01") == "" {
		t.Error("accepted and not in the likeness")
	}
}

func TestRefileToTheRightPerson(t *testing.T) {
	s := newStory(t)
	ids := s.intake("ath-0147", "2026-02-01a-road", take{head, 1, asset.StageRaw, "accepted"}, take{body, 1, asset.StageRaw, "accepted"})
	s.intake("ath-0150", "2026-02-01a-road", take{smile, 1, asset.StageRaw, "accepted"})
	s.do(Refile(s.st, "m-1", ids[0].Short(6), "ath-0150", policy.Shot{}, 0, "filed under the wrong person"))
	if s.likeness("2026-03-01") != "body/a-pose 2026-02-01a-road raw" || len(s.st.Likeness("ath-0150", "2026-03-01")) != 2 {
		t.Error("the take did not move")
	}
	if got := s.st.FilesOnlyOf("ath-0147"); len(got) != 1 || got[0] != s.st.Take(ids[1]).MeshHash() {
		t.Errorf("files to destroy: %v", got)
	}
	if _, err := Refile(s.st, "m-1", ids[0].Short(6), "ath-0150", smile, 1, ""); err == nil {
		t.Error("two takes under one number")
	}
	s.log.LoseKey("ath-0147")
	again := NewState()
	for _, e := range s.log.Entries {
		if err := again.Apply(e); err != nil {
			t.Fatal(err)
		}
	}
	if names := again.Take(ids[0]).Names; len(names) != 1 || again.Take(ids[1]).Names != nil {
		t.Errorf("the moved take keeps its name without the former key, the other does not: %v", names)
	}
}

func TestTheSameFilesComeInOnce(t *testing.T) {
	s := newStory(t)
	s.intake("ath-0147", "2026-02-01a-road", take{head, 1, asset.StageRaw, ""})
	o, sealed := delivery("2026-02-01a-road", take{head, 1, asset.StageRaw, ""})
	var c *fault.ConflictError
	if _, err := Intake(s.st, "m-1", "ath-0147", o, sealed); !errors.As(err, &c) {
		t.Error(err)
	}
	if len(s.st.WithFile(o.Takes[0].Files[0].Hash)) != 1 {
		t.Error("the file is not found by its content")
	}
}

func TestIntakeRefusesWhatItCannotMean(t *testing.T) {
	s := newStory(t)
	for name, change := range map[string]func(*IntakeOpen, *IntakeSealed){
		"session":   func(o *IntakeOpen, _ *IntakeSealed) { o.Session = "spring" },
		"captured":  func(o *IntakeOpen, _ *IntakeSealed) { o.Captured = "2026-02-02" },
		"take":      func(o *IntakeOpen, b *IntakeSealed) { o.Takes, b.Takes = nil, nil },
		"part":      func(o *IntakeOpen, _ *IntakeSealed) { o.Takes[0].Part = "Head" },
		"number":    func(o *IntakeOpen, _ *IntakeSealed) { o.Takes[0].Number = 0 },
		"stage":     func(o *IntakeOpen, _ *IntakeSealed) { o.Takes[0].Stage = "polished" },
		"no files":  func(o *IntakeOpen, _ *IntakeSealed) { o.Takes[0].Files = nil },
		"names":     func(_ *IntakeOpen, b *IntakeSealed) { b.Takes[0].Names = nil },
		"held back": func(o *IntakeOpen, _ *IntakeSealed) { o.Takes[0].Accepted, o.Takes[0].Held = true, []string{"unit"} },
		"twice": func(o *IntakeOpen, b *IntakeSealed) {
			o.Takes, b.Takes = append(o.Takes, o.Takes[0]), append(b.Takes, b.Takes[0])
		},
	} {
		o, sealed := delivery("2026-02-01a-road", take{head, 1, asset.StageRaw, ""})
		change(&o, &sealed)
		if _, err := Intake(s.st, "m-1", "ath-0147", o, sealed); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestSessionNames(t *testing.T) {
	s := newStory(t)
	if n, err := s.st.Next("ath-0147", "2026-02-01", "road"); err != nil || n != "2026-02-01a-road" {
		t.Error(n, err)
	}
	s.intake("ath-0147", "2026-02-01a-road", take{head, 1, asset.StageRaw, ""})
	if n, _ := s.st.Next("ath-0147", "2026-02-01", "road"); n != "2026-02-01b-road" {
		t.Error(n)
	}
	if n, _ := s.st.Next("ath-0150", "2026-02-01", "road"); n != "2026-02-01a-road" {
		t.Error(n)
	}
	for _, bad := range []string{"", "2026-02-01", "2026-02-01-road", "2026-02-30a-road", "2026-02-01A-road", "2026-02-01a-"} {
		if _, _, _, err := ParseName(bad); err == nil {
			t.Errorf("%q was read", bad)
		}
	}
}

func TestTwoSitesJudgeOneTake(t *testing.T) {
	s := newStory(t)
	ids := s.intake("ath-0147", "2026-02-01a-road", take{head, 1, asset.StageRaw, ""})
	other := foldtest.New("studio", "2025-09-02")
	d, err := Accept(s.st, "lead-1", ids[0].Short(6), "")
	d2, err2 := Reject(s.st, "m-1", ids[0].Short(6), "soft")
	s.log.Add(t, d, err)
	other.Add(t, d2, err2)
	st := NewState()
	for _, e := range foldtest.Merge(other, s.log) {
		if err := st.Apply(e); err != nil {
			t.Fatal(err)
		}
	}
	if k := st.Take(ids[0]); k.Standing != Rejected || !k.Contested {
		t.Errorf("%s, contested %v", k.Standing, k.Contested)
	}
}

func TestRigEpochs(t *testing.T) {
	s := newStory(t)
	s.do(AddRig(s.st, "m-1", "rig-1", "2025-01-01", ""))
	s.do(NoteRig(s.st, "m-1", "rig-1", "2026-01-15", "calibration", "a camera fell"))
	s.intake("ath-0147", "2025-09-01a-road", take{head, 1, asset.StageRaw, ""}, take{head, 2, asset.StageRaw, ""})
	s.intake("ath-0147", "2026-02-01a-road", take{head, 1, asset.StageRaw, ""}, take{head, 2, asset.StageRaw, ""})
	for d, want := range map[day.Day][2]day.Day{"2025-06-01": {"2025-01-01", "2026-01-15"}, "2026-01-15": {"2026-01-15", ""}} {
		from, until := s.st.Epoch("rig-1", d)
		if got := [2]day.Day{from, until}; !reflect.DeepEqual(got, want) {
			t.Errorf("on %s %v", d, got)
		}
		if r := s.st.Repeats(head, "rig-1", d); len(r) != 1 {
			t.Errorf("on %s %d repeat sets", d, len(r))
		}
	}
	if _, err := NoteRig(s.st, "m-1", "rig-2", "2026-01-15", "light", ""); err == nil {
		t.Error("a note on an unknown rig")
	}
}
