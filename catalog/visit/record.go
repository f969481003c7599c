// Package visit plans the visits of the rig and keeps the log of what was really captured.
package visit

import (
	"mien/catalog/day"
	"mien/catalog/policy"
	"mien/catalog/record"
)

// Kinds of record about visits. A log entry carries the subject; the others are about no one subject.
const (
	KindAdd  record.Kind = "visit.add"
	KindPlan record.Kind = "visit.plan"
	KindDrop record.Kind = "visit.drop"
	KindLog  record.Kind = "visit.log"
)

// AddOpen is the open body of visit.add.
type AddOpen struct {
	Date    day.Day  `json:"date"`
	Squads  []string `json:"squads"`
	Minutes int      `json:"minutes"` // from arrival to departure of the rig
	Rig     string   `json:"rig,omitempty"`
}

// AddSealed is its sealed body.
type AddSealed struct {
	Place string `json:"place,omitempty"`
	Note  string `json:"note,omitempty"`
}

// PlanOpen is the open body of visit.plan: the whole plan, replacing the one before.
type PlanOpen struct {
	Visit record.ID  `json:"visit"`
	Slots []SlotOpen `json:"slots"`
}

// SlotOpen is one subject's turn.
type SlotOpen struct {
	Subject     string        `json:"subject"`
	Start       int           `json:"start_half_minutes"` // after the arrival of the rig
	HalfMinutes int           `json:"half_minutes"`
	Shots       []policy.Shot `json:"shots"`
	Requests    []record.ID   `json:"requests"`
}

// DropOpen is the open body of visit.drop: the visit does not take place.
type DropOpen struct {
	Visit record.ID `json:"visit"`
}

// LogOpen is the open body of visit.log: what was shot of one subject, in the order it was shot.
type LogOpen struct {
	Visit record.ID    `json:"visit"`
	On    day.Day      `json:"on"`
	Lines []LogOpenOne `json:"lines,omitempty"`
	Came  Came         `json:"came"`
}

// LogOpenOne is one shot of a log.
type LogOpenOne struct {
	policy.Shot
	Number int    `json:"number"`
	Result Result `json:"result"`
}

// Noted is a sealed body that holds only a note.
type Noted struct {
	Note string `json:"note,omitempty"`
}

// Came says whether a subject came.
type Came string

// Whether a subject came.
const (
	Present Came = "present"
	NoShow  Came = "no-show"
	Refused Came = "refused"
)

// Result of one shot.
type Result string

// Results.
const (
	Shot   Result = "shot"
	Retake Result = "retake" // to be shot again
	Skip   Result = "skipped"
)
