package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"mien/catalog/people"
	"mien/catalog/record"
	"mien/catalog/roster"
	"mien/cmd/mien/internal/loop"
	"mien/cmd/mien/internal/ui"
)

// eraseCaution is printed with every erasure.
const eraseCaution = "an erasure cannot be undone; it does not reach backups, exported files, reports and printed sheets, nor a copy until that syncs; " +
	"a duty to keep or to disclose may stand against it: follow local law and ask licensed counsel"

func newRosterErase(a *app) *cobra.Command {
	var yes bool
	c := &cobra.Command{
		Use:   "erase CODE",
		Short: "Forget a subject for ever: the key, the files only this subject uses, the results",
		Long: "erase says what it would remove, and does it with --yes. It records that the subject was erased, removes the\n" +
			"files that nobody else uses, destroys the key under which everything that describes the person is sealed, and\n" +
			"clears the cache. Other copies do the same when they sync. A legal hold refuses it.",
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			l, err := a.open(c.Context())
			if err != nil {
				return err
			}
			defer l.Close()
			do := l.PlanErase
			if yes {
				do = l.Erase
			}
			e, err := do(c.Context(), args[0])
			if err != nil {
				return err
			}
			if a.json {
				return ui.JSON(a.out, e)
			}
			a.printErasure(e)
			return nil
		},
	}
	c.Flags().BoolVar(&yes, "yes", false, "do it; without, only say what would be removed")
	return c
}

func (a *app) printErasure(e *loop.Erasure) {
	for _, f := range e.Files {
		fmt.Fprintf(a.out, "  %s  %d bytes\n", f.Hash, f.Size)
	}
	for _, f := range e.Kept {
		fmt.Fprintf(a.out, "  %s  %d bytes, stays: used by %s\n", f.Hash, f.Size, strings.Join(f.Users, ", "))
	}
	verb := "would erase"
	if e.Done {
		verb = "erased"
	}
	fmt.Fprintf(a.out, "%s %s: %s (%.1f MB), the key of %s of %d, %s in the cache\n", verb, e.Subject,
		ui.Plural(len(e.Files), "file"), float64(e.Bytes)/1e6, ui.Plural(e.Sealed, "sealed record"), e.Records, ui.Plural(e.Results, "comparison"))
	for _, v := range e.Refiled {
		fmt.Fprintf(a.out, "note: record %s tells of takes that were refiled to %s later; it stays readable with its own subject's key\n", v, e.Subject)
	}
	if len(e.Sites) > 0 {
		fmt.Fprintf(a.out, "other copies carry it out when they sync: %s\n", strings.Join(e.Sites, ", "))
	}
	a.say("note: %s", eraseCaution)
	if !e.Done {
		a.say("nothing was changed; add --yes to do it")
	}
}

func newRosterHold(a *app) *cobra.Command {
	var lift bool
	var why string
	c := &cobra.Command{
		Use:   "hold CODE",
		Short: "Set a legal hold, which forbids erasing, or lift it",
		Args:  cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			err := a.record(c, people.Hold, func(l *loop.Loop) (record.Draft, error) {
				return roster.SetHold(l.State.Roster, l.By(), args[0], !lift, why)
			})
			if err == nil {
				a.say("%s: %s", args[0], map[bool]string{false: "held; nothing about it can be erased until the hold is lifted", true: "hold lifted"}[lift])
			}
			return err
		},
	}
	c.Flags().BoolVar(&lift, "lift", false, "lift the hold")
	c.Flags().StringVar(&why, "why", "", "the reason; kept sealed")
	return c
}
