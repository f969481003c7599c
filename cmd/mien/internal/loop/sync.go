package loop

import (
	"context"

	"mien/catalog"
	"mien/catalog/sync"
)

// SyncOptions are the choices of a sync.
type SyncOptions struct {
	RecordsOnly bool
	WithKeys    bool
	Site        string // name of a copy that has to be made
	Progress    Progress
}

// SyncReport is what a sync did, the document `mien.sync/1`.
type SyncReport = sync.Report

// Sync lets this copy and the one in folder remote meet, see [sync.Run], and folds again.
func (l *Loop) Sync(ctx context.Context, remote string, o SyncOptions) (*SyncReport, error) {
	r, err := sync.Run(ctx, l.Catalog, remote, sync.Options{RecordsOnly: o.RecordsOnly, WithKeys: o.WithKeys, Site: o.Site, Progress: steps(o.Progress)})
	if err != nil {
		return nil, err
	}
	if err := l.fold(ctx); err != nil {
		return nil, err
	}
	if len(r.Erased) > 0 {
		_, err = l.forgetResults(true)
	}
	return r, err
}

// steps turns a display into what the catalog reports to.
func steps(p Progress) catalog.Progress {
	if p == nil {
		return nil
	}
	step, last := "", int64(0)
	return func(s string, done, total int64) {
		if s != step || done < last {
			step, last = s, 0
			p.Start(s, total)
		}
		p.Step(done - last)
		last = done
	}
}

// TidyReport is what tidying found and did, the document `mien.tidy/1`.
type TidyReport struct {
	Schema    string            `json:"schema"`
	Done      bool              `json:"done"` // false: this is what there would be to do
	Packs     int               `json:"packs"`
	Fewer     int               `json:"packs_rolled_up"`
	Leftovers []string          `json:"leftovers"`
	Unnamed   []catalog.OldFile `json:"unnamed"`
	Young     int               `json:"unnamed_young"`
	Dropped   int               `json:"dropped"`
	Bytes     int64             `json:"unnamed_bytes"`
}

// Tidy rolls up packs, sweeps up what killed processes left, and drops what no record names if it is asked
// to. Unless write is set it only says what there would be to do.
func (l *Loop) Tidy(ctx context.Context, drop, write bool) (*TidyReport, error) {
	t, err := l.Catalog.Tidy(ctx, catalog.TidyOptions{Write: write, Drop: drop})
	if err != nil {
		return nil, err
	}
	r := &TidyReport{Schema: "mien.tidy/1", Done: write, Packs: t.Packs, Fewer: t.Fewer, Leftovers: append([]string{}, t.Leftovers...),
		Unnamed: append([]catalog.OldFile{}, t.Unnamed...), Young: t.Young, Dropped: t.Dropped}
	for _, f := range t.Unnamed {
		r.Bytes += f.Size
	}
	return r, nil
}
