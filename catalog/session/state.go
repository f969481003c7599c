package session

import (
	"sort"

	"mien/asset"
	"mien/catalog/day"
	"mien/catalog/fold"
	"mien/catalog/policy"
	"mien/catalog/record"
)

// Standing is what became of a take.
type Standing string

// Standings.
const (
	Stored    Standing = "stored"    // in the store, not yet judged
	Held      Standing = "held"      // a check holds it back
	Accepted  Standing = "accepted"  // counts for the likeness
	Rejected  Standing = "rejected"  // looked at and not good
	Withdrawn Standing = "withdrawn" // should not have come in
)

// Take is the files of one attempt at one stage.
type Take struct {
	ID       record.ID // hash of the intake's id and N
	Intake   record.ID
	N        int // position in the intake
	Subject  string
	Session  string
	Captured day.Day
	Rig      string
	Site     string
	Visit    string
	policy.Shot
	Number   int
	Stage    asset.Stage
	Standing Standing
	Held     []string
	Files    []File
	Names    []string // parallel to Files; nil when the key is not here
	Checks   []Check
	AtMs     int64
	By       string // who judged it last, else who took it in
	Why      string // the reason given with the last judgement
	JudgedMs int64
	// Contested says that two sites judged it without knowing of each other; the later holds.
	Contested bool
	lastJudge record.ID
	order     int // position among all takes in the order of the fold
	matter    fold.Matter
}

// group is one shot of one session of one subject.
type group struct {
	subject, session string
	shot             policy.Shot
}

// visitKey is one session of one subject.
type visitKey struct{ subject, session string }

// State is everything that was captured.
type State struct {
	takes     map[record.ID]*Take
	all       []*Take // in the order of the fold
	bySubject map[string][]*Take
	chosen    map[group]int
	byFile    map[asset.Hash][]*Take
	intakes   map[visitKey]*fold.Matter
	rigs      map[string]*Rig
}

// NewState returns a state without captures.
func NewState() *State {
	return &State{takes: map[record.ID]*Take{}, bySubject: map[string][]*Take{}, chosen: map[group]int{},
		byFile: map[asset.Hash][]*Take{}, intakes: map[visitKey]*fold.Matter{}, rigs: map[string]*Rig{}}
}

// TakeID returns the lasting id of the n-th take of an intake.
func TakeID(intake record.ID, n int) record.ID { return fold.Derive(intake[:], n) }

// Apply folds one record.
func (s *State) Apply(e record.Entry) error {
	switch e.Kind {
	case KindIntake:
		return s.applyIntake(e)
	case KindAccept, KindReject, KindChoose, KindWithdraw:
		return s.applyJudge(e)
	case KindRefile:
		return s.applyRefile(e)
	case KindRig, KindRigNote:
		return s.applyRig(e)
	}
	return nil
}

func (s *State) applyIntake(e record.Entry) error {
	o, sealed, err := fold.Both[IntakeOpen, IntakeSealed](e)
	if err != nil {
		return err
	}
	s.intake(e.Subject, o.Session).Add(e)
	for n, k := range o.Takes {
		t := &Take{ID: TakeID(e.ID, n), Intake: e.ID, N: n, Subject: e.Subject, Session: o.Session, Captured: o.Captured,
			Rig: o.Rig, Site: o.Site, Visit: o.Visit, Shot: k.Shot, Number: k.Number, Stage: k.Stage, Standing: Stored,
			Held: k.Held, Files: k.Files, AtMs: e.At.Ms, By: e.By, order: len(s.all)}
		switch {
		case len(k.Held) > 0:
			t.Standing = Held
		case k.Accepted:
			t.Standing = Accepted
		}
		if n < len(sealed.Takes) {
			t.describe(sealed.Takes[n])
		}
		t.matter.Add(e)
		s.takes[t.ID] = t
		s.all = append(s.all, t)
		s.bySubject[t.Subject] = append(s.bySubject[t.Subject], t)
		for _, f := range t.Files {
			s.byFile[f.Hash] = append(s.byFile[f.Hash], t)
		}
	}
	return nil
}

func (t *Take) describe(b TakeSealed) {
	if len(b.Names) == len(t.Files) {
		t.Names = b.Names
	}
	t.Checks = b.Checks
}

