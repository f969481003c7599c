package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"mien/catalog/day"
	"mien/catalog/people"
	"mien/catalog/record"
	"mien/catalog/visit"
	"mien/cmd/mien/internal/loop"
	"mien/cmd/mien/internal/ui"
)

func newVisit(a *app) *cobra.Command {
	c := &cobra.Command{Use: "visit", Short: "Where the rig goes, and what it captures there", Args: cobra.NoArgs}
	c.AddCommand(newVisitAdd(a), newVisitList(a), newVisitPlan(a))
	return c
}

func newVisitAdd(a *app) *cobra.Command {
	var o visit.AddOpen
	var s visit.AddSealed
	c := &cobra.Command{
		Use:   "add DATE",
		Short: "Record that the rig will be somewhere",
		Args:  cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			o.Date = day.Day(args[0])
			return a.record(c, people.Visit, func(l *loop.Loop) (record.Draft, error) {
				return visit.Add(l.State.Visit, l.By(), o, s)
			})
		},
	}
	f := c.Flags()
	f.StringSliceVar(&o.Squads, "squad", nil, "the squads that are there; several with commas")
	f.IntVar(&o.Minutes, "minutes", 0, "minutes from arrival to departure of the rig")
	f.StringVar(&o.Rig, "rig", "", "code of the rig")
	f.StringVar(&s.Place, "place", "", "where; kept sealed")
	f.StringVar(&s.Note, "note", "", "free text; kept sealed")
	return c
}

func newVisitList(a *app) *cobra.Command {
	return &cobra.Command{
		Use: "list", Short: "List the visits", Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			l, err := a.open(c.Context())
			if err != nil {
				return err
			}
			defer l.Close()
			t := ui.Table{Head: []string{"VISIT", "DATE", "PLACE", "SQUADS", "MINUTES", "PLANNED"}, Right: map[int]bool{4: true}}
			for _, v := range l.State.Visit.List() {
				planned := "no"
				switch {
				case v.Dropped:
					planned = "does not take place"
				case v.Plan != nil:
					planned = ui.Plural(len(v.Plan), "subject")
				}
				t.Row(v.Ref(), string(v.Date), v.Place, strings.Join(v.Squads, ", "), fmt.Sprint(v.Minutes), planned)
			}
			return a.table(&t)
		},
	}
}

func newVisitPlan(a *app) *cobra.Command {
	var dry bool
	c := &cobra.Command{
		Use:   "plan VISIT",
		Short: "Fit the approved requests of the squads there into the rig's minutes",
		Args:  cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			l, err := a.open(c.Context())
			if err != nil {
				return err
			}
			defer l.Close()
			if err := l.May(people.Visit); err != nil {
				return err
			}
			p, err := l.PlanVisit(c.Context(), args[0], dry)
			if err != nil {
				return err
			}
			t := ui.Table{Head: []string{"START", "SUBJECT", "MINUTES", "SHOTS"}, Right: map[int]bool{0: true, 2: true}}
			for _, s := range p.Slots {
				t.Row(fmt.Sprintf("+%d:%02d", s.Start/120, s.Start/2%60), s.Subject, fmt.Sprintf("%.1f", float64(s.HalfMinutes)/2), joinShots(s.Shots))
			}
			if err := a.table(&t); err != nil {
				return err
			}
			fmt.Fprintf(a.out, "%.1f of %.1f minutes used; %.1f for set-up, %.1f kept free\n", float64(p.UsedHalf)/2, float64(p.RoomHalf)/2, float64(p.SetUpHalf)/2, float64(p.HeldHalf)/2)
			for _, k := range p.Cut {
				fmt.Fprintf(a.out, "left out: %s %s: %s\n", k.Subject, joinShots(k.Shots), k.Why)
			}
			return nil
		},
	}
	c.Flags().BoolVar(&dry, "dry-run", false, "show the plan, record nothing")
	return c
}
