// Package policy holds the studio's numbers: the shot list, how file names are read, tolerances,
// weights, minutes, ages and lead times. They are written in YAML and recorded as a whole.
package policy

import (
	_ "embed"
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync"

	"github.com/goccy/go-yaml"

	"mien/asset"
	"mien/asset/terms"
	"mien/catalog/day"
)

//go:embed default.yaml
var defaultYAML string

// DefaultYAML returns the documented default policy, comments included.
func DefaultYAML() string { return defaultYAML }

// Policy is the studio's numbers. Use [Default] or [Parse]; the zero value is not usable.
type Policy struct {
	Schema     int                                `yaml:"schema"`
	ShotList   []ShotRule                         `yaml:"shot-list"`
	Naming     Naming                             `yaml:"naming"`
	Sees       map[asset.Part][]string            `yaml:"sees"`
	Visible    map[string]float64                 `yaml:"visibility"`
	Tolerance  Tolerance                          `yaml:"tolerance"`
	AgeMonths  map[string]int                     `yaml:"age-months"`
	Reasons    map[string]float64                 `yaml:"reasons"`
	Tiers      []float64                          `yaml:"tiers"`
	Rig        Rig                                `yaml:"rig"`
	ArtistDays map[string]float64                 `yaml:"artist-days"`
	LeadDays   int                                `yaml:"lead-days"`
	Releases   []Release                          `yaml:"releases"`
	Accept     bool                               `yaml:"accept-clean-takes"`
	Consent    bool                               `yaml:"require-consent"`
	readers    []reader                           // compiled naming patterns
	seen       map[asset.Part]map[string]struct{} // Sees as sets
}

// ShotRule is one line of the shot list.
type ShotRule struct {
	Part    asset.Part `yaml:"part"`
	Pose    asset.Pose `yaml:"pose"`
	Minutes float64    `yaml:"minutes"`
	Repeats int        `yaml:"repeats"`
	Core    bool       `yaml:"core"`
	Prop    bool       `yaml:"prop"` // can be scanned without the person
}

// Shot returns the rule's part and pose.
func (r ShotRule) Shot() Shot { return Shot{r.Part, r.Pose} }

// Tolerance is the least change that counts.
type Tolerance struct {
	Mm           float64              `yaml:"mm"`
	DE00         float64              `yaml:"de00"`
	SpotCM2      float64              `yaml:"spot-cm2"`
	GirthPercent float64              `yaml:"girth-percent"`
	Regions      map[string]Threshold `yaml:"regions"`
}

// Threshold is the least change that counts in one region; 0 means the general one.
type Threshold struct {
	Mm   float64 `yaml:"mm"`
	DE00 float64 `yaml:"de00"`
}

// Rig is what a capture costs.
type Rig struct {
	SetUpMinutes      float64 `yaml:"set-up-minutes"`
	PerSubjectMinutes float64 `yaml:"per-subject-minutes"`
	BetweenMinutes    float64 `yaml:"between-subjects-minutes"`
	HoldBack          float64 `yaml:"hold-back"`
}

// Release is a date after which content no longer changes. Without squads it concerns all.
type Release struct {
	Name        string   `yaml:"name"`
	ContentLock day.Day  `yaml:"content-lock"`
	Squads      []string `yaml:"squads"`
}

// Default returns the policy that holds until a studio records its own. The caller may change it.
func Default() *Policy { return parsedDefault().clone() }

// parsedDefault is read once a process; nobody changes it.
var parsedDefault = sync.OnceValue(func() *Policy {
	p := &Policy{}
	err := p.read([]byte(defaultYAML))
	if err == nil {
		err = p.check()
	}
	if err != nil {
		panic("policy: the embedded default does not parse: " + err.Error())
	}
	return p
})

// Parse reads a policy in YAML. Fields that the text leaves out keep the default's values; unknown
// fields are errors. An error names line and column, or the field and what is allowed.
func Parse(text []byte) (*Policy, error) {
	p := Default()
	if err := p.read(text); err != nil {
		return nil, err
	}
	p.keep(parsedDefault())
	if err := p.check(); err != nil {
		return nil, fmt.Errorf("policy: %w", err)
	}
	return p, nil
}

func (p *Policy) read(text []byte) error {
	if err := yaml.UnmarshalWithOptions(text, p, yaml.Strict()); err != nil {
		return fmt.Errorf("policy: %s", oneLine(yaml.FormatError(err, false, false)))
	}
	return nil
}

// clone returns a copy that shares nothing that a reader could change.
func (p *Policy) clone() *Policy {
	c := *p
	c.ShotList, c.Tiers, c.Releases = slices.Clone(p.ShotList), slices.Clone(p.Tiers), slices.Clone(p.Releases)
	c.Naming.Patterns, c.readers = slices.Clone(p.Naming.Patterns), slices.Clone(p.readers)
	c.Sees, c.Visible, c.Tolerance.Regions = maps.Clone(p.Sees), maps.Clone(p.Visible), maps.Clone(p.Tolerance.Regions)
	c.AgeMonths, c.Reasons, c.ArtistDays = maps.Clone(p.AgeMonths), maps.Clone(p.Reasons), maps.Clone(p.ArtistDays)
	c.Naming.Channels, c.Naming.Parts, c.Naming.Poses = maps.Clone(p.Naming.Channels), maps.Clone(p.Naming.Parts), maps.Clone(p.Naming.Poses)
	return &c
}