func (s *State) intake(subject, session string) *fold.Matter {
	k := visitKey{subject, session}
	if s.intakes[k] == nil {
		s.intakes[k] = &fold.Matter{}
	}
	return s.intakes[k]
}

func (s *State) applyJudge(e record.Entry) error {
	o, sealed, err := fold.Both[JudgeOpen, JudgeSealed](e)
	if err != nil {
		return err
	}
	t := s.takes[o.Take]
	if t == nil {
		return fold.Refuse(e, "no such take: %s", o.Take.Short(12))
	}
	t.judged(e, sealed.Why)
	switch e.Kind {
	case KindAccept:
		t.Standing = Accepted
	case KindReject:
		t.Standing = Rejected
	case KindWithdraw:
		t.Standing = Withdrawn
	case KindChoose:
		t.Standing = Accepted
		s.chosen[t.group()] = t.Number
	}
	return nil
}

// judged notes who judged t, and whether that was unknown to whoever judged it before.
func (t *Take) judged(e record.Entry, why string) {
	t.matter.Add(e)
	t.Contested = !t.lastJudge.IsZero() && t.matter.Contested(t.lastJudge, e.ID)
	t.lastJudge, t.By, t.Why, t.JudgedMs = e.ID, e.By, why, e.At.Ms
}

func (s *State) applyRefile(e record.Entry) error {
	o, sealed, err := fold.Both[RefileOpen, JudgeSealed](e)
	if err != nil {
		return err
	}
	t := s.takes[o.Take]
	if t == nil {
		return fold.Refuse(e, "no such take: %s", o.Take.Short(12))
	}
	t.judged(e, sealed.Why)
	if t.Subject != e.Subject {
		s.bySubject[t.Subject] = without(s.bySubject[t.Subject], t)
		s.bySubject[e.Subject] = append(s.bySubject[e.Subject], t)
		sort.Slice(s.bySubject[e.Subject], func(i, j int) bool {
			return s.bySubject[e.Subject][i].order < s.bySubject[e.Subject][j].order
		})
	}
	t.Subject, t.Shot, t.Number = e.Subject, o.Shot, o.Number
	if sealed.TakeSealed != nil {
		t.describe(*sealed.TakeSealed)
	}
	return nil
}

func without(list []*Take, t *Take) []*Take {
	var out []*Take
	for _, v := range list {
		if v != t {
			out = append(out, v)
		}
	}
	return out
}

func (t *Take) group() group { return group{t.Subject, t.Session, t.Shot} }

// Takes returns every take of a subject in the order they came in; subject "" means all.
func (s *State) Takes(subject string) []*Take {
	if subject == "" {
		return append([]*Take(nil), s.all...)
	}
	return append([]*Take(nil), s.bySubject[subject]...)
}

// Find returns the take whose id begins with ref ("T-7k2m9q").
func (s *State) Find(ref string) (*Take, error) {
	ids := make([]record.ID, len(s.all))
	for i, t := range s.all {
		ids[i] = t.ID
	}
	id, err := fold.Find("take", "T-", ref, ids)
	if err != nil {
		return nil, err
	}
	return s.takes[id], nil
}

// Take returns the take with id, or nil.
func (s *State) Take(id record.ID) *Take { return s.takes[id] }

// Ref returns the id that people see.
func (t *Take) Ref() string { return "T-" + t.ID.Short(8) }

// WithFile returns the takes that hold a file, in the order they came in.
func (s *State) WithFile(h asset.Hash) []*Take { return append([]*Take(nil), s.byFile[h]...) }

// FilesOnlyOf returns the files that no take of another subject holds, sorted: what erasing destroys.
func (s *State) FilesOnlyOf(subject string) []asset.Hash {
	var out []asset.Hash
	for h, takes := range s.byFile {
		only := true
		for _, t := range takes {
			only = only && t.Subject == subject
		}
		if only {
			out = append(out, h)
		}
	}
	sort.Slice(out, func(i, j int) bool { return out[i].String() < out[j].String() })
	return out
}

// MeshHash returns the hash of the take's first mesh, zero if it has none.
func (t *Take) MeshHash() asset.Hash {
	for _, f := range t.Files {
		if f.Kind == asset.KindMesh {
			return f.Hash
		}
	}
	return asset.Hash{}
}
