package policy

import (
	"mien/catalog/fold"
	"mien/catalog/record"
)

// KindSet records a whole policy.
const KindSet record.Kind = "policy.set"

// SetOpen is the open body of a policy.set record.
type SetOpen struct {
	Schema int `json:"policy_schema"`
}

// SetSealed is its sealed body.
type SetSealed struct {
	YAML string `json:"yaml"`
	Why  string `json:"why,omitempty"`
}

// State is the policy in force.
type State struct {
	Policy   *Policy
	YAML     string // the text in force, comments included
	Recorded bool   // false while the default holds
	By       string
	AtMs     int64
	Why      string
	matter   fold.Matter
}

// NewState returns the state before any record: the default policy.
func NewState() *State { return &State{Policy: Default(), YAML: defaultYAML} }

// Apply folds one record. A policy that cannot be read here leaves the one before in force.
func (s *State) Apply(e record.Entry) error {
	if e.Kind != KindSet {
		return nil
	}
	s.matter.Add(e)
	b, ok, err := fold.Sealed[SetSealed](e)
	if err != nil {
		return err
	}
	if !ok {
		return fold.Refuse(e, "the key of the catalog is not here; the policy before it stays in force")
	}
	p, err := Parse([]byte(b.YAML))
	if err != nil {
		return fold.Refuse(e, "%v", err)
	}
	s.Policy, s.YAML, s.Recorded, s.By, s.AtMs, s.Why = p, b.YAML, true, e.By, e.At.Ms, b.Why
	return nil
}

// Set records text as the studio's policy. The error is that of [Parse].
func Set(st *State, by string, text []byte, why string) (record.Draft, error) {
	p, err := Parse(text)
	if err != nil {
		return record.Draft{}, err
	}
	return record.Draft{Kind: KindSet, By: by, After: st.matter.Heads(),
		Open: SetOpen{Schema: p.Schema}, Sealed: SetSealed{YAML: string(text), Why: why}}, nil
}
