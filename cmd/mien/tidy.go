package main

import (
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"mien/catalog/people"
	"mien/cmd/mien/internal/loop"
	"mien/cmd/mien/internal/ui"
)

func newTidy(a *app) *cobra.Command {
	var drop, yes bool
	c := &cobra.Command{
		Use:   "tidy",
		Short: "Roll up records on disk, sweep up leftovers, and find files that no record names",
		Long: "tidy says what there would be to do, and does it with --yes. It never removes a record. A file that no record\n" +
			"names goes only with --drop-unreferenced as well, and only after 14 days, since an intake stores files first.",
		Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			l, err := a.open(c.Context())
			if err != nil {
				return err
			}
			defer l.Close()
			if drop && yes {
				if err := l.May(people.Intake); err != nil {
					return err
				}
			}
			r, err := l.Tidy(c.Context(), drop, yes)
			if err != nil {
				return err
			}
			if a.json {
				return ui.JSON(a.out, r)
			}
			a.printTidy(r, drop)
			return nil
		},
	}
	c.Flags().BoolVar(&drop, "drop-unreferenced", false, "remove files that no record has named for 14 days")
	c.Flags().BoolVar(&yes, "yes", false, "do it; without, only say what would be done")
	return c
}

func (a *app) printTidy(r *loop.TidyReport, drop bool) {
	if r.Done {
		fmt.Fprintf(a.out, "packs: %d, %d rolled up\n", r.Packs, r.Fewer)
	} else {
		fmt.Fprintf(a.out, "packs: %d\n", r.Packs)
	}
	word := "would remove"
	if r.Done {
		word = "removed"
	}
	for _, name := range r.Leftovers {
		fmt.Fprintf(a.out, "%s leftover %s\n", word, name)
	}
	if !drop {
		word = "keeps"
	}
	for _, f := range r.Unnamed {
		fmt.Fprintf(a.out, "%s %s, %d bytes, named by no record since %s\n", word, f.Hash.Short(), f.Size, f.Since.UTC().Format(time.DateOnly))
	}
	fmt.Fprintf(a.out, "named by no record: %s for 14 days (%.1f MB), %s younger\n", ui.Plural(len(r.Unnamed), "file"), float64(r.Bytes)/1e6, ui.Plural(r.Young, "file"))
	if !r.Done {
		a.say("nothing was changed; add --yes to do it")
	}
}
