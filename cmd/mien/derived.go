package main

import (
	"fmt"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"mien/asset"
	"mien/catalog/derived"
	"mien/catalog/people"
	"mien/catalog/record"
	"mien/cmd/mien/internal/loop"
	"mien/cmd/mien/internal/ui"
)

func newDerived(a *app) *cobra.Command {
	c := &cobra.Command{Use: "derived", Short: "Game assets made from scans, and which need work", Args: cobra.NoArgs}
	c.AddCommand(newDerivedAdd(a), newDerivedRemade(a), newDerivedList(a, "list", "List game assets and how they stand", false), newDerivedList(a, "stale", "List game assets that no longer match today's likeness, by cause and region", true))
	return c
}

// takesFor returns the takes that refs name, or the chosen takes of the subject's likeness.
func takesFor(l *loop.Loop, subject string, refs []string) ([]record.ID, error) {
	var ids []record.ID
	for _, ref := range refs {
		t, err := l.State.Session.Find(ref)
		if err != nil {
			return nil, err
		}
		ids = append(ids, t.ID)
	}
	if len(ids) > 0 {
		return ids, nil
	}
	for _, v := range l.State.Session.Likeness(subject, l.Today()) {
		ids = append(ids, v.Best().ID)
	}
	return ids, nil
}

func newDerivedAdd(a *app) *cobra.Command {
	var takes, files []string
	var n derived.New
	c := &cobra.Command{
		Use:   "add CODE NAME",
		Short: "Record a game asset and the takes that it was made from",
		Args:  cobra.ExactArgs(2),
		RunE: func(c *cobra.Command, args []string) error {
			return a.record(c, people.Derived, func(l *loop.Loop) (record.Draft, error) {
				if _, err := l.State.Roster.Get(args[0]); err != nil {
					return record.Draft{}, err
				}
				ids, err := takesFor(l, args[0], takes)
				if err != nil {
					return record.Draft{}, err
				}
				n.Subject, n.Name, n.Takes, n.On = args[0], args[1], ids, l.Today()
				if n.Files, err = hashFiles(files); err != nil {
					return record.Draft{}, err
				}
				return derived.Add(l.State.Derived, l.State.Session, l.By(), n)
			})
		},
	}
	f := c.Flags()
	f.StringSliceVar(&takes, "from", nil, "takes that it was made from (default: today's likeness)")
	f.StringSliceVar(&n.Regions, "region", nil, "regions that it shows (default: all that the takes show)")
	f.StringSliceVar(&files, "file", nil, "its files; only their hashes are kept")
	return c
}

func newDerivedRemade(a *app) *cobra.Command {
	var takes []string
	var why string
	c := &cobra.Command{
		Use:   "redone ASSET",
		Short: "Say that a game asset was made again, or checked and found right, from today's likeness",
		Args:  cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			return a.record(c, people.Derived, func(l *loop.Loop) (record.Draft, error) {
				v, err := l.State.Derived.Find(args[0])
				if err != nil {
					return record.Draft{}, err
				}
				parts := map[asset.Part]bool{}
				for _, id := range v.Takes {
					if t := l.State.Session.Take(id); t != nil {
						parts[t.Part] = true
					}
				}
				n := derived.New{Subject: v.Subject, Name: v.Name, Regions: v.Regions, On: l.Today()}
				if len(takes) > 0 {
					if n.Takes, err = takesFor(l, v.Subject, takes); err != nil {
						return record.Draft{}, err
					}
				} else {
					for _, k := range l.State.Session.Likeness(v.Subject, l.Today()) {
						if parts[k.Part] {
							n.Takes = append(n.Takes, k.Best().ID)
						}
					}
				}
				return derived.Remade(l.State.Derived, l.State.Session, l.By(), args[0], n, why)
			})
		},
	}
	c.Flags().StringSliceVar(&takes, "from", nil, "takes that it was made from (default: today's likeness of the same parts)")
	c.Flags().StringVar(&why, "why", "", "a remark; kept sealed")
	return c
}

func hashFiles(files []string) ([]asset.Hash, error) {
	var out []asset.Hash
	for _, name := range files {
		f, err := os.Open(name)
		if err != nil {
			return nil, err
		}
		h, _, err := asset.HashReader(f)
		f.Close()
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		out = append(out, h)
	}
	return out, nil
}

type derivedLine struct {
	ID       string   `json:"id"`
	Subject  string   `json:"subject"`
	Name     string   `json:"name"`
	Standing string   `json:"standing"`
	Causes   []string `json:"causes"`
}

// causeText says one cause in words: what, where, and the finding that shows it.
func causeText(c derived.Cause) string {
	if c.Finding == nil {
		return fmt.Sprintf("%s: %s", c.Shot, c.What)
	}
	return fmt.Sprintf("%s: %s %s, %s (%s)", c.Shot, c.Finding.Kind, c.Finding.Action, c.Finding.Region, c.Finding.Ref())
}

func newDerivedList(a *app, use, short string, staleOnly bool) *cobra.Command {
	return &cobra.Command{
		Use:   use + " [CODE]",
		Short: short,
		Args:  cobra.MaximumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			l, err := a.open(c.Context())
			if err != nil {
				return err
			}
			defer l.Close()
			code, err := subjectOf(l, args)
			if err != nil {
				return err
			}
			lines := []derivedLine{}
			t := ui.Table{Head: []string{"ASSET", "SUBJECT", "NAME", "STANDING", "CAUSES"}}
			stale := false
			for _, v := range l.StaleAssets(code, "") {
				if staleOnly && v.Standing == derived.Fresh {
					continue
				}
				stale = stale || v.Standing == derived.Stale
				line := derivedLine{v.Asset.Ref(), v.Asset.Subject, v.Asset.Name, string(v.Standing), []string{}}
				for _, k := range v.Causes {
					line.Causes = append(line.Causes, causeText(k))
				}
				lines = append(lines, line)
				t.Row(line.ID, line.Subject, line.Name, line.Standing, strings.Join(line.Causes, "; "))
			}
			switch {
			case a.json:
				err = ui.JSON(a.out, map[string]any{"schema": "mien.derived/1", "assets": lines})
			case len(lines) == 0:
				_, err = fmt.Fprintln(a.out, "every game asset matches today's likeness")
			default:
				err = a.table(&t)
			}
			if err != nil {
				return err
			}
			return a.attend(staleOnly && stale, "game assets are stale")
		},
	}
}
