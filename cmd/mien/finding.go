package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"mien/catalog/appearance"
	"mien/catalog/people"
	"mien/catalog/record"
	"mien/cmd/mien/internal/loop"
	"mien/cmd/mien/internal/ui"
)

func newFinding(a *app) *cobra.Command {
	c := &cobra.Command{Use: "finding", Short: "What comparisons say changed, and whether it is so", Args: cobra.NoArgs}
	c.AddCommand(newFindingList(a), newFindingAccept(a), newFindingSetAside(a))
	return c
}

type findingLine struct {
	ID         string   `json:"id"`
	Subject    string   `json:"subject"`
	Kind       string   `json:"kind"`
	Action     string   `json:"action"`
	Region     string   `json:"region"`
	AreaCM2    float64  `json:"area_cm2"`
	Confidence float64  `json:"confidence"`
	Part       string   `json:"part"`
	Pose       string   `json:"pose"`
	Captured   string   `json:"captured"`
	Standing   string   `json:"standing"`
	Because    []string `json:"because"`
	RuledOut   []string `json:"ruled_out"`
	PeakMm     *float64 `json:"peak_mm"` // greatest shape change among its spots
}

func lineOf(f appearance.Finding) findingLine {
	v := findingLine{ID: f.Ref(), Subject: f.Subject, Kind: string(f.Kind), Action: string(f.Action), Region: f.Region,
		AreaCM2: float64(f.AreaMM2) / 100, Confidence: float64(f.Confidence) / 1e6, Part: string(f.Shot().Part), Pose: string(f.Shot().Pose),
		Captured: string(f.Comparison.NewCaptured), Standing: string(f.Standing), Because: append([]string{}, f.Because...), RuledOut: append([]string{}, f.RuledOut...)}
	for _, s := range f.Comparison.Spots {
		if s.Layer != "shape" {
			continue
		}
		for _, id := range f.Spots {
			if p := float64(s.Peak) / 1000; id == s.ID && (v.PeakMm == nil || abs(p) > abs(*v.PeakMm)) {
				v.PeakMm = &p
			}
		}
	}
	return v
}

func abs(v float64) float64 { return max(v, -v) }

func newFindingList(a *app) *cobra.Command {
	var standing string
	c := &cobra.Command{
		Use:   "list [CODE]",
		Short: "List findings, of one subject or all",
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
			var only []appearance.Standing
			if standing != "" {
				only = append(only, appearance.Standing(standing))
			}
			t := ui.Table{Head: []string{"FINDING", "SUBJECT", "KIND", "ACTION", "REGION", "CM2", "SURE", "SHOT", "STANDING", "BECAUSE"}, Right: map[int]bool{5: true}}
			list := []findingLine{}
			skin := false
			for _, f := range l.State.Appearance.Findings(code, only...) {
				v := lineOf(f)
				list = append(list, v)
				skin = skin || v.Kind == "skin-mark" || v.Kind == "skin-tone"
				t.Row(v.ID, v.Subject, v.Kind, v.Action, v.Region, fmt.Sprintf("%.1f", v.AreaCM2), loop.Sureness(v.Confidence), v.Part+"/"+v.Pose, v.Standing, strings.Join(v.Because, "; "))
			}
			if skin {
				a.say("note: %s", skinCaution)
			}
			if a.json {
				return ui.JSON(a.out, map[string]any{"schema": "mien.findings/1", "findings": list})
			}
			return a.table(&t)
		},
	}
	c.Flags().StringVar(&standing, "standing", "", "only new, accepted or set-aside")
	return c
}

func newFindingAccept(a *app) *cobra.Command {
	var why, subject string
	c := &cobra.Command{
		Use:   "accept [FINDING...]",
		Short: "Say that findings are so: the appearance sheet follows",
		RunE: func(c *cobra.Command, args []string) error {
			if (len(args) == 0) == (subject == "") {
				return ui.Misuse("finding accept: give findings, or --subject CODE for all new ones of a subject")
			}
			return a.recordAll(c, people.Review, func(l *loop.Loop) ([]record.Draft, error) {
				refs := args
				if subject != "" {
					if _, err := l.State.Roster.Get(subject); err != nil {
						return nil, err
					}
					for _, f := range l.State.Appearance.Findings(subject, appearance.New) {
						refs = append(refs, f.Ref())
					}
				}
				var drafts []record.Draft
				for _, ref := range refs {
					d, err := appearance.Accept(l.State.Appearance, l.By(), ref, why)
					if err != nil {
						return nil, err
					}
					drafts = append(drafts, d)
				}
				return drafts, nil
			})
		},
	}
	c.Flags().StringVar(&why, "why", "", "a remark; kept sealed")
	c.Flags().StringVar(&subject, "subject", "", "all new findings of this subject")
	return c
}

func newFindingSetAside(a *app) *cobra.Command {
	var why string
	c := &cobra.Command{
		Use:   "set-aside FINDING...",
		Short: "Say that findings are not so, and why",
		Args:  cobra.MinimumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			return a.recordAll(c, people.Review, func(l *loop.Loop) ([]record.Draft, error) {
				var drafts []record.Draft
				for _, ref := range args {
					d, err := appearance.Dismiss(l.State.Appearance, l.By(), ref, why)
					if err != nil {
						return nil, err
					}
					drafts = append(drafts, d)
				}
				return drafts, nil
			})
		},
	}
	c.Flags().StringVar(&why, "why", "", "the reason; needed, kept sealed")
	return c
}
