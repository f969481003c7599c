package appearance

import (
	"strings"

	"mien/asset/terms"
	"mien/catalog/day"
	"mien/catalog/fault"
	"mien/catalog/record"
)

// Entry is an item as somebody enters it.
type Entry struct {
	Kind      terms.ItemKind
	Region    string
	From      day.Day // "" means longer than anybody knows
	Until     day.Day
	Passing   bool
	Lasting   bool // with both unset the kind decides
	Clearance Clearance
	Note      string
	Sighting  record.ID
}

// Add puts an item on a subject's sheet. The caller has checked that the subject is on the roster.
func Add(s *State, by, subject string, in Entry) (record.Draft, error) {
	object := "appearance " + subject
	if _, err := terms.ParseItemKind(string(in.Kind)); err != nil {
		return record.Draft{}, err
	}
	if _, err := terms.ParseRegion(in.Region); err != nil {
		return record.Draft{}, err
	}
	if err := in.Clearance.check(); err != nil {
		return record.Draft{}, err
	}
	if in.From != "" && !in.From.Valid() || in.Until != "" && !in.Until.Valid() {
		return record.Draft{}, fault.Invalid(object, "from %q until %q: allowed is YYYY-MM-DD", in.From, in.Until)
	}
	if in.Until != "" && in.Until <= in.From {
		return record.Draft{}, fault.Invalid(object, "until %s: not after %s", in.Until, in.From)
	}
	if in.Passing && in.Lasting {
		return record.Draft{}, fault.Invalid(object, "both passing and lasting")
	}
	in.Passing = in.Passing || !in.Lasting && passing[in.Kind]
	return record.Draft{Kind: KindAdd, Subject: subject, By: by,
		Open:   AddOpen{From: in.From, Until: in.Until, Sighting: in.Sighting},
		Sealed: AddSealed{Kind: in.Kind, Region: in.Region, Passing: in.Passing, Clearance: in.Clearance, Note: in.Note}}, nil
}

func (c Clearance) check() error {
	if c == ClearUnknown {
		return nil
	}
	for _, v := range clearances {
		if v == string(c) {
			return nil
		}
	}
	return &terms.UnknownError{What: "clearance", Got: string(c), Near: clearances}
}

// End says that an item is gone from a day on.
func End(s *State, by, subject, ref string, until day.Day, why string) (record.Draft, error) {
	it, err := s.FindItem(subject, ref)
	if err != nil {
		return record.Draft{}, err
	}
	switch {
	case !until.Valid():
		return record.Draft{}, fault.Invalid("item "+it.Ref(), "until %q: allowed is YYYY-MM-DD", until)
	case it.Until != "":
		return record.Draft{}, &fault.ConflictError{Object: "item " + it.Ref(), Already: "ended", When: string(it.Until)}
	case until <= it.From:
		return record.Draft{}, fault.Invalid("item "+it.Ref(), "until %s: not after its first day %s", until, it.From)
	}
	return s.about(KindEnd, by, it, ItemOpen{Item: it.ID, Until: until}, ItemSealed{Why: why}), nil
}

// Clear records whether the rights in an item's design allow showing it.
func Clear(s *State, by, subject, ref string, c Clearance, why string) (record.Draft, error) {
	it, err := s.FindItem(subject, ref)
	if err == nil {
		err = c.check()
	}
	if err == nil && it.Clearance == c {
		err = &fault.ConflictError{Object: "item " + it.Ref(), Already: string(c)}
	}
	if err != nil {
		return record.Draft{}, err
	}
	return s.about(KindClear, by, it, ItemOpen{Item: it.ID}, ItemSealed{Clearance: c, Why: why}), nil
}

// Withdraw takes an item off the sheet that never was there.
func Withdraw(s *State, by, subject, ref, why string) (record.Draft, error) {
	it, err := s.FindItem(subject, ref)
	if err != nil {
		return record.Draft{}, err
	}
	return s.about(KindWithdraw, by, it, ItemOpen{Item: it.ID}, ItemSealed{Why: why}), nil
}

