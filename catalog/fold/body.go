// Package fold holds what every fold of records shares: reading a record's body, the causal history
// of one matter, and ids that people type.
package fold

import (
	"bytes"
	"encoding/json"
	"fmt"

	"mien/catalog/record"
)

// Problem is a record that a fold could not use as it stands. The record is kept; the state is as if
// it had not been there.
type Problem struct {
	ID      record.ID
	Kind    record.Kind
	Subject string
	Why     string
}

func (p Problem) Error() string {
	return fmt.Sprintf("record %s %s: %s", p.ID.Short(12), p.Kind, p.Why)
}

// Refuse returns a [Problem] about e.
func Refuse(e record.Entry, format string, args ...any) error {
	return &Problem{ID: e.ID, Kind: e.Kind, Subject: e.Subject, Why: fmt.Sprintf(format, args...)}
}

// Open reads the open body of e. Unknown fields are let through: a newer program may have written them.
func Open[T any](e record.Entry) (T, error) {
	var v T
	if err := json.Unmarshal(e.Open, &v); err != nil {
		return v, Refuse(e, "open body: %v", err)
	}
	return v, nil
}

// Sealed reads the sealed body of e. ok is false, without an error, when there is none or its key is
// not here.
func Sealed[T any](e record.Entry) (v T, ok bool, err error) {
	if e.NoKey || len(bytes.TrimSpace(e.Sealed)) == 0 || bytes.Equal(bytes.TrimSpace(e.Sealed), []byte("null")) {
		return v, false, nil
	}
	if err := json.Unmarshal(e.Sealed, &v); err != nil {
		return v, false, Refuse(e, "sealed body: %v", err)
	}
	return v, true, nil
}

// Both reads both bodies of e.
func Both[O, S any](e record.Entry) (open O, sealed S, err error) {
	open, err = Open[O](e)
	if err == nil {
		sealed, _, err = Sealed[S](e)
	}
	return open, sealed, err
}
