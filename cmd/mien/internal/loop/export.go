package loop

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"mien/asset"
	"mien/catalog/day"
	"mien/catalog/people"
	"mien/catalog/session"
)

// ExportOptions choose what is written out of the store.
type ExportOptions struct {
	Subjects []string
	To       string
	Part     asset.Part
	Pose     asset.Pose
	Stage    asset.Stage // "" is the best each attempt has
	AsOf     day.Day     // "" is today
	Pair     bool        // also the likeness before the newest session, side by side
	Progress Progress
}

// Exported is one file that was written.
type Exported struct {
	File    string     `json:"file"`
	Subject string     `json:"subject"`
	Session string     `json:"session"`
	Take    string     `json:"take"`
	Hash    asset.Hash `json:"hash"`
}

// Export writes the files of likenesses into a folder, under their own names, checked against their
// hashes on the way: TO/CODE/SESSION/name. An existing file is never replaced.
func (l *Loop) Export(ctx context.Context, o ExportOptions) ([]Exported, error) {
	if err := l.May(people.ExportFile); err != nil {
		return nil, err
	}
	if o.Progress == nil {
		o.Progress = silent{}
	}
	on := o.AsOf
	if on == "" {
		on = l.Today()
	}
	var takes []*session.Take
	for _, code := range o.Subjects {
		if _, err := l.State.Roster.Get(code); err != nil {
			return nil, err
		}
		list := l.State.Session.Likeness(code, on)
		if o.Pair {
			if g := l.State.Session.Generations(code, nil); len(g) > 0 {
				list = append(list, l.State.Session.Before(code, g[len(g)-1].Session)...)
			}
		}
		seen := map[*session.Take]bool{}
		for _, a := range list {
			t := a.Best()
			if o.Stage != "" {
				t = a.At(o.Stage)
			}
			if t == nil || seen[t] || o.Part != "" && t.Part != o.Part || o.Pose != "" && t.Pose != o.Pose {
				continue
			}
			seen[t] = true
			takes = append(takes, t)
		}
	}
	if len(takes) == 0 {
		return nil, usage("export: no take fits; see: mien take list")
	}
	o.Progress.Start("exporting", int64(len(takes)))
	var out []Exported
	for _, t := range takes {
		for i, name := range fileNames(t) {
			file := filepath.Join(o.To, t.Subject, t.Session, filepath.FromSlash(name))
			if err := l.exportFile(ctx, file, t.Files[i].Hash); err != nil {
				return out, fmt.Errorf("export %s: %w", file, err)
			}
			out = append(out, Exported{file, t.Subject, t.Session, t.Ref(), t.Files[i].Hash})
		}
		o.Progress.Step(1)
	}
	return out, nil
}

func (l *Loop) exportFile(ctx context.Context, file string, h asset.Hash) error {
	r, err := l.Catalog.Store().Get(ctx, h)
	if err != nil {
		return err
	}
	defer r.Close()
	if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
		return err
	}
	f, err := os.OpenFile(file, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o644)
	if err != nil {
		return err
	}
	_, err = io.Copy(f, r)
	if cerr := f.Close(); err == nil {
		err = cerr
	}
	if err != nil {
		os.Remove(file)
	}
	return err
}
