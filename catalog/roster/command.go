package roster

import (
	"encoding/binary"
	"fmt"
	"io"
	"strings"

	"mien/asset/terms"
	"mien/catalog/day"
	"mien/catalog/fault"
	"mien/catalog/policy"
	"mien/catalog/record"
)

// New is what is known of a subject who joins.
type New struct {
	Code  string
	Name  string
	Born  day.Day
	Squad string
	From  day.Day // first day in the squad
	Tier  int     // 0 means 2
	Note  string
}

// maxTier is the least important tier.
const maxTier = 3

// Add puts a subject on the roster.
func Add(s *State, by string, n New) (record.Draft, error) {
	if n.Tier == 0 {
		n.Tier = 2
	}
	if err := n.check(); err != nil {
		return record.Draft{}, err
	}
	if v := s.subjects[n.Code]; v != nil {
		return record.Draft{}, &fault.ConflictError{Object: "subject " + n.Code, Already: "on the roster", When: string(day.OfMs(v.SinceMs))}
	}
	if s.props[n.Code] != nil {
		return record.Draft{}, &fault.ConflictError{Object: "subject " + n.Code, Already: "the code of a prop"}
	}
	return record.Draft{Kind: KindAdd, Subject: n.Code, By: by,
		Open:   AddOpen{Squad: n.Squad, From: n.From, Tier: n.Tier},
		Sealed: Sealed{Name: strings.TrimSpace(n.Name), Born: n.Born, Note: n.Note}}, nil
}

func (n New) check() error {
	object := "subject " + n.Code
	switch {
	case !policy.Word(n.Code):
		return fault.Invalid("subject", "code %q: allowed is a lower-case word with hyphens, such as ath-0147", n.Code)
	case n.Squad != "" && !policy.Word(n.Squad):
		return fault.Invalid(object, "squad %q: allowed is a lower-case word with hyphens%s", n.Squad, suggestion(n.Squad))
	case n.Squad != "" && !n.From.Valid():
		return fault.Invalid(object, "first day in the squad %q: allowed is YYYY-MM-DD", n.From)
	case n.Tier < 1 || n.Tier > maxTier:
		return fault.Invalid(object, "tier %d: allowed 1 to %d", n.Tier, maxTier)
	case n.Born != "" && !n.Born.Valid():
		return fault.Invalid(object, "date of birth %q: allowed is YYYY-MM-DD", n.Born)
	}
	return nil
}

// suggestion names the word that text could become.
func suggestion(text string) string {
	var b strings.Builder
	for _, r := range strings.ToLower(text) {
		switch {
		case r >= 'a' && r <= 'z' || r >= '0' && r <= '9':
			b.WriteRune(r)
		case b.Len() > 0 && !strings.HasSuffix(b.String(), "-"):
			b.WriteByte('-')
		}
	}
	if w := strings.TrimSuffix(b.String(), "-"); policy.Word(w) {
		return fmt.Sprintf(", such as %s", w)
	}
	return ""
}

// Change is what to set; nil and "" leave a field as it is.
type Change struct {
	Squad *string // "" leaves every squad
	From  day.Day // from which day the squad holds
	Tier  int
	Name  string
	Born  day.Day
	Note  string
}

// Set changes what is known of a subject.
func Set(s *State, by, code string, c Change) (record.Draft, error) {
	v, err := s.living(code)
	if err != nil {
		return record.Draft{}, err
	}
	n := New{Code: code, Tier: v.Tier, Born: c.Born, From: c.From}
	if c.Squad != nil {
		n.Squad = *c.Squad
	}
	if c.Tier != 0 {
		n.Tier = c.Tier
	}
	if err := n.check(); err != nil {
		return record.Draft{}, err
	}
	if c.Squad == nil && c.Tier == 0 && c.Name == "" && c.Born == "" && c.Note == "" {
		return record.Draft{}, fault.Invalid("subject "+code, "nothing to set")
	}
	d := record.Draft{Kind: KindSet, Subject: code, By: by, After: v.matter.Heads(),
		Open: SetOpen{Squad: c.Squad, From: c.From, Tier: c.Tier}}
	if c.Name != "" || c.Born != "" || c.Note != "" {
		d.Sealed = Sealed{Name: strings.TrimSpace(c.Name), Born: c.Born, Note: c.Note}
	}
	return d, nil
}

