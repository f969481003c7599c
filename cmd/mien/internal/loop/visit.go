package loop

import (
	"context"
	"slices"

	"mien/catalog/fault"
	"mien/catalog/record"
	"mien/catalog/request"
	"mien/catalog/visit"
)

// PlanVisit fits the approved requests of the squads of a visit into its minutes and records the plan;
// dry records nothing. What is in the plan becomes planned, what fell out of an earlier one goes back
// to approved.
func (l *Loop) PlanVisit(ctx context.Context, ref string, dry bool) (*visit.Proposal, error) {
	v, err := l.State.Visit.Find(ref)
	if err != nil {
		return nil, err
	}
	if v.Dropped {
		return nil, &fault.ConflictError{Object: "visit " + v.Ref(), Already: "dropped", By: v.By}
	}
	var wishes []visit.Wish
	for _, r := range l.Queue(request.Approved, request.Planned) {
		s, err := l.State.Roster.Get(r.Subject)
		if err != nil {
			return nil, err
		}
		other := r.Status == request.Planned && r.Visit != v.ID
		if other || r.Way != request.Rescan || !slices.Contains(v.Squads, s.SquadOn(v.Date)) {
			continue
		}
		wishes = append(wishes, visit.Wish{Request: r.ID, Subject: r.Subject, Shots: r.Shots, Score: r.Score.Score, Must: r.Pinned})
	}
	p := visit.Propose(l.Policy(), v.Minutes, wishes)
	if dry {
		return &p, nil
	}
	d, err := visit.SetPlan(l.State.Visit, l.by, ref, p.Slots)
	if err != nil {
		return nil, err
	}
	drafts := []record.Draft{d}
	in := map[record.ID]bool{}
	for _, s := range p.Slots {
		for _, id := range s.Requests {
			in[id] = true
		}
	}
	for _, w := range wishes {
		r := l.State.Request.Get(w.Request)
		switch {
		case in[r.ID] && r.Status == request.Approved:
			d, err = request.Plan(l.State.Request, l.by, r.Ref(), v.ID, l.Today())
		case !in[r.ID] && r.Status == request.Planned:
			d, err = request.Unplan(l.State.Request, l.by, r.Ref(), l.Today(), "did not fit")
		default:
			continue
		}
		if err != nil {
			return nil, err
		}
		drafts = append(drafts, d)
	}
	_, err = l.Append(ctx, drafts...)
	return &p, err
}
