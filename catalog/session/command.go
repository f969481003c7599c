package session

import (
	"fmt"
	"strings"

	"mien/asset"
	"mien/catalog/day"
	"mien/catalog/fault"
	"mien/catalog/policy"
	"mien/catalog/record"
)

// Name returns a session's name: date, letter and site, "2026-10-03a-road".
func Name(d day.Day, letter byte, site string) string {
	return fmt.Sprintf("%s%c-%s", d, letter, site)
}

// ParseName takes a session's name apart.
func ParseName(s string) (d day.Day, letter byte, site string, err error) {
	bad := fault.Invalid("session", "%q: allowed is date, letter and site, such as 2026-10-03a-road", s)
	if len(s) < 13 || s[11] != '-' {
		return "", 0, "", bad
	}
	d, err = day.Parse(s[:10])
	if err != nil || s[10] < 'a' || s[10] > 'z' || !policy.Word(s[12:]) {
		return "", 0, "", bad
	}
	return d, s[10], s[12:], nil
}

// Next returns the name of a subject's next session on d at site: the first letter that it has no take
// under yet.
func (s *State) Next(subject string, d day.Day, site string) (string, error) {
	for letter := byte('a'); letter <= 'z'; letter++ {
		name := Name(d, letter, site)
		if s.intakes[visitKey{subject, name}] == nil {
			return name, nil
		}
	}
	return "", fault.Invalid("session "+subject, "all letters of %s at %s are taken", d, site)
}

// Intake records the takes of one session of a subject. Every file must be durable in the store.
func Intake(s *State, by, subject string, o IntakeOpen, sealed IntakeSealed) (record.Draft, error) {
	object := "intake " + subject
	d, _, _, err := ParseName(o.Session)
	if err != nil {
		return record.Draft{}, err
	}
	if !o.Captured.Valid() || o.Captured != d {
		return record.Draft{}, fault.Invalid(object, "captured on %q, session %s says %s", o.Captured, o.Session, d)
	}
	if len(o.Takes) == 0 || len(o.Takes) != len(sealed.Takes) {
		return record.Draft{}, fault.Invalid(object, "%d takes and %d descriptions, needed is one for each take", len(o.Takes), len(sealed.Takes))
	}
	type key struct {
		policy.Shot
		number int
		stage  asset.Stage
	}
	seen := map[key]bool{}
	for i, t := range o.Takes {
		name := fmt.Sprintf("%s take %d at stage %s", t.Shot, t.Number, t.Stage)
		switch {
		case !policy.Word(string(t.Part)) || !policy.Word(string(t.Pose)):
			return record.Draft{}, fault.Invalid(object, "%s: part and pose are lower-case words with hyphens", name)
		case t.Number < 1 || t.Number > 9999:
			return record.Draft{}, fault.Invalid(object, "%s: number %d, allowed 1 to 9999", t.Shot, t.Number)
		case t.Stage.Rank() < 0:
			return record.Draft{}, fault.Invalid(object, "%s: allowed stages are raw, cleaned, fitted, retouched", name)
		case len(t.Files) == 0:
			return record.Draft{}, fault.Invalid(object, "%s: no files", name)
		case len(t.Files) != len(sealed.Takes[i].Names):
			return record.Draft{}, fault.Invalid(object, "%s: %d files and %d names", name, len(t.Files), len(sealed.Takes[i].Names))
		case t.Accepted && len(t.Held) > 0:
			return record.Draft{}, fault.Invalid(object, "%s: both accepted and held back by %s", name, strings.Join(t.Held, ", "))
		case seen[key{t.Shot, t.Number, t.Stage}]:
			return record.Draft{}, fault.Invalid(object, "%s stands twice", name)
		}
		seen[key{t.Shot, t.Number, t.Stage}] = true
		if old := s.Twin(subject, o.Session, t); old != nil {
			return record.Draft{}, &fault.ConflictError{Object: object + ": " + name, Already: "in the catalog as " + old.Ref(),
				By: old.By, When: string(day.OfMs(old.AtMs))}
		}
	}
	return record.Draft{Kind: KindIntake, Subject: subject, By: by, After: s.intake(subject, o.Session).Heads(), Open: o, Sealed: sealed}, nil
}

// Twin returns the take of the same session, shot, number and stage that holds the very same files, or
// nil. A withdrawn take is no twin.
func (s *State) Twin(subject, session string, t TakeOpen) *Take {
	if len(t.Files) == 0 {
		return nil
	}
	for _, old := range s.byFile[t.Files[0].Hash] {
		if old.Subject == subject && old.Session == session && old.Shot == t.Shot && old.Number == t.Number &&
			old.Stage == t.Stage && old.Standing != Withdrawn && sameFiles(old.Files, t.Files) {
			return old
		}
	}
	return nil
}

