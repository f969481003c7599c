// Package people says who works with a catalog and what each may do.
package people

import (
	"fmt"
	"sort"
	"strings"

	"mien/asset/terms"
	"mien/catalog/fault"
	"mien/catalog/fold"
	"mien/catalog/policy"
	"mien/catalog/record"
)

// Role is what somebody does in the department.
type Role string

// Roles.
const (
	Manager  Role = "manager"  // takes deliveries in, keeps the roster
	Artist   Role = "artist"   // works on the assets
	Lead     Role = "lead"     // decides requests, plans visits, sets the policy
	Operator Role = "operator" // captures on the road
	Privacy  Role = "privacy"  // consent, hold, erasure
)

var roles = []Role{Manager, Artist, Lead, Operator, Privacy}

// Action is something that a role allows.
type Action string

// Actions.
const (
	Intake     Action = "intake"
	JudgeTake  Action = "judge-take" // accept, reject, choose, refile, withdraw
	Review     Action = "review-finding"
	Sheet      Action = "appearance"
	Sight      Action = "sight"
	Raise      Action = "raise-request"
	Decide     Action = "decide-request"
	Visit      Action = "visit"
	Log        Action = "log-capture"
	Derived    Action = "derived-asset"
	Roster     Action = "roster"
	Consent    Action = "consent"
	Hold       Action = "hold"
	Disclose   Action = "disclose"
	Erase      Action = "erase-subject"
	People     Action = "people"
	SetPolicy  Action = "policy"
	ExportFile Action = "export"
)

// allowed is who may do what. Common practice, no source.
var allowed = map[Action][]Role{
	Intake:     {Manager, Lead, Operator},
	JudgeTake:  {Manager, Lead},
	Review:     {Manager, Artist, Lead},
	Sheet:      {Manager, Artist, Lead},
	Sight:      {Manager, Artist, Lead, Operator},
	Raise:      {Manager, Artist, Lead, Operator},
	Decide:     {Lead},
	Visit:      {Manager, Lead},
	Log:        {Manager, Lead, Operator},
	Derived:    {Manager, Artist, Lead},
	Roster:     {Manager, Lead},
	Consent:    {Manager, Operator, Privacy},
	Hold:       {Privacy},
	Disclose:   {Privacy},
	Erase:      {Privacy},
	People:     {Manager, Lead},
	SetPolicy:  {Lead},
	ExportFile: {Manager, Artist, Lead},
}

// Allowed reports whether role r may do a.
func Allowed(r Role, a Action) bool {
	for _, v := range allowed[a] {
		if v == r {
			return true
		}
	}
	return false
}

// ParseRole reads a role's name.
func ParseRole(s string) (Role, error) {
	names := make([]string, len(roles))
	for i, r := range roles {
		if string(r) == s {
			return r, nil
		}
		names[i] = string(r)
	}
	return "", &terms.UnknownError{What: "role", Got: s, Near: names}
}

// Kinds of record about people. They are about no subject.
const (
	KindAdd  record.Kind = "people.add"
	KindRole record.Kind = "people.role"
	KindKey  record.Kind = "people.key"
	KindEnd  record.Kind = "people.end"
)

// Open is the open body of every record about a person.
type Open struct {
	Code  string `json:"code"`
	Roles []Role `json:"roles,omitempty"`
	Key   string `json:"key,omitempty"` // a public signing key: type and base 64, without the comment
}

// Sealed is the sealed body.
type Sealed struct {
	Name string `json:"name,omitempty"`
	Why  string `json:"why,omitempty"`
}

// Person is somebody who works with the catalog.
type Person struct {
	Code  string
	Name  string // "" when the key of the catalog is not here
	Roles []Role // in table order
	Keys  []string
	Ended bool
	Since int64 // ms since 1970
	// matter is the history of this person's records.
	matter fold.Matter
}

// State is everybody who works with the catalog.
type State struct {
	byCode map[string]*Person
}

// NewState returns a state without people.
func NewState() *State { return &State{byCode: map[string]*Person{}} }

// Apply folds one record.
func (s *State) Apply(e record.Entry) error {
	switch e.Kind {
	case KindAdd, KindRole, KindKey, KindEnd:
	default:
		return nil
	}
	o, sealed, err := fold.Both[Open, Sealed](e)
	if err != nil {
		return err
	}
	p := s.byCode[o.Code]
	if p == nil {
		if e.Kind != KindAdd {
			return fold.Refuse(e, "no such person: %q", o.Code)
		}
		p = &Person{Code: o.Code, Since: e.At.Ms}
		s.byCode[o.Code] = p
	}
	p.matter.Add(e)
	switch e.Kind {
	case KindAdd:
		p.Ended, p.Roles = false, o.Roles
		if sealed.Name != "" {
			p.Name = sealed.Name
		}
	case KindRole:
		p.Roles = o.Roles
	case KindKey:
		p.Keys = append(p.Keys, o.Key)
	case KindEnd:
		p.Ended = true
	}
	return nil
}

// List returns everybody, ended ones too, by code.
func (s *State) List() []*Person {
	out := make([]*Person, 0, len(s.byCode))
	for _, p := range s.byCode {
		out = append(out, p)
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Code < out[j].Code })
	return out
}

// Get returns the person with code.
func (s *State) Get(code string) (*Person, error) {
	if p := s.byCode[code]; p != nil {
		return p, nil
	}
	var codes []string
	for _, p := range s.List() {
		codes = append(codes, p.Code)
	}
	return nil, &fault.NotFoundError{What: "person", ID: code, Near: terms.Nearest(code, codes)}
}

