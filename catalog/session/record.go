// Package session keeps what was captured: intakes, takes and what became of them, generations, the
// likeness as of a date, and the rigs.
package session

import (
	"mien/asset"
	"mien/catalog/day"
	"mien/catalog/policy"
	"mien/catalog/record"
)

// Kinds of record about captures. An intake and a judgement carry the subject or prop they are about; a
// refile carries the subject the take belongs to from then on.
const (
	KindIntake   record.Kind = "intake.add"
	KindAccept   record.Kind = "take.accept"
	KindReject   record.Kind = "take.reject"
	KindChoose   record.Kind = "take.choose"
	KindRefile   record.Kind = "take.refile"
	KindWithdraw record.Kind = "take.withdraw"
	KindRig      record.Kind = "rig.add"
	KindRigNote  record.Kind = "rig.note"
)

// File is one file of a take as it lies in the store.
type File struct {
	Hash    asset.Hash    `json:"hash"`
	Size    int64         `json:"size"`
	Kind    asset.Kind    `json:"kind"`
	Channel asset.Channel `json:"channel,omitempty"`
	Light   asset.Light   `json:"light,omitempty"`
	Tile    int           `json:"tile,omitempty"` // 1001 and up, 0 for a single atlas
}

// IntakeOpen is the open body of intake.add. It is written after every file it names is durable.
type IntakeOpen struct {
	Session  string     `json:"session"`
	Captured day.Day    `json:"captured"`
	Rig      string     `json:"rig,omitempty"`
	Site     string     `json:"site,omitempty"`
	Visit    string     `json:"visit,omitempty"` // whole id of the visit
	Takes    []TakeOpen `json:"takes"`
}

// TakeOpen is one take of an intake.
type TakeOpen struct {
	policy.Shot
	Number   int         `json:"number"`
	Stage    asset.Stage `json:"stage"`
	Held     []string    `json:"held,omitempty"`     // codes of the checks that hold it back
	Accepted bool        `json:"accepted,omitempty"` // passed every check, accepted by policy
	Files    []File      `json:"files"`
}

// IntakeSealed is the sealed body of intake.add; Takes is parallel to the open one.
type IntakeSealed struct {
	Folder string       `json:"folder,omitempty"`
	Note   string       `json:"note,omitempty"`
	Takes  []TakeSealed `json:"takes"`
}

// TakeSealed is what describes one take; Names is parallel to its files.
type TakeSealed struct {
	Names  []string `json:"names"`
	Checks []Check  `json:"checks,omitempty"`
}

// Check is what a quality check said about a take.
type Check struct {
	Code     string `json:"code"`
	Severity string `json:"severity"` // stop, warn, note
	File     string `json:"file,omitempty"`
	Message  string `json:"message"`
}

// JudgeOpen is the open body of take.accept, take.reject, take.choose and take.withdraw.
type JudgeOpen struct {
	Take record.ID `json:"take"`
}

// RefileOpen is the open body of take.refile.
type RefileOpen struct {
	Take record.ID `json:"take"`
	policy.Shot
	Number int `json:"number"`
}

// JudgeSealed is the sealed body of every judgement. A refile carries the take's names and checks
// again, since the former subject's key may be destroyed.
type JudgeSealed struct {
	Why string `json:"why,omitempty"`
	*TakeSealed
}

// RigOpen is the open body of rig.add and rig.note.
type RigOpen struct {
	Rig    string  `json:"rig"`
	From   day.Day `json:"from"`             // a rig.note opens a noise epoch on this day
	Change string  `json:"change,omitempty"` // calibration, cameras, light, solver, other
}

// RigSealed is their sealed body.
type RigSealed struct {
	Note string `json:"note,omitempty"`
}
