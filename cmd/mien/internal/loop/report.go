package loop

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"

	"mien/catalog/appearance"
	"mien/catalog/derived"
	"mien/catalog/policy"
	"mien/catalog/request"
	"mien/catalog/roster"
	"mien/catalog/session"
	"mien/cmd/mien/internal/report"
)

// ReportOptions choose what a report shows.
type ReportOptions struct {
	Out        string
	CodesOnly  bool
	NoPictures bool
}

// Report writes the state of the catalog as a static site. Pictures are those of comparisons that the
// cache holds.
func (l *Loop) Report(ctx context.Context, o ReportOptions) error {
	ready := l.Readiness("", "")
	site := &report.Site{Title: "Likeness report", AsOf: string(l.Today()), CodeOnly: o.CodesOnly, Cautions: []string{
		"Scans of a face or body can be biometric data. A new use or a rescan may need fresh consent. Rules differ by place: follow local law and ask licensed counsel.",
		"A finding about skin is about likeness, never a medical statement: a changed mole or lesion is for a doctor."}}
	for _, q := range ready.Squads {
		site.Squads = append(site.Squads, report.Squad{Name: q.Squad, Subjects: q.Subjects, Current: q.Current, Ageing: q.Ageing, Wrong: q.Wrong, OpenMinutes: q.Minutes, ArtistDays: q.ArtistDays})
	}
	name := func(s *roster.Subject) string {
		if o.CodesOnly {
			return ""
		}
		return s.Name
	}
	for _, r := range l.Queue(request.Open, request.Approved, request.Planned, request.Captured) {
		s, err := l.State.Roster.Get(r.Subject)
		if err != nil {
			return err
		}
		site.Queue = append(site.Queue, l.reportRequest(r, name(s)))
	}
	for _, v := range ready.Subjects {
		s, err := l.State.Roster.Get(v.Code)
		if err != nil {
			return err
		}
		site.Subjects = append(site.Subjects, l.reportSubject(s, v, name(s), o))
	}
	return report.Write(ctx, o.Out, site)
}

func (l *Loop) reportRequest(r request.Ranked, name string) report.Request {
	v := report.Request{ID: r.Ref(), Subject: r.Subject, Name: name, State: string(r.On(l.Today())), Way: string(r.Way), Minutes: r.Minutes, Score: r.Score.Score}
	var scope []string
	for _, s := range r.Asked {
		scope = append(scope, s.String())
	}
	v.Scope = strings.Join(scope, ", ")
	for _, x := range r.Reasons {
		v.Reasons = append(v.Reasons, string(x))
	}
	return v
}

func (l *Loop) reportSubject(s *roster.Subject, v SubjectReadiness, name string, o ReportOptions) report.Subject {
	out := report.Subject{Code: s.Code, Name: name, Squad: v.Squad, Tier: s.Tier, Standing: v.Standing}
	for _, g := range l.State.Session.Generations(s.Code, l.Policy().Shots(true)) {
		out.Sessions = append(out.Sessions, reportSession(g))
	}
	for _, c := range l.State.Appearance.Comparisons(s.Code) {
		if l.State.Appearance.Stands(c) {
			out.Comparisons = append(out.Comparisons, l.reportComparison(s.Code, c, o))
		}
	}
	for _, i := range l.State.Appearance.Sheet(s.Code, l.Today()) {
		from := string(i.From)
		if from == "" {
			from = "before records"
		}
		lasting := "lasting"
		if i.Passing {
			lasting = "passing"
		}
		clear := string(i.Clearance)
		if clear == "" {
			clear = "unknown"
		}
		out.Items = append(out.Items, report.Item{Kind: string(i.Kind), Region: i.Region, From: from, Until: string(i.Until), Lasting: lasting, Clearance: clear, Note: i.Note})
	}
	for _, r := range l.State.Request.Of(s.Code) {
		out.Requests = append(out.Requests, l.reportRequest(request.Ranked{Request: r, Score: l.Judge().Judge(r)}, name))
	}
	for _, a := range l.StaleAssets(s.Code, "") {
		if a.Standing == derived.Fresh {
			continue
		}
		out.StaleAssets++
		for _, c := range a.Causes {
			st := report.Stale{Name: a.Asset.Name, Cause: string(c.What)}
			if c.Finding != nil {
				st.Cause, st.Region, st.Action = string(c.Finding.Kind), c.Finding.Region, string(c.Finding.Action)
			}
			out.Stale = append(out.Stale, st)
		}
	}
	return out
}

func reportSession(g session.Generation) report.Session {
	v := report.Session{Number: g.Number, Name: g.Session, Date: string(g.Captured)}
	for _, t := range g.Takes {
		if t.Standing == session.Held {
			v.Held = append(v.Held, fmt.Sprintf("%s %s (%s)", t.Shot, t.Ref(), strings.Join(t.Held, ", ")))
		} else {
			v.Takes = append(v.Takes, fmt.Sprintf("%s %s", t.Shot, t.Stage))
		}
	}
	for _, s := range policy.Minus(g.Missing, nil) {
		v.Missing = append(v.Missing, s.String())
	}
	return v
}

func (l *Loop) reportComparison(code string, c *appearance.Comparison, o ReportOptions) report.Comparison {
	v := report.Comparison{Part: string(c.Part), Pose: string(c.Pose), Verdict: c.Verdict, Conclusion: c.Conclusion, Causes: c.Causes}
	if t := l.State.Session.Take(c.Old); t != nil {
		v.From = t.Session
	}
	if t := l.State.Session.Take(c.New); t != nil {
		v.To = t.Session
	}
	pictures := map[string]bool{}
	folder := l.ResultFolder(c)
	if folder != "" && !o.NoPictures {
		if r, err := readResult(folder); err == nil {
			for _, p := range r.Pictures {
				pictures[p] = true
			}
		}
	}
	if pictures["overview.png"] {
		v.Pictures = append(v.Pictures, report.Picture{From: filepath.Join(folder, "overview.png"), Caption: "Before, after, and the measured difference in shape."})
	}
	for _, f := range l.State.Appearance.Findings(code) {
		if f.Comparison.ID != c.ID {
			continue
		}
		w := report.Finding{ID: f.Ref(), Kind: string(f.Kind), Action: string(f.Action), Region: f.Region, Sure: Sureness(float64(f.Confidence) / 1e6),
			State: string(f.Standing), AreaCM2: float64(f.AreaMM2) / 100, Because: f.Because, RuledOut: f.RuledOut}
		if p := fmt.Sprintf("finding-F%d.png", f.N+1); pictures[p] {
			w.Pictures = append(w.Pictures, report.Picture{From: filepath.Join(folder, p), Caption: "Before, after, difference; one view, straight at the place."})
		}
		v.Findings = append(v.Findings, w)
	}
	return v
}
