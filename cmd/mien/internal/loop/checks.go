package loop

import (
	"context"
	"path/filepath"
	"sync"

	"mien/asset"
	"mien/asset/check"
	"mien/asset/scan"
	"mien/catalog/session"
	"mien/diff"
)

// checkTakes judges every staged take by itself, against its repeats, and against the last accepted
// scan of the same subject. A take that a check refuses is held; one without a remark is accepted
// where the policy says so.
func (l *Loop) checkTakes(ctx context.Context, d *delivery, o IntakeOptions, r *IntakeReport) error {
	o.Progress.Start("checking", int64(len(d.takes)))
	errs := make([]error, len(d.takes))
	contents := make([]asset.Hash, len(d.takes))
	each(len(d.takes), func(i int) {
		errs[i] = l.checkTake(ctx, d, i, &r.Takes[i], contents)
		o.Progress.Step(1)
	})
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	first := map[asset.Hash]int{}
	for i := range d.takes {
		t := &r.Takes[i]
		if contents[i].IsZero() {
			continue
		}
		j, seen := first[contents[i]]
		if !seen {
			first[contents[i]] = i
			continue
		}
		t.add(session.Check{Code: "same-as-another", Severity: "stop", File: d.takes[i].name(), Message: "holds the same recording as " + d.takes[j].name()})
	}
	for i := range d.takes {
		t := &r.Takes[i]
		if old := l.State.Session.Twin(t.Subject, t.Session, t.open); old != nil {
			t.Standing, t.Take = "known", old.Ref()
			continue
		}
		t.Standing = string(session.Stored)
		switch {
		case len(t.open.Held) > 0:
			t.Standing = string(session.Held)
			r.Held++
		case !t.warned() && l.Policy().Accept:
			t.open.Accepted, t.Standing = true, string(session.Accepted)
		}
	}
	return nil
}

func (t *IntakeTake) add(c session.Check) {
	t.Checks = append(t.Checks, c)
	if c.Severity == "stop" {
		t.open.Held = append(t.open.Held, c.Code)
	}
}

func (t *IntakeTake) warned() bool {
	for _, c := range t.Checks {
		if c.Severity != "note" {
			return true
		}
	}
	return false
}

// checkTake loads one delivered take and adds what is wrong with it. Only a cancelled context is an
// error: a file that cannot be decoded is a fault of the take.
func (l *Loop) checkTake(ctx context.Context, d *delivery, i int, t *IntakeTake, contents []asset.Hash) error {
	have := d.takes[i]
	if !hasMesh(have) {
		t.add(session.Check{Code: "no-mesh", Severity: "stop", File: have.name(), Message: "a take needs a mesh; these files have none"})
		return nil
	}
	s, err := scan.Load(ctx, d.root.Name(), names(have), scan.Options{Name: filepath.Join(d.root.Name(), have.name()), Part: t.Part, Pose: t.Pose, Stage: t.Stage})
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if err != nil {
		t.add(session.Check{Code: "unreadable", Severity: "stop", File: have.name(), Message: err.Error()})
		return nil
	}
	contents[i] = check.Content(s)
	issues, err := check.Take(ctx, s)
	if err != nil {
		return err
	}
	for _, is := range issues {
		t.add(session.Check{Code: is.Code, Severity: severity(is.Severity), File: have.name(), Message: is.Message})
	}
	return l.checkAgainstLast(ctx, t, s, have.name())
}

// severity maps a check's word to the catalog's.
func severity(s check.Severity) string {
	if s == check.Refuse {
		return "stop"
	}
	return string(s)
}

// checkAgainstLast holds a scan against the subject's last accepted scan of the same shot.
func (l *Loop) checkAgainstLast(ctx context.Context, t *IntakeTake, s *diff.Scan, file string) error {
	for _, a := range l.State.Session.Likeness(t.Subject, l.Today()) {
		if a.Part != t.Part || a.Pose != t.Pose || a.Session == t.Session {
			continue
		}
		last, err := l.load(ctx, a.Best())
		if err != nil {
			return err
		}
		found, err := againstLast(ctx, last, s)
		if err != nil {
			return err
		}
		for _, is := range found {
			is.File = file
			t.add(is)
		}
	}
	return nil
}

func hasMesh(t deliveredTake) bool {
	for _, f := range t.Files {
		if f.Kind == asset.KindMesh {
			return true
		}
	}
	return false
}

// each calls f(0) to f(n-1), several side by side.
func each(n int, f func(i int)) {
	var wait sync.WaitGroup
	slots := make(chan struct{}, workers())
	for i := range n {
		slots <- struct{}{}
		wait.Go(func() {
			defer func() { <-slots }()
			f(i)
		})
	}
	wait.Wait()
}