// GiveConsent records what a subject consents to, from a day on, until the day before until.
func GiveConsent(s *State, by, code string, what []Use, from, until day.Day, note string) (record.Draft, error) {
	return s.consent(by, code, ConsentOpen{Uses: what, From: from, Until: until}, note)
}

// RevokeConsent records that a subject no longer consents from a day on.
func RevokeConsent(s *State, by, code string, what []Use, from day.Day, note string) (record.Draft, error) {
	return s.consent(by, code, ConsentOpen{Uses: what, From: from, Revoked: true}, note)
}

func (s *State) consent(by, code string, o ConsentOpen, note string) (record.Draft, error) {
	v, err := s.living(code)
	if err != nil {
		return record.Draft{}, err
	}
	if len(o.Uses) == 0 {
		return record.Draft{}, fault.Invalid("consent "+code, "no use named, allowed are %v", uses)
	}
	for _, u := range o.Uses {
		if !u.known() {
			return record.Draft{}, &terms.UnknownError{What: "use", Got: string(u), Near: useNames()}
		}
	}
	if !o.From.Valid() || o.Until != "" && !o.Until.Valid() {
		return record.Draft{}, fault.Invalid("consent "+code, "from %q until %q: allowed is YYYY-MM-DD", o.From, o.Until)
	}
	if o.Until != "" && o.Until <= o.From {
		return record.Draft{}, fault.Invalid("consent "+code, "until %s: not after %s", o.Until, o.From)
	}
	return record.Draft{Kind: KindConsent, Subject: code, By: by, After: v.matter.Heads(), Open: o, Sealed: Noted{note}}, nil
}

// SetHold sets or lifts a legal hold, which forbids erasing. Two sites that do not know of each other may
// have set one and erased the subject: the hold can then be lifted, without a note, which nothing could open.
func SetHold(s *State, by, code string, on bool, note string) (record.Draft, error) {
	v, err := s.Get(code)
	if err == nil && (on || !v.Hold) {
		v, err = s.living(code)
	}
	if err != nil {
		return record.Draft{}, err
	}
	if v.Hold == on {
		return record.Draft{}, &fault.ConflictError{Object: "subject " + code, Already: map[bool]string{true: "held", false: "not held"}[on]}
	}
	if v.Erased {
		return record.Draft{Kind: KindHold, Subject: code, By: by, After: v.matter.Heads(), Open: HoldOpen{on}}, nil
	}
	return record.Draft{Kind: KindHold, Subject: code, By: by, After: v.matter.Heads(), Open: HoldOpen{on}, Sealed: Noted{note}}, nil
}

// Disclosed records that a subject was given what is held about them.
func Disclosed(s *State, by, code string, on day.Day, note string) (record.Draft, error) {
	v, err := s.living(code)
	if err != nil {
		return record.Draft{}, err
	}
	return record.Draft{Kind: KindDisclosed, Subject: code, By: by, After: v.matter.Heads(), Open: DisclosedOpen{on}, Sealed: Noted{note}}, nil
}

// Erase records the tombstone of a subject. The caller destroys the key and the files that only this
// subject uses, after the record is durable. The record has no sealed body: nothing could open it.
func Erase(s *State, by, code string) (record.Draft, error) {
	v, err := s.living(code)
	if err != nil {
		return record.Draft{}, err
	}
	if v.Hold {
		return record.Draft{}, &fault.ConflictError{Object: "erase " + code, Already: "under a legal hold", Allowed: "lift the hold first"}
	}
	return record.Draft{Kind: KindErase, Subject: code, By: by, After: v.matter.Heads(), Open: struct{}{}}, nil
}

