package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"mien/asset"
	"mien/cmd/mien/internal/loop"
	"mien/cmd/mien/internal/ui"
)

func newCheck(a *app) *cobra.Command {
	var unit, part string
	c := &cobra.Command{
		Use:   "check FILE...",
		Short: "Check the quality of scan files; no catalog",
		Args:  cobra.MinimumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			report, err := loop.CheckFiles(c.Context(), args, unit, asset.Part(part))
			if err != nil {
				return err
			}
			if a.json {
				err = ui.JSON(a.out, report)
			} else {
				err = printChecks(a, report)
			}
			if err != nil {
				return err
			}
			return a.attend(report.Refused > 0, "checks refused a file")
		},
	}
	c.Flags().StringVar(&unit, "unit", "", "unit of the files when they do not say: m, cm, mm or in")
	c.Flags().StringVar(&part, "part", "", "what the files show, where their names do not say: head, body, ...")
	return c
}

func printChecks(a *app, r *loop.CheckReport) error {
	t := ui.Table{Head: []string{"FILE", "SEVERITY", "CHECK", "GOT", "ALLOWED", "MESSAGE"}}
	for _, f := range r.Files {
		if len(f.Issues) == 0 {
			t.Row(f.File, "sound", "", "", "", "")
		}
		for _, i := range f.Issues {
			t.Row(f.File, string(i.Severity), i.Code, i.Got, i.Allowed, i.Message)
		}
	}
	if err := a.table(&t); err != nil {
		return err
	}
	if r.Refused > 0 {
		fmt.Fprintf(a.out, "%s of no use as they are\n", ui.Plural(r.Refused, "file"))
	}
	return nil
}
