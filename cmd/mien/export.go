package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"mien/asset"
	"mien/catalog/day"
	"mien/cmd/mien/internal/loop"
	"mien/cmd/mien/internal/ui"
)

func newExport(a *app) *cobra.Command {
	var o loop.ExportOptions
	var part, pose, stage, asOf string
	c := &cobra.Command{
		Use:   "export CODE... --to DIR",
		Short: "Write scans out of the store under their own names",
		Args:  cobra.MinimumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if o.To == "" {
				return ui.Misuse("export: --to DIR is needed")
			}
			if _, err := dayFlag("as-of", asOf); err != nil {
				return err
			}
			l, err := a.open(c.Context())
			if err != nil {
				return err
			}
			defer l.Close()
			p := a.progress()
			defer p.Close()
			o.Subjects, o.Part, o.Pose, o.Stage, o.AsOf, o.Progress = args, asset.Part(part), asset.Pose(pose), asset.Stage(stage), day.Day(asOf), p
			list, err := l.Export(c.Context(), o)
			if err != nil {
				return err
			}
			p.Close()
			if a.json {
				return ui.JSON(a.out, map[string]any{"schema": "mien.export/1", "files": list})
			}
			for _, e := range list {
				fmt.Fprintf(a.out, "%s  %s\n", e.Take, e.File)
			}
			return nil
		},
	}
	f := c.Flags()
	f.StringVar(&o.To, "to", "", "the folder to write into")
	f.StringVar(&part, "part", "", "only this part")
	f.StringVar(&pose, "pose", "", "only this pose")
	f.StringVar(&stage, "stage", "", "at this stage (default: the best each take has)")
	f.StringVar(&asOf, "as-of", "", "the likeness on this date (default: today)")
	f.BoolVar(&o.Pair, "pair", false, "also the likeness before the newest session")
	return c
}
