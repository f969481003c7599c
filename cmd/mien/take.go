package main

import (
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"mien/asset"
	"mien/catalog/people"
	"mien/catalog/policy"
	"mien/catalog/record"
	"mien/catalog/session"
	"mien/cmd/mien/internal/loop"
	"mien/cmd/mien/internal/ui"
)

func newTake(a *app) *cobra.Command {
	c := &cobra.Command{Use: "take", Short: "What was captured, and corrections to it", Args: cobra.NoArgs}
	c.AddCommand(newTakeList(a), newTakeRefile(a))
	for _, v := range []struct {
		use, short string
		f          func(s *session.State, by, ref, why string) (record.Draft, error)
	}{
		{"accept TAKE...", "Make takes count for the likeness", session.Accept},
		{"reject TAKE...", "Take takes out of use: looked at and not good", session.Reject},
		{"choose TAKE...", "Make a take the chosen one of its part and pose", session.Choose},
		{"withdraw TAKE...", "Say that a take should not have come in", session.Withdraw},
	} {
		c.AddCommand(newTakeJudge(a, v.use, v.short, v.f))
	}
	return c
}

func newTakeJudge(a *app, use, short string, f func(s *session.State, by, ref, why string) (record.Draft, error)) *cobra.Command {
	var why string
	c := &cobra.Command{
		Use:   use,
		Short: short,
		Args:  cobra.MinimumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			return a.recordAll(c, people.JudgeTake, func(l *loop.Loop) ([]record.Draft, error) {
				var drafts []record.Draft
				for _, ref := range args {
					d, err := f(l.State.Session, l.By(), ref, why)
					if err != nil {
						return nil, err
					}
					drafts = append(drafts, d)
				}
				return drafts, nil
			})
		},
	}
	c.Flags().StringVar(&why, "why", "", "the reason; kept sealed")
	return c
}

func newTakeRefile(a *app) *cobra.Command {
	var subject, part, pose, why string
	var number int
	c := &cobra.Command{
		Use:   "refile TAKE",
		Short: "Move a take to the subject, part or pose that it really shows",
		Args:  cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			return a.record(c, people.JudgeTake, func(l *loop.Loop) (record.Draft, error) {
				t, err := l.State.Session.Find(args[0])
				if err != nil {
					return record.Draft{}, err
				}
				if subject == "" {
					subject = t.Subject
				}
				if _, err := l.State.Roster.Get(subject); err != nil {
					return record.Draft{}, err
				}
				shot := t.Shot
				if part != "" {
					shot = policy.Shot{Part: asset.Part(part), Pose: shot.Pose}
				}
				if pose != "" {
					shot.Pose = asset.Pose(pose)
				}
				return session.Refile(l.State.Session, l.By(), args[0], subject, shot, number, why)
			})
		},
	}
	f := c.Flags()
	f.StringVar(&subject, "subject", "", "whom it really shows")
	f.StringVar(&part, "part", "", "the part it really shows")
	f.StringVar(&pose, "pose", "", "the pose it really shows")
	f.IntVar(&number, "number", 0, "its number there (default: the first free)")
	f.StringVar(&why, "why", "", "the reason; kept sealed")
	return c
}

type takeLine struct {
	Take     string          `json:"take"`
	Subject  string          `json:"subject"`
	Session  string          `json:"session"`
	Part     asset.Part      `json:"part"`
	Pose     asset.Pose      `json:"pose"`
	Number   int             `json:"number"`
	Stage    asset.Stage     `json:"stage"`
	Standing string          `json:"standing"`
	Files    []string        `json:"files"`
	Checks   []session.Check `json:"checks"`
}

func newTakeList(a *app) *cobra.Command {
	var inSession, standing string
	c := &cobra.Command{
		Use:   "list [CODE]",
		Short: "List takes, of one subject or all",
		Args:  cobra.MaximumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			l, err := a.open(c.Context())
			if err != nil {
				return err
			}
			defer l.Close()
			code, err := subjectOf(l, args)
			if err != nil {
				return err
			}
			t := ui.Table{Head: []string{"TAKE", "SUBJECT", "SESSION", "SHOT", "NO", "STAGE", "STANDING", "FILES", "WHY"}, Right: map[int]bool{4: true}}
			list := []takeLine{}
			for _, v := range l.State.Session.Takes(code) {
				if inSession != "" && v.Session != inSession || standing != "" && string(v.Standing) != standing {
					continue
				}
				subject := v.Subject
				if subject == "" {
					subject = "(unfiled)"
				}
				t.Row(v.Ref(), subject, v.Session, v.Shot.String(), strconv.Itoa(v.Number), string(v.Stage), string(v.Standing), strings.Join(v.Names, " "), takeWhy(v))
				list = append(list, takeLine{v.Ref(), v.Subject, v.Session, v.Part, v.Pose, v.Number, v.Stage, string(v.Standing), append([]string{}, v.Names...), append([]session.Check{}, v.Checks...)})
			}
			if a.json {
				return ui.JSON(a.out, map[string]any{"schema": "mien.takes/1", "takes": list})
			}
			return a.table(&t)
		},
	}
	c.Flags().StringVar(&inSession, "session", "", "only this session")
	c.Flags().StringVar(&standing, "standing", "", "only stored, held, accepted, rejected or withdrawn")
	return c
}

// takeWhy says why a take stands as it does: the reason given, else what held it.
func takeWhy(t *session.Take) string {
	if t.Why != "" {
		return t.Why
	}
	var out []string
	for _, c := range t.Checks {
		if c.Severity == "stop" {
			out = append(out, c.Message)
		}
	}
	if t.Contested {
		out = append(out, "contested: two sites judged it")
	}
	return strings.Join(out, "; ")
}

func newRig(a *app) *cobra.Command {
	c := &cobra.Command{Use: "rig", Short: "Rigs, and the days on which their noise changed", Args: cobra.NoArgs}
	var from, note, change string
	add := &cobra.Command{
		Use: "add CODE", Short: "Register a rig; its first noise epoch begins", Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			return a.record(c, people.Visit, func(l *loop.Loop) (record.Draft, error) {
				return session.AddRig(l.State.Session, l.By(), args[0], l.DayOr(from), note)
			})
		},
	}
	noteCmd := &cobra.Command{
		Use: "note CODE", Short: "Record a change of a rig, which opens a noise epoch", Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			return a.record(c, people.Visit, func(l *loop.Loop) (record.Draft, error) {
				return session.NoteRig(l.State.Session, l.By(), args[0], l.DayOr(from), change, note)
			})
		},
	}
	for _, v := range []*cobra.Command{add, noteCmd} {
		v.Flags().StringVar(&from, "from", "", "first day of it (default: today)")
		v.Flags().StringVar(&note, "note", "", "free text; kept sealed")
	}
	noteCmd.Flags().StringVar(&change, "change", "other", "calibration, cameras, light, solver or other")
	list := &cobra.Command{
		Use: "list", Short: "List rigs and their noise epochs", Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			l, err := a.open(c.Context())
			if err != nil {
				return err
			}
			defer l.Close()
			for _, r := range l.State.Session.Rigs() {
				fmt.Fprintln(a.out, r.Code, r.Note)
				for _, e := range r.Epochs {
					fmt.Fprintf(a.out, "  from %s  %s  %s\n", e.From, e.Change, e.Note)
				}
			}
			return nil
		},
	}
	c.AddCommand(add, noteCmd, list)
	return c
}