// AddProp gives a thing a code of its own.
func AddProp(s *State, by, code string, o PropOpen, sealed PropSealed) (record.Draft, error) {
	switch {
	case !policy.Word(code):
		return record.Draft{}, fault.Invalid("prop", "code %q: allowed is a lower-case word with hyphens, such as shoe-0021", code)
	case s.subjects[code] != nil:
		return record.Draft{}, &fault.ConflictError{Object: "prop " + code, Already: "the code of a subject"}
	case o.Side != "" && o.Side != "left" && o.Side != "right":
		return record.Draft{}, fault.Invalid("prop "+code, "side %q: allowed are left, right", o.Side)
	case o.Kind != terms.Footwear && o.Kind != terms.Accessory && o.Kind != terms.Kit:
		return record.Draft{}, fault.Invalid("prop "+code, "kind %q: allowed are footwear, accessory, kit", o.Kind)
	case o.Mondopoint != 0 && (o.Mondopoint < 100 || o.Mondopoint > 450):
		return record.Draft{}, fault.Invalid("prop "+code, "size %d: foot length in mm, allowed 100 to 450", o.Mondopoint)
	}
	d := record.Draft{Kind: KindProp, Subject: code, By: by, Open: o, Sealed: sealed}
	if p := s.props[code]; p != nil {
		d.After = p.matter.Heads()
	}
	return d, nil
}

// SetWear records that a subject wears a prop.
func SetWear(s *State, by, code string, o WearOpen) (record.Draft, error) {
	v, err := s.living(code)
	if err != nil {
		return record.Draft{}, err
	}
	if _, err := s.Prop(o.Prop); err != nil {
		return record.Draft{}, err
	}
	if o.Context != Match && o.Context != Training && o.Context != Arrival {
		return record.Draft{}, fault.Invalid("wear "+code, "context %q: allowed are %v", o.Context, contexts)
	}
	if !o.From.Valid() || o.Until != "" && (!o.Until.Valid() || o.Until <= o.From) {
		return record.Draft{}, fault.Invalid("wear "+code, "from %q until %q: allowed are dates YYYY-MM-DD, until after from", o.From, o.Until)
	}
	return record.Draft{Kind: KindWear, Subject: code, By: by, After: v.matter.Heads(), Open: o}, nil
}

// living returns the subject unless it is erased.
func (s *State) living(code string) (*Subject, error) {
	v, err := s.Get(code)
	if err != nil {
		return nil, err
	}
	if v.Erased {
		return nil, &fault.ConflictError{Object: "subject " + code, Already: "erased", By: v.ErasedBy, When: string(day.OfMs(v.ErasedMs))}
	}
	return v, nil
}

// Suggest returns a free code: prefix and four random digits, five once a fifth of the four-digit codes
// are taken. It does not count, so two sites that do not know of each other rarely give the same code.
func Suggest(s *State, prefix string, random io.Reader) (string, error) {
	taken := 0
	for code := range s.subjects {
		if strings.HasPrefix(code, prefix+"-") {
			taken++
		}
	}
	digits, span := 4, uint32(10_000)
	if taken > 2_000 {
		digits, span = 5, 100_000
	}
	for range 10_000 {
		var b [4]byte
		if _, err := io.ReadFull(random, b[:]); err != nil {
			return "", err
		}
		code := fmt.Sprintf("%s-%0*d", prefix, digits, binary.LittleEndian.Uint32(b[:])%span)
		if !s.Known(code) {
			return code, nil
		}
	}
	return "", fault.Invalid("code "+prefix, "no free number found")
}

func (u Use) known() bool {
	for _, v := range uses {
		if v == u {
			return true
		}
	}
	return false
}

func useNames() []string {
	out := make([]string, len(uses))
	for i, u := range uses {
		out[i] = string(u)
	}
	return out
}
