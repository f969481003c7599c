package main

import (
	"fmt"
	"sort"
	"strings"

	"github.com/spf13/cobra"

	"mien/asset"
	"mien/catalog/day"
	"mien/cmd/mien/internal/loop"
	"mien/cmd/mien/internal/ui"
)

func newIntake(a *app) *cobra.Command {
	var o loop.IntakeOptions
	var captured, stage string
	var noCompare bool
	c := &cobra.Command{
		Use:   "intake FOLDER",
		Short: "Take a delivery in: store every file, check it, compare it with the likeness before",
		Args:  cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if _, err := dayFlag("captured", captured); err != nil {
				return err
			}
			l, err := a.open(c.Context())
			if err != nil {
				return err
			}
			defer l.Close()
			p := a.progress()
			defer p.Close()
			o.Captured, o.Stage, o.Progress = day.Day(captured), asset.Stage(stage), p
			r, err := l.Intake(c.Context(), args[0], o)
			if err != nil {
				return err
			}
			if !o.DryRun && !noCompare {
				if r.Changes, err = l.CompareNew(c.Context(), r, p); err != nil {
					return err
				}
			}
			if !o.DryRun {
				if r.Settled, err = l.Settle(c.Context()); err != nil {
					return err
				}
			}
			p.Close()
			if a.json {
				err = ui.JSON(a.out, r)
			} else {
				err = a.printIntake(r)
			}
			if err != nil {
				return err
			}
			changed := false
			for _, ch := range r.Changes {
				changed = changed || ch.Verdict != loop.Same
			}
			return a.attend(r.Held > 0 || len(r.Unfiled) > 0 || changed, "the delivery needs attention")
		},
	}
	f := c.Flags()
	f.StringVar(&o.Subject, "subject", "", "whose files these are, where their names do not say")
	f.StringVar(&o.Session, "session", "", "session, like 2026-10-03a-road (default: first of the day)")
	f.StringVar(&captured, "captured", "", "date of the capture")
	f.StringVar(&o.Rig, "rig", "", "code of the rig")
	f.StringVar(&stage, "stage", "", "raw, cleaned, fitted or retouched (default raw)")
	f.BoolVar(&o.DryRun, "dry-run", false, "show what would be taken in, store nothing")
	f.BoolVar(&noCompare, "no-compare", false, "store and check only; compare later with: mien changes")
	return c
}

func (a *app) printIntake(r *loop.IntakeReport) error {
	verb := "stored"
	if r.DryRun {
		verb = "would store"
	}
	fmt.Fprintf(a.out, "%s: %s %s, %.1f MB, %d already here, %s of the operating system left behind\n",
		r.Folder, verb, ui.Plural(r.Files, "file"), float64(r.Bytes)/1e6, r.Duplicates, ui.Plural(r.Litter, "file"))
	t := ui.Table{Head: []string{"SUBJECT", "SESSION", "SHOT", "TAKE", "STAGE", "STANDING", "REMARK"}}
	for _, v := range r.Takes {
		if v.Subject == "" {
			continue
		}
		var remarks []string
		for _, ch := range v.Checks {
			if ch.Severity != "note" {
				remarks = append(remarks, ch.Message)
			}
		}
		t.Row(v.Subject, v.Session, string(v.Part)+"/"+string(v.Pose), v.Take, string(v.Stage), v.Standing, strings.Join(remarks, "; "))
	}
	if err := a.table(&t); err != nil {
		return err
	}
	for _, u := range r.Unfiled {
		fmt.Fprintf(a.out, "held, unfiled: %s\n", u)
	}
	codes := make([]string, 0, len(r.Missing))
	for code := range r.Missing {
		codes = append(codes, code)
	}
	sort.Strings(codes)
	for _, code := range codes {
		fmt.Fprintf(a.out, "missing from the shot list: %s %s\n", code, strings.Join(r.Missing[code], ", "))
	}
	for _, w := range r.Warnings {
		a.say("warning: %s", w)
	}
	if len(r.Changes) > 0 {
		fmt.Fprintln(a.out)
		if err := a.printChanges(r.Changes); err != nil {
			return err
		}
	}
	a.saySettled(r.Settled)
	return nil
}
