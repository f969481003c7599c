package main

import (
	"strings"

	"github.com/spf13/cobra"

	"mien/catalog/people"
	"mien/catalog/policy"
	"mien/catalog/record"
	"mien/cmd/mien/internal/loop"
)

// record opens the catalog, asks permission, records what f drafts and draws the consequences.
func (a *app) record(c *cobra.Command, may people.Action, f func(*loop.Loop) (record.Draft, error)) error {
	return a.recordAll(c, may, func(l *loop.Loop) ([]record.Draft, error) {
		d, err := f(l)
		return []record.Draft{d}, err
	})
}

// recordAll is [app.record] for several drafts, all or none.
func (a *app) recordAll(c *cobra.Command, may people.Action, f func(*loop.Loop) ([]record.Draft, error)) error {
	l, err := a.open(c.Context())
	if err != nil {
		return err
	}
	defer l.Close()
	if err := l.May(may); err != nil {
		return err
	}
	drafts, err := f(l)
	if err != nil {
		return err
	}
	if _, err := l.Append(c.Context(), drafts...); err != nil {
		return err
	}
	s, err := l.Settle(c.Context())
	if err != nil {
		return err
	}
	a.saySettled(s)
	return nil
}

// saySettled tells what followed by the rules.
func (a *app) saySettled(s loop.Settled) {
	for _, v := range []struct {
		what string
		refs []string
	}{{"request raised or joined", s.Raised}, {"request captured", s.Captured}, {"request met", s.Met}, {"request back to approved, the comparison cannot tell", s.Returned}} {
		if len(v.refs) > 0 {
			a.say("%s: %s", v.what, strings.Join(v.refs, ", "))
		}
	}
}

func joinShots(shots []policy.Shot) string {
	out := make([]string, len(shots))
	for i, s := range shots {
		out[i] = s.String()
	}
	return strings.Join(out, ", ")
}

// subjectOf returns the subject that an optional argument names, "" for everybody.
func subjectOf(l *loop.Loop, args []string) (string, error) {
	if len(args) == 0 {
		return "", nil
	}
	_, err := l.State.Roster.Get(args[0])
	return args[0], err
}
