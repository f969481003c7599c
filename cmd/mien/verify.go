package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"mien/catalog"
	"mien/catalog/forget"
	"mien/catalog/projection"
	"mien/cmd/mien/internal/ui"
)

func newVerify(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "verify",
		Short: "Re-hash every record and file and say what is damaged or missing",
		Args:  cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if a.catalog == "" {
				return noCatalog()
			}
			cat, err := catalog.Open(c.Context(), a.catalog, catalog.Options{Now: a.now})
			if err != nil {
				return err
			}
			defer cat.Close()
			p := a.progress()
			defer p.Close()
			step, last := "", int64(0)
			r, err := forget.Verify(c.Context(), cat, func(s string, done, total int64) {
				if s != step {
					step, last = s, 0
					p.Start(s, total)
				}
				p.Step(done - last)
				last = done
			})
			p.Close()
			if err != nil {
				return err
			}
			if a.json {
				if err := ui.JSON(a.out, r); err != nil {
					return err
				}
				return r.Err()
			}
			fmt.Fprintf(a.out, "%s, %s, %s of history, %s (%.1f MB)\n", ui.Plural(r.Records, "record"), ui.Plural(r.Commits, "commit"), ui.Plural(r.Objects, "object"), ui.Plural(r.Files, "file"), float64(r.Bytes)/1e6)
			for _, f := range r.Faults {
				fmt.Fprintf(a.out, "damaged: %s: %s\n", f.Object, f.Fault)
			}
			for _, n := range r.Notes {
				fmt.Fprintf(a.out, "note: %s\n", n)
			}
			if r.Err() == nil {
				entries, err := cat.Entries(c.Context())
				if err != nil {
					return err
				}
				_, problems := projection.Fold(entries)
				for _, v := range problems {
					fmt.Fprintf(a.out, "not used: %s\n", v.Error())
				}
			}
			if r.Err() == nil {
				fmt.Fprintln(a.out, "everything is whole")
			}
			return r.Err()
		},
	}
}
