package main

import (
	"github.com/spf13/cobra"

	"mien/asset/terms"
	"mien/catalog/appearance"
	"mien/catalog/day"
	"mien/catalog/people"
	"mien/catalog/record"
	"mien/cmd/mien/internal/loop"
	"mien/cmd/mien/internal/ui"
)

func newAppearance(a *app) *cobra.Command {
	var asOf string
	c := &cobra.Command{
		Use:   "appearance CODE",
		Short: "Show or mend a subject's appearance sheet",
		Args:  cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if _, err := dayFlag("as-of", asOf); err != nil {
				return err
			}
			l, err := a.open(c.Context())
			if err != nil {
				return err
			}
			defer l.Close()
			if _, err := l.State.Roster.Get(args[0]); err != nil {
				return err
			}
			items := l.State.Appearance.Sheet(args[0], l.DayOr(asOf))
			if a.json {
				return ui.JSON(a.out, map[string]any{"schema": "mien.appearance/1", "subject": args[0], "items": append([]appearance.Item{}, items...)})
			}
			t := ui.Table{Head: []string{"ITEM", "KIND", "REGION", "FROM", "UNTIL", "LASTING", "CLEARANCE", "NOTE"}}
			for _, i := range items {
				t.Row(i.Ref(), string(i.Kind), i.Region, fromOf(i), string(i.Until), lasting(i), clearance(i), i.Note)
			}
			return a.table(&t)
		},
	}
	c.Flags().StringVar(&asOf, "as-of", "", "how it stood on this date (default: today)")
	c.AddCommand(newAppearanceAdd(a), newAppearanceEnd(a))
	return c
}

func fromOf(i appearance.Item) string {
	if i.From == "" {
		return "before records"
	}
	return string(i.From)
}

func lasting(i appearance.Item) string {
	if i.Passing {
		return "passing"
	}
	return "lasting"
}

func clearance(i appearance.Item) string {
	if i.Clearance == appearance.ClearUnknown {
		return "unknown"
	}
	return string(i.Clearance)
}

func newAppearanceAdd(a *app) *cobra.Command {
	var e appearance.Entry
	var from string
	c := &cobra.Command{
		Use:   "add CODE KIND",
		Short: "Put an item on a subject's sheet by hand",
		Args:  cobra.ExactArgs(2),
		RunE: func(c *cobra.Command, args []string) error {
			kind, err := terms.ParseItemKind(args[1])
			if err != nil {
				return err
			}
			return a.record(c, people.Sheet, func(l *loop.Loop) (record.Draft, error) {
				if _, err := l.State.Roster.Get(args[0]); err != nil {
					return record.Draft{}, err
				}
				e.Kind, e.From = kind, day.Day(from)
				return appearance.Add(l.State.Appearance, l.By(), args[0], e)
			})
		},
	}
	f := c.Flags()
	f.StringVar(&e.Region, "region", "", "where it is")
	f.StringVar(&from, "from", "", "first day it was there (default: longer than anybody knows)")
	f.BoolVar(&e.Passing, "passing", false, "comes and goes")
	f.StringVar(&e.Note, "note", "", "free text; kept sealed")
	return c
}

func newAppearanceEnd(a *app) *cobra.Command {
	var until, why string
	c := &cobra.Command{
		Use:   "end CODE ITEM",
		Short: "Say that an item is gone from a day on",
		Args:  cobra.ExactArgs(2),
		RunE: func(c *cobra.Command, args []string) error {
			return a.record(c, people.Sheet, func(l *loop.Loop) (record.Draft, error) {
				return appearance.End(l.State.Appearance, l.By(), args[0], args[1], l.DayOr(until), why)
			})
		},
	}
	c.Flags().StringVar(&until, "until", "", "first day on which it was gone (default: today)")
	c.Flags().StringVar(&why, "why", "", "the reason; kept sealed")
	return c
}