func sameFiles(a, b []File) bool {
	if len(a) != len(b) {
		return false
	}
	in := map[asset.Hash]int{}
	for _, f := range a {
		in[f.Hash]++
	}
	for _, f := range b {
		in[f.Hash]--
		if in[f.Hash] < 0 {
			return false
		}
	}
	return true
}

// Accept makes a take count for the likeness. A held take needs a reason.
func Accept(s *State, by, ref, why string) (record.Draft, error) {
	t, err := s.judgeable(ref, Accepted)
	if err == nil && t.Standing == Held && strings.TrimSpace(why) == "" {
		err = fault.Invalid("take "+t.Ref(), "held back by %s; a reason is needed to accept it", strings.Join(t.Held, ", "))
	}
	return s.judge(KindAccept, by, t, why, err)
}

// Reject takes a take out of use; what was processed from it goes with it.
func Reject(s *State, by, ref, why string) (record.Draft, error) {
	t, err := s.judgeable(ref, Rejected)
	return s.judge(KindReject, by, t, why, err)
}

// Withdraw says that a take should not have come in. Its files stay until nothing names them.
func Withdraw(s *State, by, ref, why string) (record.Draft, error) {
	t, err := s.judgeable(ref, Withdrawn)
	return s.judge(KindWithdraw, by, t, why, err)
}

// Choose makes a take's attempt the chosen one of its shot and session, and accepts it.
func Choose(s *State, by, ref, why string) (record.Draft, error) {
	t, err := s.Find(ref)
	if err == nil && !t.usable() {
		err = t.conflict("accept it first")
	}
	if err == nil {
		if n, ok := s.chosen[t.group()]; ok && n == t.Number {
			err = &fault.ConflictError{Object: "take " + t.Ref(), Already: "the chosen one"}
		}
	}
	return s.judge(KindChoose, by, t, why, err)
}

// judgeable returns the take unless it already stands so or was withdrawn.
func (s *State) judgeable(ref string, next Standing) (*Take, error) {
	t, err := s.Find(ref)
	if err != nil {
		return nil, err
	}
	if t.Standing == next || t.Standing == Withdrawn {
		return nil, t.conflict("")
	}
	return t, nil
}

func (t *Take) conflict(allowed string) error {
	e := &fault.ConflictError{Object: "take " + t.Ref(), Already: string(t.Standing), By: t.By, Why: t.Why, Allowed: allowed}
	if t.JudgedMs != 0 {
		e.When = string(day.OfMs(t.JudgedMs))
	}
	return e
}

func (s *State) judge(k record.Kind, by string, t *Take, why string, err error) (record.Draft, error) {
	if err != nil {
		return record.Draft{}, err
	}
	return record.Draft{Kind: k, Subject: t.Subject, By: by, After: t.matter.Heads(), Open: JudgeOpen{t.ID}, Sealed: JudgeSealed{Why: why}}, nil
}

// Refile moves a take to another subject, shot or number. number 0 takes the first that is free there.
// The caller has checked that the subject is on the roster.
func Refile(s *State, by, ref, subject string, shot policy.Shot, number int, why string) (record.Draft, error) {
	t, err := s.Find(ref)
	if err != nil {
		return record.Draft{}, err
	}
	if subject == "" {
		subject = t.Subject
	}
	if shot == (policy.Shot{}) {
		shot = t.Shot
	}
	taken := map[int]bool{}
	for _, o := range s.bySubject[subject] {
		if o != t && o.Session == t.Session && o.Shot == shot && o.Stage == t.Stage && o.Standing != Withdrawn {
			taken[o.Number] = true
		}
	}
	switch {
	case t.Standing == Withdrawn:
		return record.Draft{}, t.conflict("")
	case number == 0 && !taken[t.Number]:
		number = t.Number
	case number == 0:
		for number = 1; taken[number]; number++ {
		}
	case taken[number]:
		return record.Draft{}, fault.Invalid("take "+t.Ref(), "%s %s has a take %d already", subject, shot, number)
	}
	if subject == t.Subject && shot == t.Shot && number == t.Number {
		return record.Draft{}, fault.Invalid("take "+t.Ref(), "is filed under %s %s take %d already", subject, shot, number)
	}
	return record.Draft{Kind: KindRefile, Subject: subject, By: by, After: t.matter.Heads(),
		Open:   RefileOpen{Take: t.ID, Shot: shot, Number: number},
		Sealed: JudgeSealed{Why: why, TakeSealed: &TakeSealed{Names: t.Names, Checks: t.Checks}}}, nil
}
