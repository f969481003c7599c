package loop

import (
	"context"

	"mien/catalog/record"
)

// HistoryOf returns the records about a subject, or about the take, request or finding that an id
// names together with what names it, in the order of the fold; no argument means all.
func (l *Loop) HistoryOf(ctx context.Context, args []string) ([]record.Entry, error) {
	entries, err := l.Catalog.Entries(ctx)
	if err != nil || len(args) == 0 {
		return entries, err
	}
	var out []record.Entry
	if l.State.Roster.Known(args[0]) {
		for _, e := range entries {
			if e.Subject == args[0] {
				out = append(out, e)
			}
		}
		return out, nil
	}
	prefix, err := record.ParsePrefix(args[0])
	if err != nil {
		_, err = l.State.Roster.Get(args[0])
		return nil, err
	}
	named := map[record.ID]bool{}
	for _, e := range entries {
		hit := prefix.Matches(e.ID)
		for _, a := range e.After {
			hit = hit || named[a]
		}
		if hit {
			named[e.ID] = true
			out = append(out, e)
		}
	}
	return out, nil
}
