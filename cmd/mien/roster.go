package main

import (
	"errors"
	"fmt"
	"os"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"mien/catalog/day"
	"mien/catalog/people"
	"mien/catalog/record"
	"mien/catalog/roster"
	"mien/cmd/mien/internal/loop"
	"mien/cmd/mien/internal/ui"
)

func newRoster(a *app) *cobra.Command {
	c := &cobra.Command{Use: "roster", Short: "Who is in the catalog", Args: cobra.NoArgs}
	c.AddCommand(newRosterAdd(a), newRosterImport(a), newRosterList(a), newRosterShow(a), newRosterSet(a), newRosterConsent(a),
		newRosterDisclose(a), newRosterHold(a), newRosterErase(a))
	return c
}

func newRosterAdd(a *app) *cobra.Command {
	var n roster.New
	var born string
	c := &cobra.Command{
		Use:   "add CODE",
		Short: "Put a subject on the roster",
		Args:  cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			return a.record(c, people.Roster, func(l *loop.Loop) (record.Draft, error) {
				n.Code, n.Born, n.From = args[0], day.Day(born), l.Today()
				return roster.Add(l.State.Roster, l.By(), n)
			})
		},
	}
	f := c.Flags()
	f.StringVar(&n.Name, "name", "", "the person's name; kept sealed")
	f.StringVar(&born, "born", "", "date of birth; kept sealed")
	f.StringVar(&n.Squad, "squad", "", "the squad the person travels with")
	f.IntVar(&n.Tier, "tier", 2, "importance, 1 (most) to 3")
	f.StringVar(&n.Note, "note", "", "free text; kept sealed")
	return c
}

func newRosterImport(a *app) *cobra.Command {
	var leave, dry bool
	c := &cobra.Command{
		Use:   "import FILE.csv",
		Short: "Bring the roster up to a CSV file with code, name, squad, tier; shows what changes first",
		Args:  cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			l, err := a.open(c.Context())
			if err != nil {
				return err
			}
			defer l.Close()
			if err := l.May(people.Roster); err != nil {
				return err
			}
			in, err := os.Open(args[0])
			if err != nil {
				return err
			}
			defer in.Close()
			rows, faults := roster.ReadCSV(in, args[0])
			if len(faults) > 0 {
				return ui.Hint(&ui.UsageError{Err: errors.Join(faults...)}, "nothing was recorded; mend the file and import it again")
			}
			p := roster.Compare(l.State.Roster, rows, l.Today())
			fmt.Fprintf(a.out, "joined %d, moved %d, left %d, unchanged %d\n", len(p.Joined), len(p.Moved), len(p.Left), p.Same)
			for _, m := range p.Moved {
				fmt.Fprintf(a.out, "  %s: %s tier %d -> %s tier %d\n", m.Code, m.OldSquad, m.OldTier, m.Squad, m.Tier)
			}
			for _, code := range p.Left {
				fmt.Fprintf(a.out, "  %s is in a squad and not in the file\n", code)
			}
			if dry {
				return nil
			}
			drafts, err := p.Drafts(l.State.Roster, l.By(), l.Today(), leave)
			if err != nil {
				return err
			}
			_, err = l.Append(c.Context(), drafts...)
			return err
		},
	}
	c.Flags().BoolVar(&dry, "dry-run", false, "only show what would change")
	c.Flags().BoolVar(&leave, "leave", false, "take those who are not in the file out of their squads")
	return c
}

func newRosterList(a *app) *cobra.Command {
	var squad string
	c := &cobra.Command{
		Use:   "list",
		Short: "List the subjects",
		Args:  cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			l, err := a.open(c.Context())
			if err != nil {
				return err
			}
			defer l.Close()
			t := ui.Table{Head: []string{"CODE", "NAME", "SQUAD", "TIER", "GENERATIONS", "NEWEST"}, Right: map[int]bool{3: true, 4: true}}
			list := []rosterLine{}
			for _, s := range l.State.Roster.List() {
				if squad != "" && s.SquadOn(l.Today()) != squad {
					continue
				}
				v := rosterLine{Code: s.Code, Name: nameOf(s), Squad: s.SquadOn(l.Today()), Tier: s.Tier}
				if g := l.State.Session.Generations(s.Code, l.Policy().Shots(true)); len(g) > 0 {
					v.Generations, v.Newest = len(g), string(g[len(g)-1].Captured)
				}
				list = append(list, v)
				t.Row(v.Code, v.Name, v.Squad, strconv.Itoa(v.Tier), strconv.Itoa(v.Generations), v.Newest)
			}
			if a.json {
				return ui.JSON(a.out, map[string]any{"schema": "mien.roster/1", "subjects": list})
			}
			return a.table(&t)
		},
	}
	c.Flags().StringVar(&squad, "squad", "", "only this squad")
	return c
}

