package roster

import (
	"sort"

	"mien/catalog/day"
	"mien/catalog/fold"
	"mien/catalog/record"
)

// Apply folds one record. A record whose key is not here keeps what stands in the open.
func (s *State) Apply(e record.Entry) error {
	switch e.Kind {
	case KindProp:
		return s.applyProp(e)
	case KindAdd, KindSet, KindConsent, KindHold, KindDisclosed, KindErase, KindWear:
	default:
		return nil
	}
	v := s.subjects[e.Subject]
	if v == nil {
		if e.Kind != KindAdd {
			return fold.Refuse(e, "no such subject: %q", e.Subject)
		}
		v = &Subject{Code: e.Subject, SinceMs: e.At.Ms, added: e.ID}
		s.subjects[e.Subject] = v
	}
	v.matter.Add(e)
	if e.NoKey && !v.Erased {
		v.NoKey = true
	}
	switch e.Kind {
	case KindAdd:
		return v.applyAdd(e)
	case KindSet:
		return v.applySet(e)
	case KindConsent:
		o, n, err := fold.Both[ConsentOpen, Noted](e)
		if err == nil {
			v.Consents = append(v.Consents, Consent{ConsentOpen: o, By: e.By, AtMs: e.At.Ms, Note: n.Note})
		}
		return err
	case KindHold:
		o, err := fold.Open[HoldOpen](e)
		v.Hold = o.On
		return err
	case KindWear:
		o, err := fold.Open[WearOpen](e)
		if err == nil {
			v.wear(Wear{o, e.ID})
		}
		return err
	case KindErase:
		v.Erased, v.ErasedBy, v.ErasedMs = true, e.By, e.At.Ms
		v.Name, v.Born, v.Note, v.NoKey = "", "", "", false
		for i := range v.Consents {
			v.Consents[i].Note = ""
		}
	}
	return nil
}

func (s *State) applyProp(e record.Entry) error {
	o, sealed, err := fold.Both[PropOpen, PropSealed](e)
	if err != nil {
		return err
	}
	p := s.props[e.Subject]
	if p == nil {
		p = &Prop{Code: e.Subject}
		s.props[e.Subject] = p
	}
	p.matter.Add(e)
	p.PropOpen, p.Model, p.Colour = o, sealed.Model, sealed.Colour
	return nil
}

func (v *Subject) applyAdd(e record.Entry) error {
	o, sealed, err := fold.Both[AddOpen, Sealed](e)
	if err != nil {
		return err
	}
	if v.added != e.ID {
		v.Doubled = true
		return fold.Refuse(e, "code %s was given twice; the earlier record holds", v.Code)
	}
	v.Tier = o.Tier
	if o.Squad != "" {
		v.join(o.Squad, o.From)
	}
	v.describe(sealed)
	return nil
}

func (v *Subject) applySet(e record.Entry) error {
	o, sealed, err := fold.Both[SetOpen, Sealed](e)
	if err != nil {
		return err
	}
	if o.Tier != 0 {
		v.Tier = o.Tier
	}
	if o.Squad != nil {
		from := o.From
		if from == "" {
			from = day.OfMs(e.At.Ms)
		}
		v.join(*o.Squad, from)
	}
	v.describe(sealed)
	return nil
}

func (v *Subject) describe(b Sealed) {
	if v.Erased {
		return
	}
	if b.Name != "" {
		v.Name = b.Name
	}
	if b.Born != "" {
		v.Born = b.Born
	}
	if b.Note != "" {
		v.Note = b.Note
	}
}

// join puts v into squad from a day on; "" means into none. Every stay ends where the next begins.
func (v *Subject) join(squad string, from day.Day) {
	all := v.Squads[:0:0]
	for _, m := range v.Squads {
		if m.From != from {
			all = append(all, m)
		}
	}
	all = append(all, Membership{Squad: squad, From: from})
	sort.SliceStable(all, func(i, j int) bool { return all[i].From < all[j].From })
	for i := range all {
		all[i].Until = ""
		if i+1 < len(all) {
			all[i].Until = all[i+1].From
		}
	}
	v.Squads = all
}

// wear records a prop. A later record about the same prop, occasion and first day replaces the earlier.
func (v *Subject) wear(w Wear) {
	for i, o := range v.Wears {
		if o.Prop == w.Prop && o.Context == w.Context && o.From == w.From {
			v.Wears[i] = w
			return
		}
	}
	v.Wears = append(v.Wears, w)
}
