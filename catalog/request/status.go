package request

import (
	"mien/catalog/day"
	"mien/catalog/record"
)

// Status is how a request stands.
type Status string

// Statuses.
const (
	Open      Status = "open"
	Approved  Status = "approved"
	Declined  Status = "declined"
	Deferred  Status = "deferred"
	Planned   Status = "planned"
	Captured  Status = "captured"
	Met       Status = "met"
	Withdrawn Status = "withdrawn"
)

// Statuses lists all statuses in the order in which they are shown.
func Statuses() []Status {
	return []Status{Open, Approved, Planned, Captured, Deferred, Declined, Met, Withdrawn}
}

// Live reports whether a request in s still waits for something.
func (s Status) Live() bool { return s != Declined && s != Met && s != Withdrawn }

// step is one row of the table of what leads where.
type step struct {
	from []Status
	to   Status
	fact bool // facts beat decisions that did not know of them
}

// steps is the whole state machine. A captured record leads to captured only when nothing of the scope
// is left; else the status stays.
var steps = map[record.Kind]step{
	KindApprove:  {from: []Status{Open, Approved, Deferred}, to: Approved},
	KindDecline:  {from: []Status{Open, Approved, Deferred, Planned}, to: Declined},
	KindDefer:    {from: []Status{Open, Approved, Deferred, Planned}, to: Deferred},
	KindWithdraw: {from: []Status{Open, Approved, Deferred, Planned}, to: Withdrawn},
	KindReopen:   {from: []Status{Declined, Deferred, Withdrawn, Met}, to: Open},
	KindPlan:     {from: []Status{Approved, Planned}, to: Planned},
	KindUnplan:   {from: []Status{Planned}, to: Approved},
	KindReturn:   {from: []Status{Captured}, to: Approved},
	KindCaptured: {from: []Status{Open, Approved, Deferred, Planned, Captured}, to: Captured, fact: true},
	KindMet:      {from: []Status{Open, Approved, Deferred, Planned, Captured}, to: Met, fact: true},
}

func (s step) starts(from Status) bool {
	for _, f := range s.from {
		if f == from {
			return true
		}
	}
	return false
}

// On returns how a request stands on d: a deferred one is open again from the day it was deferred to.
func (r *Request) On(d day.Day) Status {
	if r.Status == Deferred && r.Until != "" && r.Until <= d {
		return Open
	}
	return r.Status
}
