package loop

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"time"

	"mien/asset/scan"
	"mien/catalog/policy"
	"mien/cmd/mien/internal/ui"
	"mien/diff"
	"mien/diff/result"
)

// Names of the comparison that commands use.
type (
	Result   = diff.Result
	Settings = diff.Settings
	Finding  = result.Finding
	Verdict  = result.Verdict
)

// Verdicts and the engine's number.
const (
	Same       = result.Same
	Changed    = result.Changed
	CannotTell = result.CannotTell
	Engine     = diff.Engine
)

// Progress shows how far long work has come. Its methods may be called from several goroutines.
type Progress interface {
	Start(what string, total int64)
	Step(n int64)
}

// silent is the progress of a caller that wants none.
type silent struct{}

func (silent) Start(string, int64) {}
func (silent) Step(int64)          {}

// CompareOptions are the choices of a comparison of files.
type CompareOptions struct {
	Out              string // folder for the document, pictures and a heat-coloured GLB; "" writes nothing
	UnitOld, UnitNew string // m, cm, mm, in; "" is what the file says
	Settings         Settings
	Timing           bool
	Progress         Progress
}

// ComparedPair is one comparison with what its pictures are drawn from.
type ComparedPair struct {
	Part   string  `json:"part"`
	Pose   string  `json:"pose"`
	Result *Result `json:"result"`
}

// CompareSet is the comparison of two files or of two folders.
type CompareSet struct {
	Verdict Verdict
	Folders bool
	Pairs   []ComparedPair
	OnlyOld []string
	OnlyNew []string
}

// CompareDocument is the JSON document of two folders.
type CompareDocument struct {
	Schema  string         `json:"schema"`
	Verdict Verdict        `json:"verdict"`
	Pairs   []ComparedPair `json:"pairs"`
	OnlyOld []string       `json:"only_old"`
	OnlyNew []string       `json:"only_new"`
}

// Document returns the set as `mien.compare-set/1`.
func (s *CompareSet) Document() CompareDocument {
	return CompareDocument{"mien.compare-set/1", s.Verdict, append([]ComparedPair{}, s.Pairs...),
		append([]string{}, s.OnlyOld...), append([]string{}, s.OnlyNew...)}
}

// metresPer are the units that people deliver in.
var metresPer = map[string]float64{"": 0, "m": 1, "cm": .01, "mm": .001, "in": .0254}

// ComparePaths measures what changed between two mesh files, or between two folders whose takes are
// paired by part and pose. The set's verdict is the gravest of its pairs.
func ComparePaths(ctx context.Context, oldPath, newPath string, o CompareOptions) (*CompareSet, error) {
	for flag, u := range map[string]string{"--unit-old": o.UnitOld, "--unit-new": o.UnitNew} {
		if _, ok := metresPer[u]; !ok {
			return nil, usage("%s %q: allowed are m, cm, mm, in", flag, u)
		}
	}
	if o.Progress == nil {
		o.Progress = silent{}
	}
	oldInfo, err := os.Stat(oldPath)
	if err != nil {
		return nil, fmt.Errorf("compare: %w", err)
	}
	newInfo, err := os.Stat(newPath)
	if err != nil {
		return nil, fmt.Errorf("compare: %w", err)
	}
	switch {
	case oldInfo.IsDir() != newInfo.IsDir():
		return nil, usage("compare: one of %s and %s is a folder, allowed are two files or two folders", oldPath, newPath)
	case !oldInfo.IsDir():
		o.Progress.Start("comparing", 100)
		load := func(path, unit, flag string) (*diff.Scan, error) {
			s, err := scan.LoadFile(ctx, path, scan.Options{Name: path, MetresPerUnit: metresPer[unit]})
			return s, askUnit(err, flag)
		}
		pair, err := comparePair(ctx, o, o.Out, func() (*diff.Scan, error) { return load(oldPath, o.UnitOld, "--unit-old") },
			func() (*diff.Scan, error) { return load(newPath, o.UnitNew, "--unit-new") })
		if err != nil {
			return nil, err
		}
		return &CompareSet{Verdict: pair.Result.Verdict, Pairs: []ComparedPair{pair}}, nil
	}
	return compareFolders(ctx, oldPath, newPath, o)
}

// askUnit adds to an error about an unknown unit the flag that gives it.
func askUnit(err error, flag string) error {
	var u *scan.UnitError
	if errors.As(err, &u) {
		return ui.Hint(err, "add %s cm, or m, mm, in", flag)
	}
	return err
}