// Unguarded reports whether nobody is registered yet. Everything is then allowed to everybody, and a
// caller says so.
func (s *State) Unguarded() bool {
	for _, p := range s.byCode {
		if !p.Ended {
			return false
		}
	}
	return true
}

// May returns nil if the person by may do a, else a [fault.DeniedError] with the reason.
func (s *State) May(by string, a Action) error {
	if s.Unguarded() {
		return nil
	}
	p := s.byCode[by]
	switch {
	case by == "":
		return &fault.DeniedError{Who: "nobody", Action: string(a), Why: "no person is named"}
	case p == nil:
		return &fault.DeniedError{Who: by, Action: string(a), Why: "no such person"}
	case p.Ended:
		return &fault.DeniedError{Who: by, Action: string(a), Why: "no longer works with this catalog"}
	}
	for _, r := range p.Roles {
		if Allowed(r, a) {
			return nil
		}
	}
	return &fault.DeniedError{Who: by, Action: string(a),
		Why: fmt.Sprintf("needs the role %s, has %s", join(allowed[a], " or "), join(p.Roles, ", "))}
}

// Add registers a person, or brings one back.
func Add(s *State, by, code, name string, rs []Role) (record.Draft, error) {
	if !policy.Word(code) {
		return record.Draft{}, fault.Invalid("person", "code %q: allowed is a lower-case word with hyphens", code)
	}
	rs, err := tidy(code, rs)
	if err != nil {
		return record.Draft{}, err
	}
	if p := s.byCode[code]; p != nil && !p.Ended {
		return record.Draft{}, &fault.ConflictError{Object: "person " + code, Already: "registered as " + join(p.Roles, ", ")}
	}
	return s.draft(KindAdd, by, Open{Code: code, Roles: rs}, Sealed{Name: strings.TrimSpace(name)}), nil
}

// SetRoles replaces a person's roles.
func SetRoles(s *State, by, code string, rs []Role) (record.Draft, error) {
	p, err := s.Get(code)
	if err != nil {
		return record.Draft{}, err
	}
	if rs, err = tidy(code, rs); err != nil {
		return record.Draft{}, err
	}
	if len(rs) == len(p.Roles) && join(rs, ",") == join(p.Roles, ",") {
		return record.Draft{}, &fault.ConflictError{Object: "person " + code, Already: join(rs, ", ")}
	}
	if err := s.keepsOne(p, rs); err != nil {
		return record.Draft{}, err
	}
	return s.draft(KindRole, by, Open{Code: code, Roles: rs}, nil), nil
}

// AddKey records a person's public signing key, given as "type base64 [comment]".
func AddKey(s *State, by, code, line string) (record.Draft, error) {
	if _, err := s.Get(code); err != nil {
		return record.Draft{}, err
	}
	f := strings.Fields(line)
	if len(f) < 2 || !strings.HasPrefix(f[0], "ssh-") && !strings.HasPrefix(f[0], "ecdsa-") && !strings.HasPrefix(f[0], "sk-") {
		return record.Draft{}, fault.Invalid("person "+code, "key: allowed is one line of a public key file, %q begins otherwise", first(f))
	}
	return s.draft(KindKey, by, Open{Code: code, Key: f[0] + " " + f[1]}, nil), nil
}

// End takes a person out; what they recorded stays.
func End(s *State, by, code, why string) (record.Draft, error) {
	p, err := s.Get(code)
	if err != nil {
		return record.Draft{}, err
	}
	if p.Ended {
		return record.Draft{}, &fault.ConflictError{Object: "person " + code, Already: "ended"}
	}
	if err := s.keepsOne(p, nil); err != nil {
		return record.Draft{}, err
	}
	return s.draft(KindEnd, by, Open{Code: code}, Sealed{Why: why}), nil
}

// keepsOne refuses a change of p's roles after which nobody could change roles any more.
func (s *State) keepsOne(p *Person, next []Role) error {
	for _, o := range s.byCode {
		rs := o.Roles
		if o == p {
			rs = next
		}
		for _, r := range rs {
			if !o.Ended && Allowed(r, People) {
				return nil
			}
		}
	}
	return fault.Invalid("person "+p.Code, "is the last who may change roles; give %s to somebody else first", join(allowed[People], " or "))
}

func (s *State) draft(k record.Kind, by string, o Open, sealed any) record.Draft {
	d := record.Draft{Kind: k, By: by, Open: o, Sealed: sealed}
	if p := s.byCode[o.Code]; p != nil {
		d.After = p.matter.Heads()
	}
	return d
}

// tidy returns rs without doubles in table order.
func tidy(code string, rs []Role) ([]Role, error) {
	var out []Role
	for _, r := range roles {
		for _, v := range rs {
			if v == r {
				out = append(out, r)
				break
			}
		}
	}
	for _, v := range rs {
		if _, err := ParseRole(string(v)); err != nil {
			return nil, err
		}
	}
	if len(out) == 0 {
		return nil, fault.Invalid("person "+code, "no role, allowed are %s", join(roles, ", "))
	}
	return out, nil
}

func join(rs []Role, sep string) string {
	s := make([]string, len(rs))
	for i, r := range rs {
		s[i] = string(r)
	}
	return strings.Join(s, sep)
}

func first(f []string) string {
	if len(f) == 0 {
		return ""
	}
	return f[0]
}
