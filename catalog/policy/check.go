package policy

import (
	"fmt"
	"math"
	"sort"

	"mien/asset"
	"mien/asset/terms"
)

// check refuses numbers that no studio can mean and prepares the lookups.
func (p *Policy) check() error {
	if p.Schema != 1 {
		return fmt.Errorf("schema %d: allowed is 1", p.Schema)
	}
	if err := p.checkShots(); err != nil {
		return err
	}
	for i, v := range p.Tiers {
		if !(v > 0 && v <= 1) {
			return fmt.Errorf("tiers: number %d is %g, allowed above 0 to 1", i+1, v)
		}
	}
	if len(p.Tiers) == 0 {
		return fmt.Errorf("tiers: empty, at least one is needed")
	}
	if err := within("visibility", p.Visible, 0, 1); err != nil {
		return err
	}
	for _, name := range sorted(p.Visible) {
		if _, err := terms.ParseRegion(name); err != nil && name != other {
			return fmt.Errorf("visibility: %w", err)
		}
	}
	if err := within("reasons", p.Reasons, 0, 1); err != nil {
		return err
	}
	for _, name := range sorted(p.Reasons) {
		if !known(name) {
			return fmt.Errorf("reasons: %q unknown, allowed are %v", name, Reasons())
		}
	}
	if err := within("artist-days", p.ArtistDays, 0, 1000); err != nil {
		return err
	}
	for _, part := range sorted(p.AgeMonths) {
		if n := p.AgeMonths[part]; n < 1 || n > 600 {
			return fmt.Errorf("age-months: %s is %d, allowed 1 to 600", part, n)
		}
	}
	if p.LeadDays < 0 || p.LeadDays > 3650 {
		return fmt.Errorf("lead-days: %d, allowed 0 to 3650", p.LeadDays)
	}
	if err := p.checkRig(); err != nil {
		return err
	}
	if err := p.checkTolerance(); err != nil {
		return err
	}
	for _, r := range p.Releases {
		if !r.ContentLock.Valid() {
			return fmt.Errorf("releases: %q: content-lock %q is not a date, allowed is YYYY-MM-DD", r.Name, r.ContentLock)
		}
	}
	return p.prepare()
}

func (p *Policy) checkShots() error {
	if len(p.ShotList) == 0 {
		return fmt.Errorf("shot-list: empty, at least one shot is needed")
	}
	seen := map[Shot]bool{}
	for _, r := range p.ShotList {
		s := r.Shot()
		if !Word(string(s.Part)) || !Word(string(s.Pose)) {
			return fmt.Errorf("shot-list: %q: part and pose are lower-case words with hyphens", s)
		}
		if seen[s] {
			return fmt.Errorf("shot-list: %s stands twice", s)
		}
		seen[s] = true
		if !(r.Minutes >= 0.5 && r.Minutes <= 60) || r.Minutes*2 != math.Trunc(r.Minutes*2) {
			return fmt.Errorf("shot-list: %s: minutes %g, allowed 0.5 to 60 in steps of 0.5", s, r.Minutes)
		}
	}
	return nil
}

func (p *Policy) checkRig() error {
	r := p.Rig
	for _, f := range []struct {
		name     string
		v, least float64
		most     float64
	}{
		{"set-up-minutes", r.SetUpMinutes, 0, 600},
		{"per-subject-minutes", r.PerSubjectMinutes, 0.5, 120},
		{"between-subjects-minutes", r.BetweenMinutes, 0, 60},
		{"hold-back", r.HoldBack, 0, 0.9},
	} {
		if !(f.v >= f.least && f.v <= f.most) {
			return fmt.Errorf("rig: %s %g, allowed %g to %g", f.name, f.v, f.least, f.most)
		}
	}
	return nil
}

func (p *Policy) checkTolerance() error {
	t := p.Tolerance
	if !(t.Mm > 0 && t.DE00 > 0 && t.SpotCM2 > 0 && t.GirthPercent > 0) {
		return fmt.Errorf("tolerance: mm, de00, spot-cm2 and girth-percent must be above 0")
	}
	for _, name := range sorted(t.Regions) {
		if _, err := terms.ParseRegion(name); err != nil {
			return fmt.Errorf("tolerance: %w", err)
		}
		if r := t.Regions[name]; r.Mm < 0 || r.DE00 < 0 {
			return fmt.Errorf("tolerance: %s: below 0", name)
		}
	}
	return nil
}

// prepare compiles the naming patterns and the sets of regions.
func (p *Policy) prepare() error {
	p.readers, p.seen = nil, map[asset.Part]map[string]struct{}{}
	for _, pattern := range p.Naming.Patterns {
		r, err := p.Naming.compile(pattern)
		if err != nil {
			return err
		}
		p.readers = append(p.readers, r)
	}
	for _, part := range sorted(p.Sees) {
		set := map[string]struct{}{}
		for _, name := range p.Sees[part] {
			if _, err := terms.ParseRegion(name); err != nil {
				return fmt.Errorf("sees: %s: %w", part, err)
			}
			set[name] = struct{}{}
		}
		p.seen[part] = set
	}
	return nil
}

func within(name string, m map[string]float64, least, most float64) error {
	for _, k := range sorted(m) {
		if v := m[k]; !(v >= least && v <= most) {
			return fmt.Errorf("%s: %s is %g, allowed %g to %g", name, k, v, least, most)
		}
	}
	return nil
}

func sorted[K ~string, V any](m map[K]V) []K {
	keys := make([]K, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	sort.Slice(keys, func(i, j int) bool { return keys[i] < keys[j] })
	return keys
}
