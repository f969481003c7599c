// Package fault holds the errors that commands on a catalog return and callers branch on.
package fault

import (
	"fmt"
	"strings"
)

// NotFoundError says that a named thing is not in the catalog.
type NotFoundError struct {
	What string   // "subject", "request", ...
	ID   string   // as the user wrote it
	Near []string // names that come near, may be empty
}

func (e *NotFoundError) Error() string {
	s := fmt.Sprintf("no such %s: %q", e.What, e.ID)
	if len(e.Near) > 0 {
		s += ", nearest: " + strings.Join(e.Near, ", ")
	}
	return s
}

// AmbiguousError says that a shortened id fits several things.
type AmbiguousError struct {
	What string
	ID   string
	Fits []string
}

func (e *AmbiguousError) Error() string {
	return fmt.Sprintf("%s %q: fits %s; give more letters", e.What, e.ID, strings.Join(e.Fits, ", "))
}

// ConflictError says that a thing is already in a state that the command does not start from,
// who put it there and when.
type ConflictError struct {
	Object  string // "request R-7k2m9q"
	Already string // "declined"
	By      string // a person's code, may be ""
	When    string // a date, may be ""
	Why     string // the reason they gave, may be ""
	Allowed string // what would be allowed, may be ""
}

func (e *ConflictError) Error() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: already %s", e.Object, e.Already)
	if e.By != "" {
		fmt.Fprintf(&b, " by %s", e.By)
	}
	if e.When != "" {
		fmt.Fprintf(&b, " on %s", e.When)
	}
	if e.Why != "" {
		fmt.Fprintf(&b, ": %q", e.Why)
	}
	if e.Allowed != "" {
		fmt.Fprintf(&b, "; allowed: %s", e.Allowed)
	}
	return b.String()
}

// InvalidError says that an argument cannot be taken: object, fault, got and allowed.
type InvalidError struct {
	Object string
	Fault  string
}

func (e *InvalidError) Error() string { return e.Object + ": " + e.Fault }

// Invalid returns an [InvalidError] with a formatted fault.
func Invalid(object, format string, args ...any) error {
	return &InvalidError{Object: object, Fault: fmt.Sprintf(format, args...)}
}

// DeniedError says that a person may not do something: role, consent or signature.
type DeniedError struct {
	Who    string // a person's code
	Action string
	Why    string
}

func (e *DeniedError) Error() string {
	return fmt.Sprintf("%s by %s: not permitted: %s", e.Action, e.Who, e.Why)
}
