package main

import (
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"mien/cmd/mien/internal/loop"
	"mien/cmd/mien/internal/ui"
)

func newReadiness(a *app) *cobra.Command {
	var squad, asOf string
	c := &cobra.Command{
		Use:   "readiness",
		Short: "How true the scans are, by squad and subject: current, ageing, wrong",
		Args:  cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if _, err := dayFlag("as-of", asOf); err != nil {
				return err
			}
			l, err := a.open(c.Context())
			if err != nil {
				return err
			}
			defer l.Close()
			r := l.Readiness(squad, l.DayOr(asOf))
			if a.json {
				return ui.JSON(a.out, r)
			}
			t := ui.Table{Head: []string{"SQUAD", "SUBJECTS", "CURRENT", "AGEING", "WRONG", "RIG MIN", "ARTIST DAYS"}, Right: map[int]bool{1: true, 2: true, 3: true, 4: true, 5: true, 6: true}}
			for _, q := range r.Squads {
				t.Row(q.Squad, strconv.Itoa(q.Subjects), strconv.Itoa(q.Current), strconv.Itoa(q.Ageing), strconv.Itoa(q.Wrong), fmt.Sprintf("%.1f", q.Minutes), fmt.Sprintf("%.1f", q.ArtistDays))
			}
			if err := a.table(&t); err != nil {
				return err
			}
			fmt.Fprintln(a.out)
			t = ui.Table{Head: []string{"SUBJECT", "SQUAD", "TIER", "STANDING", "FOOTWEAR", "OLDEST SCAN", "WHY"}, Right: map[int]bool{2: true, 5: true}}
			for _, s := range r.Subjects {
				t.Row(s.Code, s.Squad, strconv.Itoa(s.Tier), s.Standing, s.Footwear, ui.Plural(s.OldestDays, "day"), readinessWhy(s))
			}
			return a.table(&t)
		},
	}
	c.Flags().StringVar(&squad, "squad", "", "only this squad")
	c.Flags().StringVar(&asOf, "as-of", "", "ages on this date (default: today)")
	return c
}

func readinessWhy(s loop.SubjectReadiness) string {
	var why []string
	if s.Requests > 0 {
		why = append(why, ui.Plural(s.Requests, "live request"))
	}
	if s.StaleAssets > 0 {
		why = append(why, ui.Plural(s.StaleAssets, "stale asset"))
	}
	if s.Unjudged > 0 {
		why = append(why, ui.Plural(s.Unjudged, "finding")+" to judge")
	}
	if len(s.Missing) > 0 {
		why = append(why, "missing "+strings.Join(s.Missing, ", "))
	}
	if len(s.Old) > 0 {
		why = append(why, "old "+strings.Join(s.Old, ", "))
	}
	return strings.Join(why, "; ")
}