func (s *State) about(k record.Kind, by string, it Item, o ItemOpen, sealed ItemSealed) record.Draft {
	d := record.Draft{Kind: k, Subject: it.Subject, By: by, Open: o, Sealed: sealed}
	if e := s.items[it.ID]; e != nil {
		d.After = e.matter.Heads()
	}
	return d
}

// Record notes that two takes of a subject were compared.
func Record(s *State, by, subject string, o ComparisonOpen, sealed ComparisonSealed) (record.Draft, error) {
	object := "comparison " + subject
	switch {
	case o.Key.IsZero() || o.Old.IsZero() || o.New.IsZero():
		return record.Draft{}, fault.Invalid(object, "key, old and new are needed")
	case o.Verdict != "changed" && o.Verdict != "cannot-tell" && o.Verdict != "same":
		return record.Draft{}, fault.Invalid(object, "verdict %q: allowed are changed, cannot-tell, same", o.Verdict)
	case !o.OldCaptured.Valid() || !o.NewCaptured.Valid():
		return record.Draft{}, fault.Invalid(object, "captured %q and %q: allowed is YYYY-MM-DD", o.OldCaptured, o.NewCaptured)
	}
	for i, f := range sealed.Findings {
		if _, err := terms.ParseItemKind(string(f.Kind)); err != nil {
			return record.Draft{}, err
		}
		if _, err := terms.ParseRegion(f.Region); err != nil {
			return record.Draft{}, err
		}
		if f.Action != terms.Added && f.Action != terms.Removed && f.Action != terms.Altered {
			return record.Draft{}, fault.Invalid(object, "finding %d: action %q: allowed are added, removed, altered", i+1, f.Action)
		}
	}
	d := record.Draft{Kind: KindComparison, Subject: subject, By: by, Open: o, Sealed: sealed}
	if old := s.ComparisonOf(o.Old, o.New); old != nil {
		if old.Key == o.Key {
			return record.Draft{}, &fault.ConflictError{Object: object, Already: "recorded", By: old.By, When: string(day.OfMs(old.AtMs))}
		}
		d.After = []record.ID{old.ID}
	}
	return d, nil
}

// Accept says that a finding is so; it then changes the sheet.
func Accept(s *State, by, ref, why string) (record.Draft, error) {
	f, err := s.Find(ref)
	if err == nil && f.Action == terms.Removed && f.Covered {
		err = fault.Invalid("finding "+f.Ref(), "%s was covered or unseen in one of the two takes; only bare skin against bare skin can show that something is gone", f.Region)
	}
	return s.decide(KindAccept, by, f, Accepted, why, err)
}

// Dismiss sets a finding aside. It needs a reason.
func Dismiss(s *State, by, ref, why string) (record.Draft, error) {
	f, err := s.Find(ref)
	if err == nil && strings.TrimSpace(why) == "" {
		err = fault.Invalid("finding "+f.Ref(), "a reason is needed to set it aside")
	}
	return s.decide(KindSetAside, by, f, SetAside, why, err)
}

func (s *State) decide(k record.Kind, by string, f Finding, next Standing, why string, err error) (record.Draft, error) {
	if err != nil {
		return record.Draft{}, err
	}
	if f.Standing == next && !f.Carried {
		return record.Draft{}, &fault.ConflictError{Object: "finding " + f.Ref(), Already: string(next), By: f.By, When: string(day.OfMs(f.AtMs)), Why: f.Why}
	}
	d := record.Draft{Kind: k, Subject: f.Subject, By: by, After: []record.ID{f.Comparison.ID}, Open: FindingOpen{f.ID}, Sealed: Noted{why}}
	if old := s.decisions[f.ID]; old != nil {
		d.After = old.matter.Heads()
	}
	return d, nil
}
