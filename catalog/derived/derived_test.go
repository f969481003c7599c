package derived

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"mien/asset"
	"mien/asset/terms"
	"mien/catalog/appearance"
	"mien/catalog/day"
	"mien/catalog/fault"
	"mien/catalog/fold/foldtest"
	"mien/catalog/policy"
	"mien/catalog/record"
	"mien/catalog/session"
)

var (
	head = policy.Shot{Part: "head", Pose: "neutral"}
	body = policy.Shot{Part: "body", Pose: "a-pose"}
	shoe = policy.Shot{Part: "shoe-left", Pose: "neutral"}
)

type studio struct {
	*testing.T
	st  *State
	ses *session.State
	app *appearance.State
	log *foldtest.Log
}

func newStudio(t *testing.T) *studio {
	return &studio{t, NewState(), session.NewState(), appearance.NewState(), foldtest.New("studio", "2025-01-05")}
}

func (s *studio) do(d record.Draft, err error) record.Entry {
	s.Helper()
	e := s.log.Add(s, d, err)
	for _, st := range []interface{ Apply(record.Entry) error }{s.st, s.ses, s.app} {
		if err := st.Apply(e); err != nil {
			s.Fatal(err)
		}
	}
	return e
}

func (s *studio) capture(stage asset.Stage, name string, shots ...policy.Shot) []record.ID {
	s.Helper()
	in := session.IntakeOpen{Session: name, Captured: day.Day(name[:10])}
	var sealed session.IntakeSealed
	for _, sh := range shots {
		f := session.File{Hash: asset.HashBytes([]byte(name + sh.String() + string(stage))), Size: 1, Kind: asset.KindMesh}
		in.Takes = append(in.Takes, session.TakeOpen{Shot: sh, Number: 1, Stage: stage, Accepted: true, Files: []session.File{f}})
		sealed.Takes = append(sealed.Takes, session.TakeSealed{Names: []string{"a.glb"}})
	}
	e := s.do(session.Intake(s.ses, "m-1", "ath-0147", in, sealed))
	var ids []record.ID
	for n := range shots {
		ids = append(ids, session.TakeID(e.ID, n))
	}
	return ids
}

// compare records a comparison and accepts its findings if accept is set.
func (s *studio) compare(old, new record.ID, verdict string, accept bool, findings ...appearance.FindingBody) {
	s.Helper()
	o, n := s.ses.Take(old), s.ses.Take(new)
	c := appearance.ComparisonOpen{Key: asset.HashBytes(append(old[:], new[:]...)), Old: old, New: new, OldCaptured: o.Captured, NewCaptured: n.Captured, Shot: n.Shot, Verdict: verdict, Engine: "1"}
	s.do(appearance.Record(s.app, "m-1", "ath-0147", c, appearance.ComparisonSealed{Findings: findings}))
	for i := range findings {
		if accept {
			s.do(appearance.Accept(s.app, "artist-1", "F-"+appearance.FindingID(c, i).Short(10), ""))
		}
	}
}

func (s *studio) make(name string, regions []string, takes ...record.ID) {
	s.Helper()
	s.do(Add(s.st, s.ses, "artist-1", New{Subject: "ath-0147", Name: name, Takes: takes, Regions: regions, On: "2025-04-01"}))
}

func (s *studio) standing(name string) string {
	s.Helper()
	a, err := s.st.Find(name)
	if err != nil {
		s.Fatal(err)
	}
	v := Context{Policy: policy.Default(), Session: s.ses, Appearance: s.app, Today: "2026-12-31"}.Judge(a)
	var out []string
	for _, c := range v.Causes {
		text := string(c.What)
		if c.Finding != nil {
			text += fmt.Sprintf(" %s %s %s", c.Finding.Action, c.Finding.Kind, c.Finding.Region)
		}
		out = append(out, text)
	}
	return string(v.Standing) + ": " + strings.Join(out, ", ")
}

func (s *studio) want(name, want string) {
	s.Helper()
	if got := s.standing(name); got != want {
		s.Errorf("%s is %q, want %q", name, got, want)
	}
}

func found(k terms.ItemKind, a terms.Action, region string) appearance.FindingBody {
	return appearance.FindingBody{Kind: k, Action: a, Region: region}
}

