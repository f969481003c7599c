// Package ui prints results: tables, JSON documents, progress, and the one mapping from an error to an
// exit code.
package ui

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"mien/asset/terms"
	"mien/catalog"
	"mien/catalog/fault"
)

// Exit codes of the program.
const (
	Done         = 0
	Failed       = 1
	Usage        = 2
	Attention    = 3 // only with --gate: a change was found, or checks refused
	NotFound     = 4
	Damage       = 5
	NotPermitted = 6
)

// UsageError says that the command line is wrong.
type UsageError struct{ Err error }

func (e *UsageError) Error() string { return e.Err.Error() }
func (e *UsageError) Unwrap() error { return e.Err }

// Misuse returns a UsageError.
func Misuse(format string, args ...any) error { return &UsageError{fmt.Errorf(format, args...)} }

// AttentionError ends a run under --gate whose result needs a person's eye. It prints nothing.
type AttentionError struct{ Why string }

func (e *AttentionError) Error() string { return e.Why }

// hinted is an error with a next step.
type hinted struct {
	error
	hint string
}

func (e *hinted) Unwrap() error { return e.error }

// Hint adds a next step to err, printed on a line of its own.
func Hint(err error, format string, args ...any) error {
	return &hinted{err, fmt.Sprintf(format, args...)}
}

// hinter is an error of another package that knows the next step itself.
type hinter interface{ Hint() string }

// ExitCode maps err to the program's exit code.
func ExitCode(err error) int {
	var (
		usage     *UsageError
		unknown   *terms.UnknownError
		attention *AttentionError
		notFound  *fault.NotFoundError
		ambiguous *fault.AmbiguousError
		invalid   *fault.InvalidError
		denied    *fault.DeniedError
	)
	switch {
	case err == nil:
		return Done
	case errors.As(err, &usage), errors.As(err, &unknown), errors.As(err, &ambiguous), errors.As(err, &invalid):
		return Usage
	case errors.As(err, &attention):
		return Attention
	case errors.As(err, &notFound):
		return NotFound
	case catalog.IsDamage(err):
		return Damage
	case errors.As(err, &denied):
		return NotPermitted
	}
	return Failed
}

// PrintError writes err and its hint to w.
func PrintError(w io.Writer, err error) {
	var quiet *AttentionError
	if err == nil || errors.As(err, &quiet) {
		return
	}
	if errors.Is(err, context.Canceled) {
		fmt.Fprintln(w, "mien: stopped")
		return
	}
	fmt.Fprintf(w, "mien: %s\n", strings.TrimSpace(err.Error()))
	var h *hinted
	var own hinter
	switch {
	case errors.As(err, &h):
		fmt.Fprintf(w, "hint: %s\n", h.hint)
	case errors.As(err, &own) && own.Hint() != "":
		fmt.Fprintf(w, "hint: %s\n", own.Hint())
	}
}
