package appearance

import (
	"sort"

	"mien/asset/terms"
	"mien/catalog/day"
	"mien/catalog/fault"
	"mien/catalog/fold"
	"mien/catalog/record"
)

// entered is an item that somebody wrote down.
type entered struct {
	Item
	ended     bool
	withdrawn bool
	matter    fold.Matter
}

// Item is one line of an appearance sheet.
type Item struct {
	ID        record.ID // of the record that entered it, or derived from the finding that first showed it
	Subject   string
	Kind      terms.ItemKind // "" when the key is not here
	Region    string
	From      day.Day // first day it was there, as far as known; "" means before anything is known
	NotBefore day.Day // it was not there on this day; "" when nobody knows
	Until     day.Day // first day it was gone, "" while it lasts
	Altered   []day.Day
	Passing   bool
	Clearance Clearance
	Note      string
	Evidence  []Evidence // in order of date
}

// Evidence is why an item is on the sheet.
type Evidence struct {
	What string    // "hand", "sighting", "finding"
	ID   record.ID // of the sighting or the finding, zero for "hand"
	By   string
	On   day.Day
	Said terms.Action // what it says happened
}

// Ref returns the id that people see.
func (i Item) Ref() string { return "I-" + i.ID.Short(8) }

func (s *State) applyAdd(e record.Entry) error {
	o, sealed, err := fold.Both[AddOpen, AddSealed](e)
	if err != nil {
		return err
	}
	ev := Evidence{What: "hand", By: e.By, On: day.OfMs(e.At.Ms), Said: terms.Added}
	if !o.Sighting.IsZero() {
		ev.What, ev.ID = "sighting", o.Sighting
	}
	it := &entered{Item: Item{ID: e.ID, Subject: e.Subject, Kind: sealed.Kind, Region: sealed.Region, From: o.From, Until: o.Until,
		Passing: sealed.Passing, Clearance: sealed.Clearance, Note: sealed.Note, Evidence: []Evidence{ev}}}
	it.matter.Add(e)
	s.items[e.ID] = it
	s.bySubject[e.Subject] = append(s.bySubject[e.Subject], it)
	return nil
}

// applyItem folds a record about an item. An item that a finding showed becomes an entered one, so that
// what people say about it stays with it.
func (s *State) applyItem(e record.Entry) error {
	o, sealed, err := fold.Both[ItemOpen, ItemSealed](e)
	if err != nil {
		return err
	}
	it := s.items[o.Item]
	if it == nil {
		it = &entered{Item: Item{ID: o.Item, Subject: e.Subject}}
		s.items[o.Item] = it
	}
	it.matter.Add(e)
	switch e.Kind {
	case KindEnd:
		it.Until, it.ended = o.Until, true
		it.Evidence = append(it.Evidence, Evidence{What: "hand", By: e.By, On: day.OfMs(e.At.Ms), Said: terms.Removed})
	case KindClear:
		it.Clearance = sealed.Clearance
	case KindWithdraw:
		it.withdrawn = true
	}
	return nil
}

// Items returns every item of a subject that was not withdrawn, gone ones too: what people entered,
// together with what accepted findings say. Sorted by kind, region, first day and id.
//
// An accepted finding "added" puts an item on the sheet from the day of the newer take, "removed" ends
// the item of the same kind and region unless one side was covered, "altered" marks it. If people had
// entered the item already, the finding becomes its evidence.
func (s *State) Items(subject string) []Item {
	var list []Item
	for _, it := range s.bySubject[subject] {
		if !it.withdrawn {
			c := it.Item
			c.Evidence = append([]Evidence(nil), it.Evidence...)
			list = append(list, c)
		}
	}
	for _, f := range s.Findings(subject, Accepted) {
		list = s.effect(list, f)
	}
	sort.SliceStable(list, func(i, j int) bool {
		a, b := list[i], list[j]
		switch {
		case a.Kind != b.Kind:
			return a.Kind < b.Kind
		case a.Region != b.Region:
			return a.Region < b.Region
		case a.From != b.From:
			return a.From < b.From
		}
		return a.ID.String() < b.ID.String()
	})
	return list
}

// effect applies one accepted finding to the items.
func (s *State) effect(list []Item, f Finding) []Item {
	if f.Action == terms.Removed && f.Covered {
		return list
	}
	c := f.Comparison
	ev := Evidence{What: "finding", ID: f.ID, By: f.By, On: c.NewCaptured, Said: f.Action}
	at := -1
	for i := range list {
		if list[i].Kind == f.Kind && list[i].Region == f.Region && list[i].meets(f.Action, c) {
			at = i
			break
		}
	}
	if at < 0 {
		it := Item{ID: fold.Derive(f.ID[:], 0), Subject: f.Subject, Kind: f.Kind, Region: f.Region, Passing: passing[f.Kind]}
		said := s.items[it.ID]
		if said != nil && said.withdrawn {
			return list
		}
		if f.Action == terms.Added {
			it.From, it.NotBefore = c.NewCaptured, c.OldCaptured
		}
		if said != nil {
			it.Clearance = said.Clearance
			if said.ended {
				it.Until = said.Until
			}
			it.Evidence = append(it.Evidence, said.Evidence...)
		}
		list = append(list, it)
		at = len(list) - 1
	}
	it := &list[at]
	it.Evidence = append(it.Evidence, ev)
	sort.SliceStable(it.Evidence, func(i, j int) bool { return it.Evidence[i].On < it.Evidence[j].On })
	switch f.Action {
	case terms.Added:
		if it.NotBefore == "" {
			it.NotBefore = c.OldCaptured
		}
	case terms.Removed:
		if it.Until == "" {
			it.Until = c.NewCaptured
		}
	case terms.Altered:
		it.Altered = append(it.Altered, c.NewCaptured)
	}
	return list
}

// meets reports whether the item can be the one that a comparison saw.
func (i Item) meets(a terms.Action, c *Comparison) bool {
	switch a {
	case terms.Added: // came between the two takes
		return (i.From == "" || i.From > c.OldCaptured) && i.From <= c.NewCaptured && (i.Until == "" || i.Until > c.NewCaptured)
	case terms.Removed: // was there with the older take, went before the newer or is not known to have gone
		return i.From <= c.OldCaptured && (i.Until == "" || i.Until > c.OldCaptured && i.Until <= c.NewCaptured)
	}
	return i.From <= c.NewCaptured && (i.Until == "" || i.Until > c.OldCaptured)
}

// Sheet returns the items of a subject that were there on d.
func (s *State) Sheet(subject string, d day.Day) []Item {
	var out []Item
	for _, it := range s.Items(subject) {
		if d.Within(it.From, it.Until) {
			out = append(out, it)
		}
	}
	return out
}

// FindItem returns the item of a subject whose id begins with ref ("I-7k2m9q").
func (s *State) FindItem(subject, ref string) (Item, error) {
	items := s.Items(subject)
	ids := make([]record.ID, len(items))
	for i, it := range items {
		ids[i] = it.ID
	}
	id, err := fold.Find("item", "I-", ref, ids)
	if err != nil {
		return Item{}, err
	}
	for _, it := range items {
		if it.ID == id {
			return it, nil
		}
	}
	return Item{}, &fault.NotFoundError{What: "item", ID: ref}
}