func TestStaleWhereItIsTouched(t *testing.T) {
	s := newStudio(t)
	old := s.capture(asset.StageRaw, "2025-03-01a-road", head, body, shoe)
	s.make("face", nil, old[0])
	s.make("torso", []string{"chest", "abdomen", "neck-front"}, old[1])
	s.make("legs", []string{"thigh-left", "shin-left"}, old[1])
	s.make("boot", nil, old[2])
	for _, name := range []string{"face", "torso", "legs", "boot"} {
		s.want(name, "fresh: ")
	}
	now := s.capture(asset.StageRaw, "2025-12-01a-road", head)
	s.want("face", "check: not-compared")
	s.want("torso", "fresh: ")
	s.compare(old[0], now[0], "changed", false, found(terms.Tattoo, terms.Added, "neck-front"), found(terms.Hair, terms.Altered, "scalp"))
	s.want("face", "check: unjudged added tattoo neck-front, unjudged altered hair scalp")
	s.want("torso", "check: unjudged added tattoo neck-front")
	for _, f := range s.app.Findings("ath-0147") {
		s.do(appearance.Accept(s.app, "artist-1", f.Ref(), ""))
	}
	s.want("face", "stale: changed added tattoo neck-front, changed altered hair scalp")
	s.want("torso", "stale: changed added tattoo neck-front")
	s.want("legs", "fresh: ")
	s.want("boot", "fresh: ")
	s.do(Remade(s.st, s.ses, "artist-1", "face", New{Takes: now, On: "2026-01-10"}, ""))
	s.want("face", "fresh: ")
}

func TestAddedAndRemovedAgainIsNothing(t *testing.T) {
	s := newStudio(t)
	a := s.capture(asset.StageRaw, "2025-03-01a-road", body)
	s.make("torso", nil, a...)
	b := s.capture(asset.StageRaw, "2025-09-01a-road", body)
	s.compare(a[0], b[0], "changed", true, found(terms.Accessory, terms.Added, "wrist-left"), found(terms.Tattoo, terms.Added, "chest"))
	s.make("later", nil, b...)
	c := s.capture(asset.StageRaw, "2026-03-01a-road", body)
	s.compare(b[0], c[0], "changed", true, found(terms.Accessory, terms.Removed, "wrist-left"))
	s.want("torso", "stale: changed added tattoo chest")
	s.want("later", "stale: changed removed accessory wrist-left")
}

func TestUnchangedNewerTakeLeavesItFresh(t *testing.T) {
	s := newStudio(t)
	a := s.capture(asset.StageRaw, "2025-03-01a-road", body)
	s.make("torso", nil, a...)
	b := s.capture(asset.StageRaw, "2025-09-01a-road", body)
	s.compare(a[0], b[0], "same", false)
	s.want("torso", "fresh: ")
	c := s.capture(asset.StageRaw, "2026-03-01a-road", body)
	s.compare(b[0], c[0], "cannot-tell", false)
	s.want("torso", "check: cannot-tell")
}

func TestStagesAndBadTakes(t *testing.T) {
	s := newStudio(t)
	a := s.capture(asset.StageRaw, "2025-03-01a-road", body)
	s.make("torso", nil, a...)
	s.capture(asset.StageFitted, "2025-03-01a-road", body)
	s.want("torso", "check: newer-stage")
	s.do(session.Reject(s.ses, "m-1", "T-"+a[0].Short(8), "moved"))
	s.want("torso", "stale: bad-take")
}

func TestAFindingThatCannotBeDatedAsksForACheck(t *testing.T) {
	s := newStudio(t)
	a := s.capture(asset.StageRaw, "2025-03-01a-road", head)
	b := s.capture(asset.StageRaw, "2025-06-01a-road", body)
	c := s.capture(asset.StageRaw, "2025-09-01a-road", head)
	s.make("torso", nil, b...)
	s.compare(a[0], c[0], "changed", true, found(terms.Tattoo, terms.Added, "chest"))
	s.want("torso", "check: changed added tattoo chest")
}

func TestWhatCannotBeRecorded(t *testing.T) {
	s := newStudio(t)
	a := s.capture(asset.StageRaw, "2025-03-01a-road", body)
	s.make("torso", nil, a...)
	good := New{Subject: "ath-0147", Name: "arm", Takes: a, On: "2025-04-01"}
	for name, change := range map[string]func(*New){
		"name": func(n *New) { n.Name = " " }, "already": func(n *New) { n.Name = "torso" }, "no take": func(n *New) { n.Takes = nil },
		"no such take": func(n *New) { n.Takes = []record.ID{{9}} }, "is of": func(n *New) { n.Subject = "ath-0150" },
		"region": func(n *New) { n.Regions = []string{"hull"} }, "stage": func(n *New) { n.Stage = "gold" }, "made on": func(n *New) { n.On = "" },
	} {
		n := good
		change(&n)
		if _, err := Add(s.st, s.ses, "artist-1", n); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("%s: %v", name, err)
		}
	}
	s.do(Retire(s.st, "artist-1", "torso", "cut"))
	var nf *fault.NotFoundError
	if _, err := s.st.Find("torso"); !errors.As(err, &nf) {
		t.Error(err)
	}
}
