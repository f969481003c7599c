// Package request keeps sightings and the requests to renew a likeness: why, what is to be captured,
// who decided what, and by what evidence a request was met.
package request

import (
	"mien/asset"
	"mien/asset/terms"
	"mien/catalog/day"
	"mien/catalog/policy"
	"mien/catalog/record"
)

// Kinds of record about requests. All carry the subject.
const (
	KindSighting record.Kind = "sighting.add"
	KindRaise    record.Kind = "request.raise"
	KindJoin     record.Kind = "request.join" // more reasons or evidence for a live request
	KindApprove  record.Kind = "request.approve"
	KindDecline  record.Kind = "request.decline"
	KindDefer    record.Kind = "request.defer"
	KindWithdraw record.Kind = "request.withdraw"
	KindReopen   record.Kind = "request.reopen"
	KindPin      record.Kind = "request.pin"
	KindPlan     record.Kind = "request.plan"
	KindUnplan   record.Kind = "request.unplan"
	KindCaptured record.Kind = "request.captured"
	KindReturn   record.Kind = "request.return" // captured, and the comparison cannot tell
	KindMet      record.Kind = "request.met"
)

// SightingOpen is the open body of sighting.add.
type SightingOpen struct {
	Source terms.Source `json:"source"`
	Seen   day.Day      `json:"seen"`
	Photo  asset.Hash   `json:"photo,omitzero"`
}

// SightingSealed is its sealed body.
type SightingSealed struct {
	Kind      terms.ItemKind `json:"kind"`
	Region    string         `json:"region,omitempty"`
	Note      string         `json:"note,omitempty"`
	PhotoName string         `json:"photo_name,omitempty"`
}

// RaiseOpen is the open body of request.raise, and with Request of request.join.
type RaiseOpen struct {
	Request   record.ID       `json:"request,omitzero"`
	Reasons   []policy.Reason `json:"reasons"`
	Shots     []policy.Shot   `json:"shots,omitempty"`
	Sightings []record.ID     `json:"sightings,omitempty"`
	Findings  []record.ID     `json:"findings,omitempty"`
	Takes     []record.ID     `json:"takes,omitempty"` // of the likeness that is no longer true
}

// RaiseSealed is their sealed body.
type RaiseSealed struct {
	Regions []string `json:"regions,omitempty"`
	Note    string   `json:"note,omitempty"`
}

// EventOpen is the open body of every other record about a request.
type EventOpen struct {
	Request record.ID     `json:"request"`
	Way     Way           `json:"way,omitempty"`    // approve
	Until   day.Day       `json:"until,omitempty"`  // defer: the day on which it comes back
	Visit   record.ID     `json:"visit,omitzero"`   // plan
	Shots   []policy.Shot `json:"shots,omitempty"`  // captured, return
	Takes   []record.ID   `json:"takes,omitempty"`  // captured
	Proofs  []Proof       `json:"proofs,omitempty"` // met
	Pinned  bool          `json:"pinned,omitempty"` // pin
}

// EventSealed is their sealed body.
type EventSealed struct {
	Why string `json:"why,omitempty"`
}

// Way is how a likeness is renewed.
type Way string

// Ways.
const (
	Rescan   Way = "rescan"
	PropScan Way = "prop" // the thing is scanned without the person
	Photos   Way = "photos"
	Handwork Way = "handwork"
)

var ways = []string{string(Rescan), string(PropScan), string(Photos), string(Handwork)}

// ParseWay reads a way's name.
func ParseWay(s string) (Way, error) {
	for _, w := range ways {
		if w == s {
			return Way(s), nil
		}
	}
	return "", &terms.UnknownError{What: "way", Got: s, Near: ways}
}

// Proof is why one reason of a request no longer stands.
type Proof struct {
	Reason  policy.Reason `json:"reason"`
	What    What          `json:"what"`
	Take    record.ID     `json:"take,omitzero"`
	Finding record.ID     `json:"finding,omitzero"`
}

// What is the sort of a proof.
type What string

// Sorts of proof.
const (
	ProofCaptured What = "captured"  // the scope was captured and its checks passed
	ProofSeen     What = "seen"      // a later take shows the item that was sighted
	ProofNeverWas What = "never-was" // somebody says that it never was so
	ProofDone     What = "done"      // photos, hand work or a prop scan are finished
)

// proves says which proofs end which reason. Captured alone does not end a sighting: the item itself
// must be seen, or somebody must say that it never was.
func (p Proof) proves(w Way) bool {
	switch p.What {
	case ProofCaptured:
		return p.Reason != policy.Sighting && !p.Take.IsZero()
	case ProofSeen:
		return p.Reason == policy.Sighting && !p.Finding.IsZero()
	case ProofNeverWas:
		return p.Reason == policy.Sighting || p.Reason == policy.Finding
	case ProofDone:
		return w == PropScan || w == Photos || w == Handwork
	}
	return false
}
