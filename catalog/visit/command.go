package visit

import (
	"strings"

	"mien/catalog/day"
	"mien/catalog/fault"
	"mien/catalog/policy"
	"mien/catalog/record"
)

// Add records that the rig will be somewhere.
func Add(s *State, by string, o AddOpen, sealed AddSealed) (record.Draft, error) {
	switch {
	case !o.Date.Valid():
		return record.Draft{}, fault.Invalid("visit", "date %q: allowed is YYYY-MM-DD", o.Date)
	case o.Minutes < 1 || o.Minutes > 24*60:
		return record.Draft{}, fault.Invalid("visit", "%d minutes: allowed 1 to 1440", o.Minutes)
	case len(o.Squads) == 0:
		return record.Draft{}, fault.Invalid("visit", "no squad named")
	case o.Rig != "" && !policy.Word(o.Rig):
		return record.Draft{}, fault.Invalid("visit", "rig %q: allowed is a lower-case word with hyphens", o.Rig)
	}
	for _, q := range o.Squads {
		if !policy.Word(q) {
			return record.Draft{}, fault.Invalid("visit", "squad %q: allowed is a lower-case word with hyphens", q)
		}
	}
	return record.Draft{Kind: KindAdd, By: by, Open: o, Sealed: sealed}, nil
}

// SetPlan records a plan, which replaces the one before.
func SetPlan(s *State, by, ref string, slots []SlotOpen) (record.Draft, error) {
	v, err := s.live(ref)
	if err != nil {
		return record.Draft{}, err
	}
	end := 0
	for _, k := range slots {
		if k.Start < end || k.HalfMinutes < 1 || len(k.Shots) == 0 {
			return record.Draft{}, fault.Invalid("visit "+v.Ref(), "the turn of %s begins at half-minute %d, the one before ends at %d", k.Subject, k.Start, end)
		}
		end = k.Start + k.HalfMinutes
	}
	if end > 2*v.Minutes {
		return record.Draft{}, fault.Invalid("visit "+v.Ref(), "the plan takes %d half-minutes, the visit has %d", end, 2*v.Minutes)
	}
	return record.Draft{Kind: KindPlan, By: by, After: v.matter.Heads(), Open: PlanOpen{Visit: v.ID, Slots: slots}}, nil
}

// Drop records that a visit does not take place. It needs a reason.
func Drop(s *State, by, ref, why string) (record.Draft, error) {
	v, err := s.live(ref)
	if err == nil && strings.TrimSpace(why) == "" {
		err = fault.Invalid("visit "+v.Ref(), "a reason is needed to drop it")
	}
	if err != nil {
		return record.Draft{}, err
	}
	return record.Draft{Kind: KindDrop, By: by, After: v.matter.Heads(), Open: DropOpen{v.ID}, Sealed: Noted{why}}, nil
}

// Log records what was shot of a subject, or that the subject did not come.
func Log(s *State, by, ref, subject string, on day.Day, came Came, lines []LogOpenOne, note string) (record.Draft, error) {
	v, err := s.live(ref)
	if err != nil {
		return record.Draft{}, err
	}
	object := "visit " + v.Ref() + " " + subject
	switch {
	case !on.Valid():
		return record.Draft{}, fault.Invalid(object, "date %q: allowed is YYYY-MM-DD", on)
	case came != Present && came != NoShow && came != Refused:
		return record.Draft{}, fault.Invalid(object, "%q: allowed are present, no-show, refused", came)
	case came == Present && len(lines) == 0:
		return record.Draft{}, fault.Invalid(object, "present and nothing shot: name the shots")
	case came != Present && len(lines) > 0:
		return record.Draft{}, fault.Invalid(object, "%s and %d shots", came, len(lines))
	}
	for _, k := range lines {
		if k.Result != Shot && k.Result != Retake && k.Result != Skip {
			return record.Draft{}, fault.Invalid(object, "%s: %q: allowed are shot, retake, skipped", k.Shot, k.Result)
		}
		if !policy.Word(string(k.Part)) || !policy.Word(string(k.Pose)) || k.Number < 0 {
			return record.Draft{}, fault.Invalid(object, "shot %s number %d: part and pose are lower-case words, number 0 and up", k.Shot, k.Number)
		}
	}
	d := record.Draft{Kind: KindLog, Subject: subject, By: by, After: v.matter.Heads(),
		Open: LogOpen{Visit: v.ID, On: on, Lines: lines, Came: came}}
	if note != "" {
		d.Sealed = Noted{note}
	}
	return d, nil
}

// live returns the visit unless it was dropped.
func (s *State) live(ref string) (*Visit, error) {
	v, err := s.Find(ref)
	if err == nil && v.Dropped {
		return nil, &fault.ConflictError{Object: "visit " + v.Ref(), Already: "dropped", Why: v.Why}
	}
	return v, err
}