// keep fills the tables' missing rows from d: the reader replaces a table as a whole.
func (p *Policy) keep(d *Policy) {
	rows(&p.Sees, d.Sees)
	rows(&p.Visible, d.Visible)
	rows(&p.Tolerance.Regions, d.Tolerance.Regions)
	rows(&p.AgeMonths, d.AgeMonths)
	rows(&p.Reasons, d.Reasons)
	rows(&p.ArtistDays, d.ArtistDays)
	rows(&p.Naming.Channels, d.Naming.Channels)
	rows(&p.Naming.Parts, d.Naming.Parts)
	rows(&p.Naming.Poses, d.Naming.Poses)
}

func rows[K comparable, V any](m *map[K]V, from map[K]V) {
	if *m == nil {
		*m = map[K]V{}
	}
	for k, v := range from {
		if _, ok := (*m)[k]; !ok {
			(*m)[k] = v
		}
	}
}

// oneLine keeps the first line of a parser's message, "[line:column] fault".
func oneLine(s string) string {
	s, _, _ = strings.Cut(strings.TrimSpace(s), "\n")
	return s
}

// Rule returns the shot list's line for s. A shot that is not on the list costs half a minute.
func (p *Policy) Rule(s Shot) ShotRule {
	for _, r := range p.ShotList {
		if r.Shot() == s {
			return r
		}
	}
	return ShotRule{Part: s.Part, Pose: s.Pose, Minutes: 0.5}
}

// Shots returns the shot list in order; core alone when only is true.
func (p *Policy) Shots(coreOnly bool) []Shot {
	var out []Shot
	for _, r := range p.ShotList {
		if r.Core || !coreOnly {
			out = append(out, r.Shot())
		}
	}
	return out
}

// HalfMinutes returns the rig time of shots in half-minutes; a shot that occurs twice counts once.
func (p *Policy) HalfMinutes(shots []Shot) int {
	n := 0
	for _, s := range Union(shots) {
		n += int(p.Rule(s).Minutes*2 + 0.5)
	}
	return n
}

// Days returns the artist days of renewing shots: each part once.
func (p *Policy) Days(shots []Shot) float64 {
	sum, seen := 0.0, map[asset.Part]bool{}
	for _, s := range shots {
		if !seen[s.Part] {
			seen[s.Part] = true
			sum += lookup(p.ArtistDays, string(s.Part))
		}
	}
	return sum
}

// Shows reports whether a scan of part shows region. A part that the policy does not list shows
// whatever a body shows: all regions but teeth and tongue.
func (p *Policy) Shows(part asset.Part, region string) bool {
	set, ok := p.seen[part]
	if !ok {
		return region != terms.Teeth.String() && region != terms.Tongue.String()
	}
	_, ok = set[region]
	return ok
}

// Visibility returns how much of region is seen on screen, 0 to 1.
func (p *Policy) Visibility(region string) float64 { return lookup(p.Visible, region) }

// OldAfterMonths returns after how many months a likeness of part is old.
func (p *Policy) OldAfterMonths(part asset.Part) int { return lookup(p.AgeMonths, string(part)) }

// Tier returns what a subject's tier multiplies a score by. Tiers beyond the list count as the last.
func (p *Policy) Tier(tier int) float64 {
	return p.Tiers[min(max(tier, 1), len(p.Tiers))-1]
}

// At returns the least change that counts in region.
func (t Tolerance) At(region string) Threshold {
	r := t.Regions[region]
	if r.Mm == 0 {
		r.Mm = t.Mm
	}
	if r.DE00 == 0 {
		r.DE00 = t.DE00
	}
	return r
}

// NextLock returns the earliest release for squad that a capture on today can still reach, and the
// last day on which a capture is useful for it. ok is false when there is none.
func (p *Policy) NextLock(squad string, today day.Day) (r Release, lastUseful day.Day, ok bool) {
	for _, c := range p.Releases {
		last := c.ContentLock.Add(-p.LeadDays)
		if last < today || !c.concerns(squad) || ok && c.ContentLock >= r.ContentLock {
			continue
		}
		r, lastUseful, ok = c, last, true
	}
	return r, lastUseful, ok
}

func (r Release) concerns(squad string) bool {
	for _, s := range r.Squads {
		if s == squad {
			return true
		}
	}
	return len(r.Squads) == 0
}

// other is the key whose value counts for everything that a table does not list.
const other = "other"

func lookup[V int | float64](m map[string]V, key string) V {
	if v, ok := m[key]; ok {
		return v
	}
	return m[other]
}