type rosterLine struct {
	Code        string `json:"code"`
	Name        string `json:"name"`
	Squad       string `json:"squad"`
	Tier        int    `json:"tier"`
	Generations int    `json:"generations"`
	Newest      string `json:"newest"`
}

// nameOf returns a subject's name, or why there is none.
func nameOf(s *roster.Subject) string {
	switch {
	case s.Erased:
		return "(erased)"
	case s.NoKey:
		return "(no key here)"
	}
	return s.Name
}

func newRosterShow(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "show CODE",
		Short: "Show one subject: squads, consent, generations, likeness",
		Args:  cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			l, err := a.open(c.Context())
			if err != nil {
				return err
			}
			defer l.Close()
			s, err := l.State.Roster.Get(args[0])
			if err != nil {
				return err
			}
			fmt.Fprintf(a.out, "%s  %s  squad %s  tier %d\n", s.Code, nameOf(s), s.SquadOn(l.Today()), s.Tier)
			for _, u := range []roster.Use{roster.UseCapture, roster.UseGame, roster.UseShow} {
				word := "not recorded"
				if s.MayUse(u, l.Today()) {
					word = "in force"
				}
				fmt.Fprintf(a.out, "  consent to %s: %s\n", u, word)
			}
			for _, g := range l.State.Session.Generations(s.Code, l.Policy().Shots(true)) {
				fmt.Fprintf(a.out, "  generation %d  %s  %s", g.Number, g.Session, joinShots(g.Shots))
				if g.Partial() {
					fmt.Fprintf(a.out, "  missing %s", joinShots(g.Missing))
				}
				fmt.Fprintln(a.out)
			}
			for _, v := range l.State.Session.Likeness(s.Code, l.Today()) {
				fmt.Fprintf(a.out, "  likeness %s  from %s, %s, %s\n", v.Shot, v.Session, v.Best().Stage, v.Best().Ref())
			}
			return nil
		},
	}
}

func newRosterSet(a *app) *cobra.Command {
	var ch roster.Change
	var squad, from string
	c := &cobra.Command{
		Use:   "set CODE",
		Short: "Change a subject's squad, tier, name or note from a day on",
		Args:  cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			return a.record(c, people.Roster, func(l *loop.Loop) (record.Draft, error) {
				ch.From = day.Day(from)
				if c.Flags().Changed("squad") {
					ch.Squad = &squad
					if ch.From == "" {
						ch.From = l.Today()
					}
				}
				return roster.Set(l.State.Roster, l.By(), args[0], ch)
			})
		},
	}
	f := c.Flags()
	f.StringVar(&squad, "squad", "", "the new squad; empty leaves every squad")
	f.StringVar(&from, "from", "", "first day of it (default: today)")
	f.IntVar(&ch.Tier, "tier", 0, "importance, 1 to 3")
	f.StringVar(&ch.Name, "name", "", "the person's name")
	f.StringVar(&ch.Note, "note", "", "free text")
	return c
}

func newRosterConsent(a *app) *cobra.Command {
	var uses []string
	var from, until, note string
	var revoke bool
	c := &cobra.Command{
		Use:   "consent CODE...",
		Short: "Record what subjects consent to, or that it no longer holds",
		Args:  cobra.MinimumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			return a.recordAll(c, people.Consent, func(l *loop.Loop) ([]record.Draft, error) {
				var what []roster.Use
				for _, u := range uses {
					what = append(what, roster.Use(strings.TrimSpace(u)))
				}
				start := day.Day(from)
				if start == "" {
					start = l.Today()
				}
				var drafts []record.Draft
				for _, code := range args {
					var d record.Draft
					var err error
					if revoke {
						d, err = roster.RevokeConsent(l.State.Roster, l.By(), code, what, start, note)
					} else {
						d, err = roster.GiveConsent(l.State.Roster, l.By(), code, what, start, day.Day(until), note)
					}
					if err != nil {
						return nil, err
					}
					drafts = append(drafts, d)
				}
				return drafts, nil
			})
		},
	}
	f := c.Flags()
	f.StringSliceVar(&uses, "to", []string{"capture"}, "capture, game, show; several with commas")
	f.StringVar(&from, "from", "", "first day (default: today)")
	f.StringVar(&until, "until", "", "first day on which it no longer holds")
	f.StringVar(&note, "reference", "", "where the signed paper lies; kept sealed")
	f.BoolVar(&revoke, "revoke", false, "the consent no longer holds")
	return c
}
