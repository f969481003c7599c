package catalog

import (
	"errors"
	"fmt"

	"mien/catalog/git"
	"mien/catalog/record"
	"mien/catalog/store"
)

// ErrNoCatalog is what a [NoCatalogError] is.
var ErrNoCatalog = errors.New("no catalog here")

// NoCatalogError says that a folder holds no catalog and no remains of one.
type NoCatalogError struct {
	Dir        string
	Unfinished bool // init was cut short here
}

func (e *NoCatalogError) Error() string {
	if e.Unfinished {
		return fmt.Sprintf("catalog %q: %v: init did not finish", e.Dir, ErrNoCatalog)
	}
	return fmt.Sprintf("catalog %q: %v", e.Dir, ErrNoCatalog)
}

// Is makes the error equal to [ErrNoCatalog].
func (e *NoCatalogError) Is(target error) bool { return target == ErrNoCatalog }

// Hint returns the next step.
func (e *NoCatalogError) Hint() string {
	if e.Unfinished {
		return "mien init " + e.Dir
	}
	return "name the folder with --catalog DIR or MIEN_CATALOG, or make one with mien init DIR"
}

// DamageError says that something that a catalog must hold is missing or holds other bytes. It is never
// mistaken for a new or empty catalog.
type DamageError struct {
	Object string // what is damaged, relative to the catalog
	Fault  string
	Err    error // the cause, may be nil
}

func (e *DamageError) Error() string {
	if e.Fault == "" {
		return fmt.Sprintf("%s: %v", e.Object, e.Err)
	}
	return e.Object + ": " + e.Fault
}

func (e *DamageError) Unwrap() error { return e.Err }

// Hint returns the next step.
func (e *DamageError) Hint() string {
	return "change nothing by hand; mien verify lists all that is damaged, a copy at another site or a backup has it whole"
}

// IsDamage reports whether err says that records, keys or stored files are damaged or missing.
func IsDamage(err error) bool {
	var own *DamageError
	var records *git.DamageError
	var file *store.DamageError
	var missing *store.MissingError
	return errors.As(err, &own) || errors.As(err, &records) || errors.As(err, &file) || errors.As(err, &missing)
}

// KeyDestroyedError says that a subject was erased: nothing about it can be sealed any more.
type KeyDestroyedError struct {
	Subject string
	When    string // RFC 3339
}

func (e *KeyDestroyedError) Error() string {
	return fmt.Sprintf("subject %s: its key was destroyed on %s", e.Subject, e.When)
}

func (e *KeyDestroyedError) Unwrap() error { return record.ErrNoKey }
