package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"mien/cmd/mien/internal/loop"
	"mien/cmd/mien/internal/ui"
)

func newCompare(a *app) *cobra.Command {
	var o loop.CompareOptions
	c := &cobra.Command{
		Use:   "compare OLD NEW",
		Short: "Measure what changed between two scans, or two folders of scans; no catalog",
		Long: "compare measures what changed between two scans of one person: two mesh files, or two folders whose\n" +
			"scans are paired by part and pose. Distances are in mm, areas in cm2, colour in CIEDE2000 units.",
		Args: cobra.ExactArgs(2),
		RunE: func(c *cobra.Command, args []string) error {
			p := a.progress()
			defer p.Close()
			o.Progress = p
			set, err := loop.ComparePaths(c.Context(), args[0], args[1], o)
			if err != nil {
				return err
			}
			p.Close()
			if err := printCompared(a, set); err != nil {
				return err
			}
			return a.attend(set.Verdict != loop.Same, string(set.Verdict))
		},
	}
	f := c.Flags()
	f.StringVar(&o.Out, "out", "", "folder for the JSON, the pictures and a heat-coloured GLB")
	f.StringVar(&o.UnitOld, "unit-old", "", "unit of OLD when the file does not say: m, cm, mm or in")
	f.StringVar(&o.UnitNew, "unit-new", "", "unit of NEW when the file does not say: m, cm, mm or in")
	f.Float64Var(&o.Settings.ToleranceMm, "tolerance-mm", 0, "least shape change that counts (default 1)")
	f.Float64Var(&o.Settings.ToleranceDE00, "tolerance-de00", 0, "least colour change that counts (default 6)")
	f.Float64Var(&o.Settings.MinSpotCM2, "min-spot-cm2", 0, "least area of a spot (default 1)")
	f.BoolVar(&o.Timing, "timing", false, "add the time it took to the document")
	return c
}

// printCompared prints one comparison or a set of them in the form the flags ask for.
func printCompared(a *app, set *loop.CompareSet) error {
	if a.json && !set.Folders {
		return ui.JSON(a.out, set.Pairs[0].Result)
	}
	if a.json {
		return ui.JSON(a.out, set.Document())
	}
	for i, p := range set.Pairs {
		if i > 0 {
			fmt.Fprintln(a.out)
		}
		if err := printResult(a.out, p.Result); err != nil {
			return err
		}
	}
	for _, s := range set.OnlyOld {
		fmt.Fprintf(a.out, "only in the old folder: %s\n", s)
	}
	for _, s := range set.OnlyNew {
		fmt.Fprintf(a.out, "only in the new folder: %s\n", s)
	}
	return nil
}

// printResult prints one comparison for a person to read: the sentence first, then what backs it.
func printResult(w io.Writer, r *loop.Result) error {
	fmt.Fprintf(w, "%s -> %s: %s\n", r.Old.Path, r.New.Path, r.Verdict)
	if r.Conclusion != "" {
		fmt.Fprintln(w, r.Conclusion)
	}
	if al := r.Alignment; al != nil {
		fmt.Fprintf(w, "  aligned   %s topology, rms %.2f mm, overlap %.0f %%, mirrored %s\n", al.Topology, al.RMSMm, 100*al.Overlap, al.Mirrored)
	}
	if p := r.Posture; p != nil && p.Removed {
		var parts []string
		for _, j := range p.Joints {
			if j.Degrees >= 1 {
				parts = append(parts, fmt.Sprintf("%s %.1f deg", j.Name, j.Degrees))
			}
		}
		if p.BreathingMm != 0 {
			parts = append(parts, fmt.Sprintf("breathing %.1f mm", p.BreathingMm))
		}
		fmt.Fprintf(w, "  posture   taken out: %s\n", strings.Join(parts, ", "))
	}
	if s := r.Shape; s != nil {
		fmt.Fprintf(w, "  shape     %s: %.1f cm2 changed, %.0f cm2 not seen, limit %.2f mm (%s)\n", r.Layers.Shape, s.ChangedAreaCM2, s.UncoveredCM2, max(s.ToleranceMm, s.DetectionLimitMm), s.NoiseSource)
	}
	if col := r.Colour; col != nil {
		line := fmt.Sprintf("  colour    %s", r.Layers.Colour)
		if col.WhyNot != "" {
			line += ": " + col.WhyNot
		} else {
			line += fmt.Sprintf(": %.1f cm2 changed, %.0f cm2 not seen", col.ChangedAreaCM2, col.UncoveredCM2)
			if col.Light.ResidualDE00 != nil {
				line += fmt.Sprintf(", light residual %.1f dE00", *col.Light.ResidualDE00)
			}
		}
		fmt.Fprintln(w, line)
	}
	if len(r.Causes) > 0 {
		names := make([]string, len(r.Causes))
		for i, c := range r.Causes {
			names[i] = string(c)
		}
		fmt.Fprintf(w, "  capture   %s\n", strings.Join(names, ", "))
	}
	for _, why := range r.Reasons {
		fmt.Fprintf(w, "  because   %s\n", why)
	}
	if len(r.Findings) > 0 {
		t := ui.Table{Head: []string{"  ID", "KIND", "ACTION", "REGION", "CM2", "SURE", "BECAUSE"}, Right: map[int]bool{4: true}}
		for _, f := range r.Findings {
			t.Row("  "+f.ID, f.Kind, f.Action, f.Region, fmt.Sprintf("%.1f", f.AreaCM2), loop.Sureness(f.Confidence), strings.Join(f.Because, "; "))
		}
		return t.Print(w)
	}
	return nil
}