func compareFolders(ctx context.Context, oldPath, newPath string, o CompareOptions) (*CompareSet, error) {
	p := policy.Default()
	olds, err := shotsOf(ctx, oldPath, p)
	if err != nil {
		return nil, err
	}
	news, err := shotsOf(ctx, newPath, p)
	if err != nil {
		return nil, err
	}
	set := &CompareSet{Verdict: Same, Folders: true}
	o.Progress.Start("comparing", int64(100*max(1, len(olds.takes))))
	for _, t := range olds.takes {
		u, ok := news.find(t.Shot)
		if !ok {
			set.OnlyOld = append(set.OnlyOld, t.name())
			continue
		}
		load := func(folder, unit, flag string, t deliveredTake) func() (*diff.Scan, error) {
			return func() (*diff.Scan, error) {
				s, err := scan.Load(ctx, folder, names(t), scan.Options{Name: filepath.Join(folder, t.name()), Part: t.Shot.Part, Pose: t.Shot.Pose, Stage: t.Stage, MetresPerUnit: metresPer[unit]})
				return s, askUnit(err, flag)
			}
		}
		out := o.Out
		if out != "" {
			out = filepath.Join(out, string(t.Shot.Part)+"-"+string(t.Shot.Pose))
		}
		pair, err := comparePair(ctx, o, out, load(oldPath, o.UnitOld, "--unit-old", t), load(newPath, o.UnitNew, "--unit-new", u))
		if err != nil {
			return nil, err
		}
		pair.Part, pair.Pose = string(t.Shot.Part), string(t.Shot.Pose)
		set.Pairs = append(set.Pairs, pair)
		set.Verdict = graver(set.Verdict, pair.Result.Verdict)
	}
	for _, u := range news.takes {
		if _, ok := olds.find(u.Shot); !ok {
			set.OnlyNew = append(set.OnlyNew, u.name())
		}
	}
	if len(set.Pairs) == 0 {
		return nil, fmt.Errorf("compare: no part and pose is in both %s (%s) and %s (%s)", oldPath, olds.list(), newPath, news.list())
	}
	return set, nil
}

// shots is the first take of each part and pose of a folder.
type shots struct{ takes []deliveredTake }

func (s shots) find(shot policy.Shot) (deliveredTake, bool) {
	for _, t := range s.takes {
		if t.Shot == shot {
			return t, true
		}
	}
	return deliveredTake{}, false
}

func (s shots) list() string {
	if len(s.takes) == 0 {
		return "no scans whose name says part and pose"
	}
	var out []string
	for _, t := range s.takes {
		out = append(out, t.Shot.String())
	}
	return strings.Join(out, ", ")
}

func shotsOf(ctx context.Context, folder string, p *policy.Policy) (shots, error) {
	d, err := readDelivery(ctx, folder, "", true, p)
	if err != nil {
		return shots{}, err
	}
	d.close()
	var s shots
	for _, t := range d.takes {
		if _, seen := s.find(t.Shot); !seen {
			s.takes = append(s.takes, t)
		}
	}
	return s, nil
}

func names(t deliveredTake) []string {
	var out []string
	for _, f := range t.Files {
		out = append(out, f.Rel)
	}
	return out
}

// comparePair loads two scans, compares them and writes what --out asks for.
func comparePair(ctx context.Context, o CompareOptions, out string, loadOld, loadNew func() (*diff.Scan, error)) (ComparedPair, error) {
	start := time.Now()
	older, newer, err := loadBoth(loadOld, loadNew)
	if err != nil {
		return ComparedPair{}, err
	}
	last := 0.0
	r, detail, err := diff.Compare(ctx, older, newer, o.Settings, func(_ string, done float64) {
		o.Progress.Step(int64(100*done) - int64(100*last))
		last = done
	})
	if err != nil {
		return ComparedPair{}, err
	}
	if out != "" {
		if err := writeComparison(ctx, out, older, newer, r, detail); err != nil {
			return ComparedPair{}, err
		}
	}
	if o.Timing {
		s := time.Since(start).Seconds()
		r.TimingS = &s
	}
	return ComparedPair{Result: r}, nil
}

// loadBoth loads two scans side by side.
func loadBoth(a, b func() (*diff.Scan, error)) (older, newer *diff.Scan, err error) {
	done := make(chan error, 1)
	go func() {
		var err error
		newer, err = b()
		done <- err
	}()
	older, errOld := a()
	if errNew := <-done; errNew != nil && errOld == nil {
		errOld = errNew
	}
	return older, newer, errOld
}

// graver returns the verdict that goes first: changed, cannot-tell, same.
func graver(a, b Verdict) Verdict {
	rank := map[Verdict]int{Changed: 2, CannotTell: 1}
	if rank[b] > rank[a] {
		return b
	}
	return a
}

// Sureness is a finding's confidence in words. Numbers wait until enough findings have been judged
// for them to mean something.
func Sureness(confidence float64) string {
	switch {
	case confidence >= .85:
		return "sure"
	case confidence >= .6:
		return "likely"
	}
	return "unsure"
}

// workers is how many comparisons run side by side.
func workers() int { return max(1, runtime.GOMAXPROCS(0)) }
