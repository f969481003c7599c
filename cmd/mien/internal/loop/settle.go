package loop

import (
	"context"
	"slices"

	"mien/catalog/appearance"
	"mien/catalog/record"
	"mien/catalog/request"
	"mien/catalog/session"
)

// Settled is what followed from new captures, comparisons and decisions, by request.
type Settled struct {
	Raised   []string `json:"raised"`
	Captured []string `json:"captured"`
	Met      []string `json:"met"`
	Returned []string `json:"returned"` // captured, and the comparison cannot tell
}

// Settle draws the consequences of what was recorded, by the rules of the house: what a session
// captured is marked on its requests; accepted findings raise requests for takes that they make wrong;
// requests with a proof for every reason are met; those whose comparison cannot tell go back to
// approved. It may be called at any time and does nothing twice.
func (l *Loop) Settle(ctx context.Context) (Settled, error) {
	s := Settled{Raised: []string{}, Captured: []string{}, Met: []string{}, Returned: []string{}}
	if err := l.raiseForFindings(ctx, &s); err != nil {
		return s, err
	}
	for _, step := range []func(*Settled) ([]record.Draft, error){l.markCaptured, l.meetOrReturn} {
		drafts, err := step(&s)
		if err != nil {
			return s, err
		}
		if len(drafts) == 0 {
			continue
		}
		if _, err := l.Append(ctx, drafts...); err != nil {
			return s, err
		}
	}
	return s, nil
}

// markCaptured marks on live requests what sessions captured for them.
func (l *Loop) markCaptured(s *Settled) ([]record.Draft, error) {
	var drafts []record.Draft
	judge := l.Judge()
	for _, sub := range l.State.Roster.List() {
		marked := map[record.ID]bool{}
		for _, g := range l.State.Session.Generations(sub.Code, l.Policy().Shots(true)) {
			for _, c := range judge.CapturedBy(l.State.Request, sub.Code, g.Session) {
				if marked[c.Request.ID] {
					continue
				}
				marked[c.Request.ID] = true
				d, err := request.MarkCaptured(l.State.Request, l.by, c.Request.Ref(), c.Shots, c.Takes, l.Today())
				if err != nil {
					return nil, err
				}
				s.Captured = append(s.Captured, c.Request.Ref())
				drafts = append(drafts, d)
			}
		}
	}
	return drafts, nil
}

// raiseForFindings asks for the older takes that accepted findings make wrong. Each is raised on what
// the one before it left, so that two findings of one scope share a request.
func (l *Loop) raiseForFindings(ctx context.Context, s *Settled) error {
	used := map[record.ID]bool{}
	for _, r := range l.State.Request.All() {
		for _, f := range r.Findings {
			used[f] = true
		}
	}
	for _, f := range l.State.Appearance.Findings("", appearance.Accepted) {
		ask, ok := l.Judge().ForFinding(f)
		if !ok || used[f.ID] {
			continue
		}
		ref, _, err := l.Raise(ctx, ask)
		if err != nil {
			return err
		}
		if !slices.Contains(s.Raised, ref) {
			s.Raised = append(s.Raised, ref)
		}
	}
	return nil
}

// meetOrReturn ends captured requests whose reasons are dealt with, and sends back those that a
// comparison could not judge.
func (l *Loop) meetOrReturn(s *Settled) ([]record.Draft, error) {
	var drafts []record.Draft
	judge := l.Judge()
	for _, r := range l.State.Request.All() {
		if r.Status != request.Captured {
			continue
		}
		proofs, missing := judge.Proofs(l.State.Request, r, l.State.Appearance)
		var d record.Draft
		var err error
		switch {
		case len(missing) == 0 && len(proofs) > 0:
			d, err = request.Meet(l.State.Request, l.by, r.Ref(), proofs, l.Today(), "")
			s.Met = append(s.Met, r.Ref())
		case l.undecided(r):
			d, err = request.Return(l.State.Request, l.by, r.Ref(), nil, l.Today(), "the comparison of what was captured cannot tell")
			s.Returned = append(s.Returned, r.Ref())
		default:
			continue
		}
		if err != nil {
			return nil, err
		}
		drafts = append(drafts, d)
	}
	return drafts, nil
}

// undecided reports whether what was captured for r was compared and none of the comparisons tells.
func (l *Loop) undecided(r *request.Request) bool {
	got := map[record.ID]bool{}
	for _, id := range r.Got {
		got[id] = true
	}
	cannot := false
	for _, c := range l.State.Appearance.Comparisons(r.Subject) {
		if !got[c.New] || !l.State.Appearance.Stands(c) {
			continue
		}
		if c.Verdict != string(CannotTell) {
			return false
		}
		cannot = true
	}
	return cannot
}

// CompareNew compares the sessions that an intake touched with the likeness before them.
func (l *Loop) CompareNew(ctx context.Context, r *IntakeReport, p Progress) ([]Change, error) {
	type key struct{ subject, session string }
	seen := map[key]bool{}
	var list []Change
	for _, t := range r.Takes {
		k := key{t.Subject, t.Session}
		if t.Subject == unfiledSubject || t.Standing == string(session.Held) || t.Standing == "known" || seen[k] {
			continue
		}
		seen[k] = true
		for _, pair := range l.State.Session.Pairs(t.Subject, t.Session) {
			list = append(list, Change{Subject: t.Subject, Part: pair.Part, Pose: pair.Pose, From: pair.Old.Session, To: pair.New.Session, old: pair.Old, new: pair.New})
		}
	}
	return list, l.compareAll(ctx, list, p)
}
