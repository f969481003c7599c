package main

import (
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"mien/catalog/day"
	"mien/catalog/request"
	"mien/cmd/mien/internal/loop"
	"mien/cmd/mien/internal/ui"
)

type requestLine struct {
	ID         string   `json:"id"`
	Subject    string   `json:"subject"`
	State      string   `json:"state"`
	Way        string   `json:"way"`
	Reasons    []string `json:"reasons"`
	Scope      []string `json:"scope"`
	Regions    []string `json:"regions"`
	Score      float64  `json:"score"`
	Minutes    float64  `json:"minutes"`
	ArtistDays float64  `json:"artist_days"`
	Pinned     bool     `json:"pinned"`
	Contested  bool     `json:"contested"`
	Why        []string `json:"why"`
}

func requestLineOf(l *loop.Loop, r request.Ranked) requestLine {
	v := requestLine{ID: r.Ref(), Subject: r.Subject, State: string(r.On(l.Today())), Way: string(r.Way), Reasons: []string{}, Scope: []string{}, Regions: append([]string{}, r.Regions...),
		Score: r.Score.Score, Minutes: r.Minutes, ArtistDays: r.ArtistDays, Pinned: r.Pinned, Contested: len(r.Contests()) > 0, Why: append([]string{}, r.Why...)}
	for _, x := range r.Reasons {
		v.Reasons = append(v.Reasons, string(x))
	}
	for _, s := range r.Asked {
		v.Scope = append(v.Scope, s.String())
	}
	return v
}

func newQueue(a *app) *cobra.Command {
	var explain bool
	c := &cobra.Command{
		Use:   "queue",
		Short: "Open requests, the most urgent first",
		Args:  cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			return a.listRequests(c, explain)
		},
	}
	c.Flags().BoolVar(&explain, "explain", false, "print the factors of each score")
	return c
}

func newRequestList(a *app) *cobra.Command {
	var state string
	c := &cobra.Command{
		Use:   "list",
		Short: "List requests in any state",
		Args:  cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			states := request.Statuses()
			if state != "" {
				states = []request.Status{request.Status(state)}
			}
			return a.listRequests(c, false, states...)
		},
	}
	c.Flags().StringVar(&state, "state", "", "open, approved, planned, captured, deferred, declined, met or withdrawn")
	return c
}

func (a *app) listRequests(c *cobra.Command, explain bool, states ...request.Status) error {
	l, err := a.open(c.Context())
	if err != nil {
		return err
	}
	defer l.Close()
	lines := []requestLine{}
	for _, r := range l.Queue(states...) {
		lines = append(lines, requestLineOf(l, r))
	}
	if a.json {
		return ui.JSON(a.out, map[string]any{"schema": "mien.queue/1", "as_of": l.Today(), "requests": lines})
	}
	if len(lines) == 0 {
		fmt.Fprintln(a.out, "no such request")
		return nil
	}
	t := ui.Table{Head: []string{"REQUEST", "SUBJECT", "SCORE", "STATE", "REASONS", "REGIONS", "SCOPE", "RIG MIN", "ARTIST DAYS"}, Right: map[int]bool{2: true, 7: true, 8: true}}
	for _, v := range lines {
		state := v.State
		if v.Way != "" {
			state += " by " + v.Way
		}
		if v.Contested {
			state += " (contested)"
		}
		t.Row(v.ID, v.Subject, fmt.Sprintf("%.1f", v.Score), state, strings.Join(v.Reasons, ", "), strings.Join(v.Regions, ", "), strings.Join(v.Scope, ", "), fmt.Sprintf("%.1f", v.Minutes), fmt.Sprintf("%.1f", v.ArtistDays))
	}
	if err := a.table(&t); err != nil || !explain {
		return err
	}
	for _, v := range lines {
		fmt.Fprintf(a.out, "\n%s  %.1f\n", v.ID, v.Score)
		for _, w := range v.Why {
			fmt.Fprintf(a.out, "  %s\n", w)
		}
	}
	return nil
}

func newRequestShow(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "show REQUEST",
		Short: "Show one request: reasons, evidence, score, history",
		Args:  cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			l, err := a.open(c.Context())
			if err != nil {
				return err
			}
			defer l.Close()
			r, err := l.State.Request.Find(args[0])
			if err != nil {
				return err
			}
			v := requestLineOf(l, request.Ranked{Request: r, Score: l.Judge().Judge(r)})
			if a.json {
				return ui.JSON(a.out, v)
			}
			fmt.Fprintf(a.out, "%s  %s  %s\n", v.ID, v.Subject, strings.TrimSpace(v.State+" "+v.Way))
			fmt.Fprintf(a.out, "  reasons   %s\n  scope     %s\n  cost      %.1f rig minutes, %.1f artist days\n  score     %.1f\n", strings.Join(v.Reasons, ", "), strings.Join(v.Scope, ", "), v.Minutes, v.ArtistDays, v.Score)
			for _, w := range v.Why {
				fmt.Fprintf(a.out, "    %s\n", w)
			}
			for _, id := range r.Sightings {
				if s, err := l.State.Request.FindSighting(id.String()); err == nil {
					fmt.Fprintf(a.out, "  sighting  %s  %s by %s: %s %s %q\n", s.Ref(), s.Seen, s.Source, s.Kind, s.Region, s.Note)
				}
			}
			for _, p := range r.Proofs {
				fmt.Fprintf(a.out, "  met       %s: %s\n", p.Reason, p.What)
			}
			for _, e := range r.Log {
				fmt.Fprintf(a.out, "  %s  %s  by %s", day.Of(time.UnixMilli(e.AtMs).UTC()), e.Kind, e.By)
				if e.Why != "" {
					fmt.Fprintf(a.out, ": %q", e.Why)
				}
				fmt.Fprintln(a.out)
			}
			return nil
		},
	}
}
