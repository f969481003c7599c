// Package record defines the immutable facts that a catalog is made of: their fields, canonical bytes,
// ids, order and sealing. State is always a fold of records.
package record

import "encoding/json"

// Kind names what a record states, for example "subject.add" or "request.decide".
type Kind string

// ID is the BLAKE3-256 digest of a record's canonical bytes.
type ID [32]byte

// Stamp is a hybrid logical clock reading. Order of the fold: (Ms, N, Site), then id.
type Stamp struct {
	Ms   int64  `json:"ms"` // milliseconds since 1970 UTC
	N    int64  `json:"n"`
	Site string `json:"site"`
}

// Entry is one record as a fold sees it: parsed, with its sealed body opened where the key is here.
type Entry struct {
	ID      ID
	Schema  int64
	Kind    Kind
	Subject string // the subject's code, "" for records about no one subject
	At      Stamp
	By      string // a person's code
	After   []ID   // records on the same matter that the author had seen
	Open    json.RawMessage
	Sealed  json.RawMessage // decrypted; nil when there was none or the key is not here
	NoKey   bool            // a sealed body exists and cannot be opened
}

// Draft is what a command wants recorded. The catalog adds time, id and sealing.
type Draft struct {
	Kind    Kind
	Subject string
	By      string
	After   []ID
	Open    any // marshalled to JSON: codes, enums, dates and integers only
	Sealed  any // marshalled and encrypted under the subject's key; nil for none
}
