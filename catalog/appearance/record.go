// Package appearance keeps what a subject looks like over time: the appearance sheet, the comparisons
// that were made and the findings that came out of them.
package appearance

import (
	"mien/asset"
	"mien/asset/terms"
	"mien/catalog/day"
	"mien/catalog/policy"
	"mien/catalog/record"
)

// Kinds of record about appearance. All carry the subject.
const (
	KindAdd        record.Kind = "appearance.add"
	KindEnd        record.Kind = "appearance.end"
	KindClear      record.Kind = "appearance.clear"
	KindWithdraw   record.Kind = "appearance.withdraw"
	KindComparison record.Kind = "comparison.done"
	KindAccept     record.Kind = "finding.accept"
	KindSetAside   record.Kind = "finding.set-aside"
)

// AddOpen is the open body of appearance.add.
type AddOpen struct {
	From     day.Day   `json:"from,omitempty"`  // first day it was there; "" means longer than anybody knows
	Until    day.Day   `json:"until,omitempty"` // first day it was gone
	Sighting record.ID `json:"sighting,omitzero"`
}

// AddSealed is the sealed body of appearance.add.
type AddSealed struct {
	Kind      terms.ItemKind `json:"kind"`
	Region    string         `json:"region"`
	Passing   bool           `json:"passing,omitempty"`
	Clearance Clearance      `json:"clearance,omitempty"`
	Note      string         `json:"note,omitempty"`
}

// ItemOpen is the open body of appearance.end, appearance.clear and appearance.withdraw.
type ItemOpen struct {
	Item  record.ID `json:"item"`
	Until day.Day   `json:"until,omitempty"`
}

// ItemSealed is their sealed body.
type ItemSealed struct {
	Clearance Clearance `json:"clearance,omitempty"`
	Why       string    `json:"why,omitempty"`
}

// ComparisonOpen is the open body of comparison.done.
type ComparisonOpen struct {
	Key         asset.Hash `json:"key"` // BLAKE3 of old, new, settings and engine
	Old         record.ID  `json:"old"` // takes
	New         record.ID  `json:"new"`
	OldCaptured day.Day    `json:"old_captured"`
	NewCaptured day.Day    `json:"new_captured"`
	policy.Shot
	Verdict string     `json:"verdict"` // changed, cannot-tell, same
	Engine  string     `json:"engine"`
	Result  asset.Hash `json:"result,omitzero"` // the whole result document
}

// ComparisonSealed is its sealed body.
type ComparisonSealed struct {
	Findings   []FindingBody `json:"findings"`
	Spots      []SpotBody    `json:"spots,omitempty"`
	Reasons    []string      `json:"reasons,omitempty"` // why a verdict is cannot-tell
	Causes     []string      `json:"causes,omitempty"`
	Conclusion string        `json:"conclusion,omitempty"`
}

// FindingBody is one finding as a comparison gives it.
type FindingBody struct {
	Kind       terms.ItemKind `json:"kind"`
	Action     terms.Action   `json:"action"`
	Region     string         `json:"region"`
	Confidence int            `json:"confidence_millionths"`
	AreaMM2    int            `json:"area_mm2"`
	Covered    bool           `json:"covered,omitempty"` // one side was covered or unseen: it can end nothing
	Because    []string       `json:"because,omitempty"`
	RuledOut   []string       `json:"ruled_out,omitempty"`
	Spots      []string       `json:"spots,omitempty"`
}

// SpotBody sums up one spot; the whole is in the result document.
type SpotBody struct {
	ID      string   `json:"id"`
	Layer   string   `json:"layer"`
	Regions []string `json:"regions"` // largest share first
	AreaMM2 int      `json:"area_mm2"`
	Peak    int      `json:"peak_thousandths"` // of a millimetre, or of a CIEDE2000 unit
}

// FindingOpen is the open body of finding.accept and finding.set-aside.
type FindingOpen struct {
	Finding record.ID `json:"finding"`
}

// Noted is a sealed body that holds only a reason.
type Noted struct {
	Why string `json:"why,omitempty"`
}

// Clearance says whether the rights in an item's design allow showing it.
type Clearance string

// Clearances.
const (
	ClearUnknown  Clearance = ""
	Cleared       Clearance = "cleared"
	Refused       Clearance = "refused"
	ClearPending  Clearance = "asked"
	ClearNeedless Clearance = "not-needed"
)

var clearances = []string{string(Cleared), string(Refused), string(ClearPending), string(ClearNeedless)}

// passing says which kinds of item come and go unless somebody says otherwise. Common practice, no source.
var passing = map[terms.ItemKind]bool{
	terms.Hair: true, terms.FacialHair: true, terms.Accessory: true, terms.Kit: true, terms.Footwear: true, terms.SkinTone: true,
}
