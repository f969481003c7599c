package record

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
)

// Schema is the version of the record form that this program writes. It reads newer ones: what it does
// not know is kept byte by byte and left alone.
const Schema = 1

// MaxSize bounds a record in bytes. An intake of thousands of files stays well below it.
const MaxSize = 16 << 20

// Encode returns the canonical bytes of a draft stamped at, and their id. The sealed body, if any, is
// encrypted by sealer with all other fields as authenticated text.
//
// It returns an error naming the member if a body holds a fraction, text that is not UTF-8, or is not a JSON
// object, and if kind, subject, author or stamp are not in the form that [ValidCode] and [Path] demand.
func Encode(d Draft, at Stamp, sealer Sealer) ([]byte, ID, error) {
	text, err := encode(d, at, sealer)
	if err != nil {
		return nil, ID{}, fmt.Errorf("record %s: %w", d.Kind, err)
	}
	return text, IDOf(text), nil
}

func encode(d Draft, at Stamp, sealer Sealer) ([]byte, error) {
	if !validKind(string(d.Kind)) {
		return nil, fmt.Errorf("kind %q, allowed are lower-case words joined by dots", d.Kind)
	}
	for _, code := range [...]string{d.Subject, d.By} {
		if code != "" && !ValidCode(code) {
			return nil, fmt.Errorf("code %q, allowed are 1 to %d letters a to z, digits and inner hyphens", code, maxCode)
		}
	}
	if err := at.check(); err != nil {
		return nil, err
	}
	open, err := body("open", d.Open)
	if err != nil {
		return nil, err
	}
	if open == nil {
		open = []byte("{}")
	}
	sealed, err := body("sealed", d.Sealed)
	if err != nil {
		return nil, err
	}

	head := append(make([]byte, 0, 512+len(open)+2*len(sealed)), `{"after":[`...)
	for i, id := range d.After {
		if i > 0 {
			head = append(head, ',')
		}
		head = append(head, '"')
		head = base32Lower.AppendEncode(head, id[:])
		head = append(head, '"')
	}
	head = append(head, `],"at":{"ms":`...)
	head = strconv.AppendInt(head, at.Ms, 10)
	head = append(head, `,"n":`...)
	head = strconv.AppendInt(head, at.N, 10)
	head = append(head, `,"site":`...)
	head = appendString(head, at.Site)
	head = append(head, `},"by":`...)
	head = appendString(head, d.By)
	head = append(head, `,"kind":`...)
	head = appendString(head, string(d.Kind))
	head = append(head, `,"open":`...)
	head = append(head, open...)
	head = append(head, `,"schema":`...)
	head = strconv.AppendInt(head, Schema, 10)
	tail := append(appendString([]byte(`,"subject":`), d.Subject), '}')

	if sealed != nil {
		box, err := sealer.Seal(d.Subject, append(bytes.Clone(head), tail...), sealed)
		if err != nil {
			return nil, err
		}
		head = appendBox(append(head, `,"sealed":`...), box)
	}
	text := append(head, tail...)
	if len(text) > MaxSize {
		return nil, fmt.Errorf("%d bytes, allowed %d", len(text), MaxSize)
	}
	return text, nil
}

// body marshals a body of a draft into canonical form; nil stays nil.
func body(name string, v any) ([]byte, error) {
	if v == nil {
		return nil, nil
	}
	src, err := json.Marshal(v)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	if src[0] == 'n' {
		return nil, nil
	}
	if src[0] != '{' {
		return nil, fmt.Errorf("%s: is %.20s, allowed is an object", name, src)
	}
	text, err := Canonical(src)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return text, nil
}

// Decode reads a record from its canonical bytes and opens its sealed body where opener has the key.
//
// It fails on text that is not a record. It does not judge whether the text is canonical, see [Check].
// A sealed body that does not open although its key is here is an error: somebody changed the record.
// The returned entry shares memory with text.
func Decode(text []byte, opener Opener) (Entry, error) {
	e := Entry{ID: IDOf(text)}
	err := e.decode(text, opener)
	if err != nil {
		return Entry{}, fmt.Errorf("record %s: %w", e.ID.Short(8), err)
	}
	return e, nil
}

func (e *Entry) decode(text []byte, opener Opener) error {
	var sealedFrom, sealedTo int
	seen := 0
	err := eachMember(text, func(name string, from, to int) (err error) {
		value := text[from:to:to]
		seen++
		switch name {
		case "after":
			err = json.Unmarshal(value, &e.After)
		case "at":
			err = e.At.parse(value)
		case "by":
			e.By, err = plainString(value)
		case "kind":
			var kind string
			kind, err = plainString(value)
			e.Kind = Kind(kind)
		case "open":
			e.Open = value
		case "schema":
			e.Schema, err = strconv.ParseInt(string(value), 10, 64)
		case "sealed":
			sealedFrom, sealedTo = from, to
			seen--
		case "subject":
			e.Subject, err = plainString(value)
		default:
			seen--
		}
		if err != nil {
			err = fmt.Errorf("%s: %w", name, err)
		}
		return err
	})
	if err != nil {
		return err
	}
	if wanted := 7; seen < wanted || e.Schema < 1 || !validKind(string(e.Kind)) {
		return fmt.Errorf("holds %d of the members after, at, by, kind, open, schema, subject", min(seen, wanted))
	}
	if len(e.After) == 0 {
		e.After = nil
	}
	if sealedTo == 0 {
		return nil
	}
	box, err := parseBox(text[sealedFrom:sealedTo])
	if err != nil {
		if e.Schema > Schema {
			e.NoKey = true // sealed in a way that only a newer program knows
			return nil
		}
		return fmt.Errorf("sealed: %w", err)
	}
	body, err := opener.Unseal(e.Subject, withoutSealed(text, sealedFrom, sealedTo), box)
	switch {
	case errors.Is(err, ErrNoKey):
		e.NoKey = true
	case err != nil:
		return err
	default:
		e.Sealed = body
	}
	return nil
}

// withoutSealed cuts the member "sealed" out of a record's text; its value is text[from:to].
func withoutSealed(text []byte, from, to int) []byte {
	from -= len(`"sealed":`)
	if text[to] == ',' {
		to++
	} else if text[from-1] == ',' {
		from--
	}
	return append(append(make([]byte, 0, len(text)), text[:from]...), text[to:]...)
}

// Check reports whether text is a whole, canonical record that stands at path.
// It needs no keys. The error names what differs.
func Check(path string, text []byte) error {
	id := IDOf(text)
	canonical, err := Canonical(text)
	if err != nil {
		return fmt.Errorf("record %s: %w", id.Short(8), err)
	}
	if !bytes.Equal(canonical, text) {
		return fmt.Errorf("record %s: not in canonical form", id.Short(8))
	}
	e, err := Decode(text, noKeys{})
	if err != nil {
		return err
	}
	if own := e.Path(); own != path {
		return fmt.Errorf("record %s: stands at %s, its own path is %s", id.Short(8), path, own)
	}
	return nil
}

type noKeys struct{}

func (noKeys) Unseal(string, []byte, Box) ([]byte, error) { return nil, ErrNoKey }
