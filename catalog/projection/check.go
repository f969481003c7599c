package projection

import (
	"mien/catalog/day"
	"mien/catalog/fault"
	"mien/catalog/record"
	"mien/catalog/roster"
)

// Check says why a draft must not be recorded: its subject is neither a person nor a prop of the
// roster, or was erased. A record about an erased subject would be sealed under a new key and keep
// what the erasure has destroyed.
//
// It returns a [fault.NotFoundError] or a [fault.ConflictError].
func (s *State) Check(d record.Draft) error {
	if d.Subject == "" || d.Kind == roster.KindAdd || d.Kind == roster.KindProp {
		return nil
	}
	v, err := s.Roster.Get(d.Subject)
	if err != nil {
		if s.Roster.Known(d.Subject) {
			return nil
		}
		return err
	}
	if v.Erased && (d.Kind != roster.KindHold || d.Sealed != nil) {
		return &fault.ConflictError{Object: "subject " + v.Code, Already: "erased", By: v.ErasedBy, When: string(day.OfMs(v.ErasedMs))}
	}
	return nil
}
