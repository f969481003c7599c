package loop

import (
	"context"
	"fmt"
	"path/filepath"
	"sort"

	"mien/asset"
	"mien/catalog/day"
	"mien/catalog/fault"
	"mien/catalog/people"
	"mien/catalog/policy"
	"mien/catalog/record"
	"mien/catalog/roster"
	"mien/catalog/session"
)

// IntakeOptions are the choices of an intake. Empty fields are read from the delivery.
type IntakeOptions struct {
	Subject  string
	Session  string
	Captured day.Day
	Rig      string
	Stage    asset.Stage
	DryRun   bool
	Progress Progress
}

// IntakeTake is what became of one take.
type IntakeTake struct {
	Subject  string          `json:"subject"`
	Session  string          `json:"session"`
	Part     asset.Part      `json:"part"`
	Pose     asset.Pose      `json:"pose"`
	Number   int             `json:"number"`
	Stage    asset.Stage     `json:"stage"`
	Files    []string        `json:"files"`
	Standing string          `json:"standing"` // accepted, stored, held, known
	Take     string          `json:"take"`
	Checks   []session.Check `json:"checks"`
	open     session.TakeOpen
	names    []string
}

// IntakeReport is what an intake did, the document `mien.intake/1`.
type IntakeReport struct {
	Schema     string              `json:"schema"`
	Folder     string              `json:"folder"`
	DryRun     bool                `json:"dry_run"`
	Takes      []IntakeTake        `json:"takes"`
	Unfiled    []string            `json:"unfiled"` // stored, held: nothing says whose they are
	Litter     int                 `json:"litter"`  // files of the operating system, left behind
	Files      int                 `json:"files"`
	Bytes      int64               `json:"bytes"`
	Duplicates int                 `json:"duplicates"` // files that were in the store already
	Missing    map[string][]string `json:"missing"`    // core shots that a subject's session lacks
	Held       int                 `json:"held"`
	Changes    []Change            `json:"changes"`
	Settled    Settled             `json:"settled"`
	Warnings   []string            `json:"warnings"`
	bySubject  map[string][]int
}

// unfiledSubject files what nobody can be named for.
const unfiledSubject = ""

// Intake takes a delivery in: every file is stored and durable before one record a subject says so, all
// of them in one batch. Takes that a check refuses are stored and held. A subject that is not on the
// roster, a link, or a file that cannot be read refuses the whole delivery with nothing recorded.
func (l *Loop) Intake(ctx context.Context, folder string, o IntakeOptions) (*IntakeReport, error) {
	if err := l.May(people.Intake); err != nil {
		return nil, err
	}
	if o.Progress == nil {
		o.Progress = silent{}
	}
	d, err := readDelivery(ctx, folder, o.Subject, false, l.Policy())
	if err != nil {
		return nil, err
	}
	defer d.close()
	facts, err := l.sessionOf(folder, d, o)
	if err != nil {
		return nil, err
	}
	r := &IntakeReport{Schema: "mien.intake/1", Folder: folder, DryRun: o.DryRun, Litter: d.litter, Bytes: d.bytes,
		Takes: []IntakeTake{}, Unfiled: []string{}, Changes: []Change{}, Warnings: []string{}, Missing: map[string][]string{}, bySubject: map[string][]int{}}
	if err := l.admit(d, facts, r); err != nil {
		return nil, err
	}
	if len(d.takes) == 0 && len(d.unfiled) == 0 {
		return nil, fault.Invalid("delivery "+folder, "holds no files")
	}
	if err := l.stage(ctx, d, facts, o, r); err != nil {
		return nil, err
	}
	if o.DryRun {
		l.missing(r, facts)
		return r, nil
	}
	if err := l.recordIntake(ctx, d, facts, r); err != nil {
		return nil, err
	}
	l.missing(r, facts)
	return r, nil
}

// intakeFacts is what is known of the session that a delivery comes from.
type intakeFacts struct {
	session  string
	captured day.Day
	site     string
	rig      string
	stage    asset.Stage
}

