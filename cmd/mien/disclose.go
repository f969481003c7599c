package main

import (
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"mien/cmd/mien/internal/loop"
	"mien/cmd/mien/internal/ui"
)

func newRosterDisclose(a *app) *cobra.Command {
	var done bool
	var note string
	c := &cobra.Command{
		Use:   "disclose CODE",
		Short: "List everything that is held on one subject: records, files with hashes, results",
		Long: "disclose lists what this catalog holds on one subject and where: every record, every file with its hash and\n" +
			"the records that name it, every comparison in the cache. --json adds what each record says, in clear.\n" +
			"--record also records that the subject was given the list.",
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			l, err := a.open(c.Context())
			if err != nil {
				return err
			}
			defer l.Close()
			d, err := l.Disclose(c.Context(), args[0])
			if err != nil {
				return err
			}
			if a.json {
				err = ui.JSON(a.out, d)
			} else {
				err = a.printDisclosure(d)
			}
			if err != nil {
				return err
			}
			a.say("note: %s", biometricCaution)
			if !done {
				return nil
			}
			return l.RecordDisclosed(c.Context(), args[0], note)
		},
	}
	c.Flags().BoolVar(&done, "record", false, "record that the subject was given this list today")
	c.Flags().StringVar(&note, "note", "", "how it was given; kept sealed")
	return c
}

func (a *app) printDisclosure(d *loop.Disclosure) error {
	word := ""
	switch {
	case d.Erased && d.Hold:
		word = ", erased at another site, kept under a hold"
	case d.Erased:
		word = ", erased"
	case d.Hold:
		word = ", under a hold"
	}
	fmt.Fprintf(a.out, "%s on %s%s: %s, %s (%.1f MB), %s in the cache\n", d.Subject, d.On, word, ui.Plural(len(d.Records), "record"),
		ui.Plural(len(d.Files), "file"), float64(d.Bytes)/1e6, ui.Plural(len(d.Results), "comparison"))
	for _, v := range [][2]string{{"name", d.Name}, {"born", string(d.Born)}, {"note", d.Note}} {
		if v[1] != "" {
			fmt.Fprintf(a.out, "  %s: %s\n", v[0], v[1])
		}
	}
	if d.Closed > 0 {
		fmt.Fprintf(a.out, "  %s cannot be opened here\n", ui.Plural(d.Closed, "record"))
	}
	if len(d.Files) > 0 {
		t := ui.Table{Head: []string{"FILE", "BYTES", "NAME", "SESSION", "TAKE", "ALSO USED BY"}, Right: map[int]bool{1: true}}
		for _, f := range d.Files {
			size := strconv.FormatInt(f.Size, 10)
			if f.Size < 0 {
				size = "not here"
			}
			t.Row(f.Hash.String(), size, f.Name, f.Session, f.Take, strings.Join(f.Users, " "))
		}
		fmt.Fprintln(a.out)
		if err := a.table(&t); err != nil {
			return err
		}
	}
	t := ui.Table{Head: []string{"AT", "KIND", "BY", "WHERE IN RECORDS.GIT"}}
	for _, r := range d.Records {
		t.Row(r.At, string(r.Kind), r.By, r.Path)
	}
	fmt.Fprintln(a.out)
	if err := a.table(&t); err != nil {
		return err
	}
	for _, r := range d.Results {
		fmt.Fprintf(a.out, "result %s\n", r.Folder)
	}
	return nil
}
