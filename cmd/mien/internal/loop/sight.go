package loop

import (
	"context"

	"mien/catalog/request"
)

// Sight records a sighting and raises a request for what it makes wrong, or joins the live one. It
// returns the request's id.
func (l *Loop) Sight(ctx context.Context, in request.Report) (ref string, joined bool, err error) {
	if _, err := l.State.Roster.Get(in.Subject); err != nil {
		return "", false, err
	}
	d, err := request.Sight(l.State.Request, l.by, in)
	if err != nil {
		return "", false, err
	}
	ids, err := l.Append(ctx, d)
	if err != nil {
		return "", false, err
	}
	v, err := l.State.Request.FindSighting(ids[0].String())
	if err != nil {
		return "", false, err
	}
	return l.Raise(ctx, l.Judge().ForSighting(v))
}

// Raise records a request, or joins the live one that covers it. It returns the request's id.
func (l *Loop) Raise(ctx context.Context, ask request.Ask) (ref string, joined bool, err error) {
	d, into, err := request.Raise(l.State.Request, l.by, ask)
	if err != nil {
		return "", false, err
	}
	ids, err := l.Append(ctx, d)
	if err != nil {
		return "", false, err
	}
	if into != nil {
		return into.Ref(), true, nil
	}
	r, err := l.State.Request.Find(ids[0].String())
	if err != nil {
		return "", false, err
	}
	return r.Ref(), false, nil
}

// RaiseDue raises what subjects are due for on their own account: age, missing shots, failed checks, a
// changed rig. Subject "" means everybody. It returns the requests' ids.
func (l *Loop) RaiseDue(ctx context.Context, subject string) ([]string, error) {
	var refs []string
	for _, s := range l.State.Roster.List() {
		if s.Erased || subject != "" && s.Code != subject {
			continue
		}
		for _, ask := range l.Judge().Due(l.State.Request, s.Code) {
			ref, _, err := l.Raise(ctx, ask)
			if err != nil {
				return refs, err
			}
			refs = append(refs, ref)
		}
	}
	return refs, nil
}