// sessionOf settles session, date, rig and stage from the flags, then the manifest.
func (l *Loop) sessionOf(folder string, d *delivery, o IntakeOptions) (intakeFacts, error) {
	first := func(a, b string) string {
		if a != "" {
			return a
		}
		return b
	}
	f := intakeFacts{session: first(o.Session, d.session.Session), rig: first(o.Rig, d.session.Rig),
		captured: day.Day(first(string(o.Captured), d.session.Captured)),
		stage:    asset.Stage(first(string(o.Stage), string(d.session.Stage))), site: "road"}
	if f.stage == "" {
		f.stage = asset.StageRaw
	}
	if f.stage.Rank() < 0 {
		return f, usage("stage %q: allowed are raw, cleaned, fitted, retouched", f.stage)
	}
	if f.session != "" {
		date, _, site, err := session.ParseName(f.session)
		if err != nil {
			return f, err
		}
		if f.captured == "" {
			f.captured = date
		}
		f.site = site
	}
	if f.captured == "" {
		return f, usage("delivery %s does not say when it was captured; add --captured DATE or --session NAME", folder)
	}
	if !f.captured.Valid() {
		return f, usage("captured %q: allowed are dates like 2026-10-03", f.captured)
	}
	if f.session == "" {
		f.session = session.Name(f.captured, 'a', f.site)
	}
	if today := l.Today(); f.captured > today {
		return f, usage("captured %s lies in the future, today is %s", f.captured, today)
	}
	return f, nil
}

// admit refuses subjects that are not on the roster, and warns about or refuses missing consent.
func (l *Loop) admit(d *delivery, f intakeFacts, r *IntakeReport) error {
	seen := map[string]bool{}
	for _, t := range d.takes {
		if seen[t.Subject] {
			continue
		}
		seen[t.Subject] = true
		if _, err := l.State.Roster.Prop(t.Subject); err == nil {
			continue
		}
		v, err := l.State.Roster.Get(t.Subject)
		switch {
		case err != nil:
			return fmt.Errorf("intake: %s: %w; nothing was stored", t.name(), err)
		case v.Erased:
			return &fault.DeniedError{Who: l.by, Action: "intake of " + t.Subject, Why: "the subject was erased"}
		case v.MayUse(roster.UseCapture, f.captured):
		case l.Policy().Consent:
			return &fault.DeniedError{Who: l.by, Action: "intake of " + t.Subject, Why: "no consent to capture is in force on " + string(f.captured)}
		default:
			r.Warnings = append(r.Warnings, fmt.Sprintf("%s: no consent to capture is recorded for %s", t.Subject, f.captured))
		}
	}
	return nil
}

// stage stores the files of every take and checks what it holds.
func (l *Loop) stage(ctx context.Context, d *delivery, f intakeFacts, o IntakeOptions, r *IntakeReport) error {
	o.Progress.Start("storing", max(1, d.bytes))
	for i := range d.takes {
		t := &d.takes[i]
		take := IntakeTake{Subject: t.Subject, Part: t.Shot.Part, Pose: t.Shot.Pose, Number: t.Number, Stage: t.Stage, Checks: []session.Check{}}
		if take.Stage == "" {
			take.Stage = f.stage
		}
		take.Session = f.session
		take.open = session.TakeOpen{Shot: t.Shot, Number: t.Number, Stage: take.Stage}
		for _, file := range t.Files {
			stored, err := l.put(ctx, d, file, o, r)
			if err != nil {
				return err
			}
			take.open.Files = append(take.open.Files, stored)
			take.names = append(take.names, file.Rel)
			take.Files = append(take.Files, file.Rel)
		}
		r.bySubject[t.Subject] = append(r.bySubject[t.Subject], len(r.Takes))
		r.Takes = append(r.Takes, take)
	}
	for n, file := range d.unfiled {
		stored, err := l.put(ctx, d, file, o, r)
		if err != nil {
			return err
		}
		r.Unfiled = append(r.Unfiled, file.Rel)
		r.Takes = append(r.Takes, IntakeTake{Subject: unfiledSubject, Session: f.session, Files: []string{file.Rel}, Standing: "held", Number: n + 1,
			Checks: []session.Check{{Code: "unfiled", Severity: "stop", File: file.Rel, Message: "nothing says whose file this is or what it shows"}},
			names:  []string{file.Rel}, open: session.TakeOpen{Shot: policy.Shot{Part: "unfiled", Pose: "neutral"}, Number: n + 1, Stage: f.stage, Held: []string{"unfiled"}, Files: []session.File{stored}}})
		r.bySubject[unfiledSubject] = append(r.bySubject[unfiledSubject], len(r.Takes)-1)
	}
	return l.checkTakes(ctx, d, o, r)
}

