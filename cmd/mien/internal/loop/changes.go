package loop

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"

	"mien/asset"
	"mien/asset/terms"
	"mien/catalog/appearance"
	"mien/catalog/fault"
	"mien/catalog/policy"
	"mien/catalog/record"
	"mien/catalog/session"
	"mien/diff"
	"mien/diff/result"
)

// Change is one comparison of a subject's likeness, with where its pictures lie.
type Change struct {
	Subject    string     `json:"subject"`
	Part       asset.Part `json:"part"`
	Pose       asset.Pose `json:"pose"`
	From       string     `json:"from"` // session
	To         string     `json:"to"`
	Verdict    Verdict    `json:"verdict"`
	Conclusion string     `json:"conclusion"`
	Result     *Result    `json:"result"`
	Folder     string     `json:"folder"` // pictures and document, in the cache
	Cached     bool       `json:"-"`
	key        asset.Hash
	old, new   *session.Take
}

// ChangesOptions choose what to compare.
type ChangesOptions struct {
	Subjects []string
	From, To string // sessions; "" is the likeness before, and the newest session
	Part     asset.Part
	Pose     asset.Pose
	Progress Progress
}

// settingsFor returns the policy's numbers for one shot.
func settingsFor(p *policy.Policy, _ policy.Shot) Settings {
	return Settings{ToleranceMm: p.Tolerance.Mm, ToleranceDE00: p.Tolerance.DE00, MinSpotCM2: p.Tolerance.SpotCM2, GirthPercent: p.Tolerance.GirthPercent}.Filled()
}

// Changes compares the likenesses of subjects after two sessions and records each comparison that is
// new. Results are kept in the cache under what went into them, and not computed twice.
func (l *Loop) Changes(ctx context.Context, o ChangesOptions) ([]Change, error) {
	var list []Change
	for _, code := range o.Subjects {
		if _, err := l.State.Roster.Get(code); err != nil {
			return nil, err
		}
		pairs := l.State.Session.PairsBetween(code, o.From, o.To)
		if o.From == "" && o.To != "" {
			pairs = l.State.Session.Pairs(code, o.To)
		}
		for _, p := range pairs {
			if o.Part != "" && p.Part != o.Part || o.Pose != "" && p.Pose != o.Pose {
				continue
			}
			list = append(list, Change{Subject: code, Part: p.Part, Pose: p.Pose, From: p.Old.Session, To: p.New.Session, old: p.Old, new: p.New})
		}
	}
	return list, l.compareAll(ctx, list, o.Progress)
}

// compareAll fills in a list of changes, several side by side, and records the new ones.
func (l *Loop) compareAll(ctx context.Context, list []Change, p Progress) error {
	if p == nil {
		p = silent{}
	}
	p.Start("comparing", int64(len(list)))
	errs := make([]error, len(list))
	each(len(list), func(i int) {
		errs[i] = l.compareOne(ctx, &list[i])
		p.Step(1)
	})
	if err := errors.Join(errs...); err != nil {
		return err
	}
	var drafts []record.Draft
	for i := range list {
		c := &list[i]
		if old := l.State.Appearance.ComparisonOf(c.old.ID, c.new.ID); old != nil && old.Key == c.key {
			continue
		}
		d, err := appearance.Record(l.State.Appearance, l.by, c.Subject, c.open(), c.sealed())
		if err != nil {
			return err
		}
		drafts = append(drafts, d)
	}
	if len(drafts) == 0 {
		return nil
	}
	_, err := l.Append(ctx, drafts...)
	return err
}

// keyOf is what a result depends on: both takes' files, the settings, the engine.
func keyOf(old, new *session.Take, s Settings) (asset.Hash, error) {
	text, err := json.Marshal(struct {
		Old, New [][2]string
		Settings Settings
		Engine   string
	}{members(old), members(new), s, Engine})
	return asset.HashBytes(text), err
}

func members(t *session.Take) (out [][2]string) {
	for _, f := range t.Files {
		out = append(out, [2]string{string(f.Kind) + "/" + string(f.Channel), f.Hash.String()})
	}
	return out
}

