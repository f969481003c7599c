package main

import (
	"fmt"
	"path/filepath"

	"github.com/spf13/cobra"

	"mien/cmd/mien/internal/loop"
	"mien/cmd/mien/internal/ui"
)

func newReport(a *app) *cobra.Command {
	var o loop.ReportOptions
	c := &cobra.Command{
		Use:   "report --out DIR",
		Short: "Write squads, queue and what changed about each person as HTML pages with pictures",
		Args:  cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if o.Out == "" {
				return ui.Misuse("report: --out DIR is needed")
			}
			l, err := a.open(c.Context())
			if err != nil {
				return err
			}
			defer l.Close()
			if err := l.Report(c.Context(), o); err != nil {
				return err
			}
			a.say("note: the report shows people; %s", biometricCaution)
			fmt.Fprintln(a.out, filepath.Join(o.Out, "index.html"))
			return nil
		},
	}
	f := c.Flags()
	f.StringVar(&o.Out, "out", "", "the folder to write into")
	f.BoolVar(&o.CodesOnly, "codes-only", false, "leave names out")
	f.BoolVar(&o.NoPictures, "no-pictures", false, "leave pictures out")
	return c
}