// put stores one file, or only hashes it in a dry run.
func (l *Loop) put(ctx context.Context, d *delivery, file delivered, o IntakeOptions, r *IntakeReport) (session.File, error) {
	in, err := d.root.Open(file.Rel)
	if err != nil {
		return session.File{}, fmt.Errorf("intake: %s: %w; nothing was recorded", file.Rel, err)
	}
	defer in.Close()
	f := session.File{Kind: file.Kind, Channel: file.Channel, Light: file.Light}
	var existed bool
	if o.DryRun {
		f.Hash, f.Size, err = asset.HashReader(in)
		if err == nil {
			existed, err = l.Catalog.Store().Has(ctx, f.Hash)
		}
	} else {
		f.Hash, f.Size, existed, err = l.Catalog.Store().Put(ctx, in)
	}
	if err != nil {
		return f, fmt.Errorf("intake: %s: %w; nothing was recorded", file.Rel, err)
	}
	r.Files++
	if existed {
		r.Duplicates++
	}
	o.Progress.Step(f.Size)
	return f, nil
}

// recordIntake writes one record a subject and session, all in one batch.
func (l *Loop) recordIntake(ctx context.Context, d *delivery, f intakeFacts, r *IntakeReport) error {
	type key struct{ subject, session string }
	groups := map[key][]int{}
	var keys []key
	for i := range r.Takes {
		t := &r.Takes[i]
		if t.Standing == "known" {
			continue
		}
		k := key{t.Subject, t.Session}
		if groups[k] == nil {
			keys = append(keys, k)
		}
		groups[k] = append(groups[k], i)
	}
	sort.Slice(keys, func(a, b int) bool {
		return keys[a].subject < keys[b].subject || keys[a].subject == keys[b].subject && keys[a].session < keys[b].session
	})
	var drafts []record.Draft
	for _, k := range keys {
		open := session.IntakeOpen{Session: k.session, Captured: f.captured, Rig: f.rig, Site: f.site}
		sealed := session.IntakeSealed{Folder: filepath.Base(d.root.Name())}
		for _, i := range groups[k] {
			open.Takes = append(open.Takes, r.Takes[i].open)
			sealed.Takes = append(sealed.Takes, session.TakeSealed{Names: r.Takes[i].names, Checks: r.Takes[i].Checks})
		}
		draft, err := session.Intake(l.State.Session, l.by, k.subject, open, sealed)
		if err != nil {
			return err
		}
		drafts = append(drafts, draft)
	}
	if len(drafts) == 0 {
		return nil
	}
	ids, err := l.Append(ctx, drafts...)
	if err != nil {
		return err
	}
	for n, k := range keys {
		for j, i := range groups[k] {
			if t := l.State.Session.Take(session.TakeID(ids[n], j)); t != nil {
				r.Takes[i].Take, r.Takes[i].Standing = t.Ref(), string(t.Standing)
			}
		}
	}
	return nil
}

// missing lists the core shots that each delivered session lacks.
func (l *Loop) missing(r *IntakeReport, f intakeFacts) {
	core := l.Policy().Shots(true)
	for subject, list := range r.bySubject {
		if subject == unfiledSubject {
			continue
		}
		if _, err := l.State.Roster.Prop(subject); err == nil {
			continue
		}
		var have []policy.Shot
		for _, i := range list {
			if t := r.Takes[i]; t.Standing != "held" {
				have = append(have, policy.Shot{Part: t.Part, Pose: t.Pose})
			}
		}
		for _, s := range policy.Minus(core, have) {
			r.Missing[subject] = append(r.Missing[subject], s.String())
		}
	}
}
