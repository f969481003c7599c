package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"mien/catalog/day"
	"mien/catalog/people"
	"mien/catalog/policy"
	"mien/catalog/record"
	"mien/catalog/request"
	"mien/cmd/mien/internal/loop"
	"mien/cmd/mien/internal/ui"
)

func newRequest(a *app) *cobra.Command {
	c := &cobra.Command{Use: "request", Short: "Requests to renew a likeness, and decisions on them", Args: cobra.NoArgs}
	c.AddCommand(newRequestRaise(a), newRequestList(a), newRequestShow(a), newRequestApprove(a), newRequestDefer(a), newRequestPin(a))
	for _, v := range []struct {
		use, short string
		may        people.Action
		f          func(s *request.State, by, ref string, today day.Day, why string) (record.Draft, error)
	}{
		{"decline REQUEST...", "Decide that requests are not carried out", people.Decide, request.Decline},
		{"withdraw REQUEST...", "Take requests back that should not have been raised", people.Raise, request.Withdraw},
		{"reopen REQUEST...", "Open requests again", people.Decide, request.Reopen},
	} {
		var why string
		sub := &cobra.Command{Use: v.use, Short: v.short, Args: cobra.MinimumNArgs(1),
			RunE: func(c *cobra.Command, args []string) error {
				return a.decide(c, v.may, args, func(l *loop.Loop, ref string) (record.Draft, error) {
					return v.f(l.State.Request, l.By(), ref, l.Today(), why)
				})
			}}
		sub.Flags().StringVar(&why, "why", "", "the reason; kept sealed")
		c.AddCommand(sub)
	}
	return c
}

// decide records one decision on each of several requests, all or none, and says how they stand.
func (a *app) decide(c *cobra.Command, may people.Action, refs []string, f func(*loop.Loop, string) (record.Draft, error)) error {
	err := a.recordAll(c, may, func(l *loop.Loop) ([]record.Draft, error) {
		var drafts []record.Draft
		for _, ref := range refs {
			d, err := f(l, ref)
			if err != nil {
				return nil, err
			}
			drafts = append(drafts, d)
		}
		return drafts, nil
	})
	if err == nil {
		a.say("%s: %s", c.Name(), strings.Join(refs, ", "))
	}
	return err
}

func newRequestApprove(a *app) *cobra.Command {
	var way, why string
	c := &cobra.Command{
		Use:   "approve REQUEST...",
		Short: "Decide that requests are carried out: by rescan, prop, photos or handwork",
		Args:  cobra.MinimumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			return a.decide(c, people.Decide, args, func(l *loop.Loop, ref string) (record.Draft, error) {
				return request.Approve(l.State.Request, l.By(), ref, request.Way(way), l.Today(), why)
			})
		},
	}
	c.Flags().StringVar(&way, "way", "rescan", "rescan, prop, photos or handwork")
	c.Flags().StringVar(&why, "why", "", "a remark; kept sealed")
	return c
}

func newRequestDefer(a *app) *cobra.Command {
	var until, why string
	c := &cobra.Command{
		Use:   "defer REQUEST...",
		Short: "Put requests off until a day, on which they come back by themselves",
		Args:  cobra.MinimumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if t, err := dayFlag("until", until); err != nil || t.IsZero() {
				if err == nil {
					err = ui.Misuse("request defer: --until DATE is needed")
				}
				return err
			}
			return a.decide(c, people.Decide, args, func(l *loop.Loop, ref string) (record.Draft, error) {
				return request.Defer(l.State.Request, l.By(), ref, day.Day(until), l.Today(), why)
			})
		},
	}
	c.Flags().StringVar(&until, "until", "", "the day on which it comes back")
	c.Flags().StringVar(&why, "why", "", "the reason; kept sealed")
	return c
}

func newRequestPin(a *app) *cobra.Command {
	var off bool
	var why string
	c := &cobra.Command{
		Use:   "pin REQUEST...",
		Short: "Move requests to the top of the queue, or let them go back",
		Args:  cobra.MinimumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			return a.decide(c, people.Decide, args, func(l *loop.Loop, ref string) (record.Draft, error) {
				return request.Pin(l.State.Request, l.By(), ref, !off, why)
			})
		},
	}
	c.Flags().BoolVar(&off, "off", false, "let it go back to its place")
	c.Flags().StringVar(&why, "why", "", "the reason; kept sealed")
	return c
}

func newRequestRaise(a *app) *cobra.Command {
	var shots []string
	var reason, note string
	var due bool
	c := &cobra.Command{
		Use:   "raise [CODE]",
		Short: "Ask for a subject's scans to be renewed, or raise all that is due",
		Args:  cobra.MaximumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			l, err := a.open(c.Context())
			if err != nil {
				return err
			}
			defer l.Close()
			if err := l.May(people.Raise); err != nil {
				return err
			}
			code, err := subjectOf(l, args)
			if err != nil {
				return err
			}
			if due {
				refs, err := l.RaiseDue(c.Context(), code)
				for _, ref := range refs {
					fmt.Fprintf(a.out, "raised request %s\n", ref)
				}
				if len(refs) == 0 && err == nil {
					fmt.Fprintln(a.out, "nothing is due")
				}
				return err
			}
			if code == "" {
				return ui.Misuse("request raise: give a CODE, or --due for all that is due")
			}
			ask := request.Ask{Subject: code, Reasons: []policy.Reason{policy.Reason(reason)}, Note: note}
			for _, s := range shots {
				shot, err := policy.ParseShot(s)
				if err != nil {
					return err
				}
				ask.Shots = append(ask.Shots, shot)
			}
			ref, joined, err := l.Raise(c.Context(), ask)
			if err != nil {
				return err
			}
			word := "raised"
			if joined {
				word = "joined"
			}
			fmt.Fprintf(a.out, "%s request %s\n", word, ref)
			return nil
		},
	}
	f := c.Flags()
	f.BoolVar(&due, "due", false, "raise what age, missing shots, failed checks and rig changes ask for")
	f.StringSliceVar(&shots, "shot", []string{"head/neutral"}, "PART/POSE to capture; several with commas")
	f.StringVar(&reason, "reason", "quality", "age, missing-pose, quality or rig")
	f.StringVar(&note, "note", "", "free text; kept sealed")
	return c
}