// compareOne reads the result of one pair from the cache, or compares and keeps it there.
func (l *Loop) compareOne(ctx context.Context, c *Change) error {
	settings := settingsFor(l.Policy(), c.new.Shot)
	key, err := keyOf(c.old, c.new, settings)
	if err != nil {
		return err
	}
	c.key = key
	c.Folder = filepath.Join(l.cache, "results", key.String())
	if r, err := readResult(c.Folder); err == nil {
		c.set(r)
		c.Cached = true
		return nil
	} else if !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	older, newer, err := loadBoth(func() (*diff.Scan, error) { return l.load(ctx, c.old) }, func() (*diff.Scan, error) { return l.load(ctx, c.new) })
	if err != nil {
		return fmt.Errorf("compare %s %s/%s: %w", c.Subject, c.Part, c.Pose, err)
	}
	r, detail, err := diff.Compare(ctx, older, newer, settings, nil)
	if err != nil {
		return fmt.Errorf("compare %s %s/%s: %w", c.Subject, c.Part, c.Pose, err)
	}
	if err := os.MkdirAll(filepath.Dir(c.Folder), 0o700); err != nil {
		return err
	}
	temp, err := os.MkdirTemp(filepath.Dir(c.Folder), ".new-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(temp)
	if err := writeComparison(ctx, temp, older, newer, r, detail); err != nil {
		return err
	}
	if err := os.Rename(temp, c.Folder); err != nil && !errors.Is(err, fs.ErrExist) {
		return err
	}
	c.set(r)
	return nil
}

func (c *Change) set(r *Result) {
	c.Result, c.Verdict, c.Conclusion = r, r.Verdict, r.Conclusion
}

// readResult reads a kept result.
func readResult(folder string) (*Result, error) {
	b, err := os.ReadFile(filepath.Join(folder, documentName))
	if err != nil {
		return nil, err
	}
	var r Result
	dec := json.NewDecoder(bytes.NewReader(b))
	if err := dec.Decode(&r); err != nil {
		return nil, fmt.Errorf("cached result %s: %w", folder, err)
	}
	return &r, nil
}

func (c *Change) open() appearance.ComparisonOpen {
	return appearance.ComparisonOpen{Key: c.key, Old: c.old.ID, New: c.new.ID, OldCaptured: c.old.Captured, NewCaptured: c.new.Captured,
		Shot: c.new.Shot, Verdict: string(c.Verdict), Engine: Engine}
}

func (c *Change) sealed() appearance.ComparisonSealed {
	s := appearance.ComparisonSealed{Findings: []appearance.FindingBody{}, Reasons: c.Result.Reasons, Conclusion: c.Conclusion}
	for _, v := range c.Result.Causes {
		s.Causes = append(s.Causes, string(v))
	}
	for _, f := range c.Result.Findings {
		s.Findings = append(s.Findings, appearance.FindingBody{Kind: terms.ItemKind(f.Kind), Action: terms.Action(f.Action), Region: f.Region,
			Confidence: int(math.Round(f.Confidence * 1e6)), AreaMM2: int(math.Round(f.AreaCM2 * 100)), Because: f.Because, RuledOut: f.RuledOut, Spots: f.Spots})
	}
	for _, p := range c.Result.Spots {
		s.Spots = append(s.Spots, appearance.SpotBody{ID: p.ID, Layer: string(p.Layer), Regions: regionNames(p), AreaMM2: int(math.Round(p.AreaCM2 * 100)), Peak: int(math.Round(p.Peak * 1000))})
	}
	return s
}

func regionNames(s result.Spot) []string {
	out := []string{}
	for _, r := range s.Regions {
		out = append(out, r.Name)
	}
	return out
}

// ResultFolder returns where the pictures of a recorded comparison lie, "" when the cache does not
// have them.
func (l *Loop) ResultFolder(c *appearance.Comparison) string {
	dir := filepath.Join(l.cache, "results", c.Key.String())
	if _, err := os.Stat(filepath.Join(dir, documentName)); err != nil {
		return ""
	}
	return dir
}

// CopyResult copies the pictures and the document of a change into dir.
func (c *Change) CopyResult(dir string) error {
	if c.Folder == "" {
		return fault.Invalid("changes", "no result of %s %s/%s to copy", c.Subject, c.Part, c.Pose)
	}
	return os.CopyFS(dir, os.DirFS(c.Folder))
}
