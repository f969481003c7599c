package main

import (
	"fmt"
	"path/filepath"

	"github.com/spf13/cobra"

	"mien/asset"
	"mien/catalog/derived"
	"mien/cmd/mien/internal/loop"
	"mien/cmd/mien/internal/ui"
)

func newChanges(a *app) *cobra.Command {
	var o loop.ChangesOptions
	var part, pose, since, out string
	var everybody bool
	c := &cobra.Command{
		Use:   "changes [CODE]",
		Short: "Show what changed about a subject between two sessions, in mm and cm2",
		Args:  cobra.MaximumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if everybody == (len(args) == 1) {
				return ui.Misuse("changes: give one CODE, or --all for everybody")
			}
			l, err := a.open(c.Context())
			if err != nil {
				return err
			}
			defer l.Close()
			o.Subjects = args
			if everybody {
				for _, s := range l.State.Roster.List() {
					o.Subjects = append(o.Subjects, s.Code)
				}
			}
			if since != "" {
				v, err := l.State.Derived.Find(since)
				if err != nil {
					return err
				}
				o.From = sessionOfAsset(l, v)
			}
			p := a.progress()
			defer p.Close()
			o.Part, o.Pose, o.Progress = asset.Part(part), asset.Pose(pose), p
			list, err := l.Changes(c.Context(), o)
			if err != nil {
				return err
			}
			s, err := l.Settle(c.Context())
			if err != nil {
				return err
			}
			p.Close()
			if out != "" {
				for i := range list {
					dir := filepath.Join(out, list[i].Subject+"_"+string(list[i].Part)+"_"+string(list[i].Pose))
					if err := list[i].CopyResult(dir); err != nil {
						return err
					}
				}
			}
			if a.json {
				err = ui.JSON(a.out, map[string]any{"schema": "mien.changes/1", "changes": append([]loop.Change{}, list...)})
			} else {
				err = a.printChanges(list)
				a.saySettled(s)
			}
			if err != nil {
				return err
			}
			changed := false
			for _, ch := range list {
				changed = changed || ch.Verdict != loop.Same
			}
			return a.attend(changed, "something changed")
		},
	}
	f := c.Flags()
	f.StringVar(&o.From, "from", "", "the likeness right after this session (default: before the newest)")
	f.StringVar(&o.To, "to", "", "the likeness right after this session (default: the newest)")
	f.StringVar(&part, "part", "", "only this part")
	f.StringVar(&pose, "pose", "", "only this pose")
	f.StringVar(&since, "since-asset", "", "since the scan that this game asset was made from")
	f.BoolVar(&everybody, "all", false, "everybody on the roster")
	f.StringVar(&out, "out", "", "folder for documents, pictures and heat-coloured GLBs")
	return c
}

// sessionOfAsset returns the session of the newest take that a game asset was made from.
func sessionOfAsset(l *loop.Loop, v *derived.Asset) string {
	name := ""
	for _, id := range v.Takes {
		if t := l.State.Session.Take(id); t != nil && t.Session > name {
			name = t.Session
		}
	}
	return name
}

// printChanges prints one line a comparison, then the findings.
func (a *app) printChanges(list []loop.Change) error {
	if len(list) == 0 {
		fmt.Fprintln(a.out, "nothing to compare: no earlier likeness, or no newer take")
		return nil
	}
	t := ui.Table{Head: []string{"SUBJECT", "SHOT", "FROM", "TO", "VERDICT", "CONCLUSION"}}
	for _, c := range list {
		t.Row(c.Subject, string(c.Part)+"/"+string(c.Pose), c.From, c.To, string(c.Verdict), c.Conclusion)
	}
	return a.table(&t)
}
