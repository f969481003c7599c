package record

import (
	"encoding/base32"
	"fmt"
	"strings"

	"github.com/zeebo/blake3"
)

// crockford is Douglas Crockford's base 32 alphabet in lower case: no i, l, o or u.
// Source: https://www.crockford.com/base32.html, table "Encode Symbol" (from memory).
const crockford = "0123456789abcdefghjkmnpqrstvwxyz"

var base32Lower = base32.NewEncoding(crockford).WithPadding(base32.NoPadding)

// MinPrefix is the least number of letters by which people may name a record.
const MinPrefix = 6

// idLetters is the length of a whole id in letters: 256 bits at 5 bits each, rounded up.
const idLetters = 52

// IDOf returns the id of a record's canonical bytes.
func IDOf(canonical []byte) ID { return blake3.Sum256(canonical) }

// String returns the 52 letters of the id.
func (id ID) String() string { return base32Lower.EncodeToString(id[:]) }

// Short returns the first n letters of the id, at least [MinPrefix] and at most all 52.
func (id ID) Short(n int) string { return id.String()[:min(max(n, MinPrefix), idLetters)] }

// IsZero reports whether id is unset.
func (id ID) IsZero() bool { return id == ID{} }

// MarshalText implements [encoding.TextMarshaler].
func (id ID) MarshalText() ([]byte, error) {
	return base32Lower.AppendEncode(make([]byte, 0, idLetters), id[:]), nil
}

// UnmarshalText implements [encoding.TextUnmarshaler].
func (id *ID) UnmarshalText(b []byte) error {
	v, err := ParseID(string(b))
	if err == nil {
		*id = v
	}
	return err
}

// ParseID reads a whole id in the exact form that [ID.String] writes.
func ParseID(s string) (ID, error) {
	var id ID
	if len(s) != idLetters {
		return id, fmt.Errorf("id %q: %d letters, allowed %d", s, len(s), idLetters)
	}
	if n, err := base32Lower.Decode(id[:], []byte(s)); err != nil || n != len(id) || id.String() != s {
		return ID{}, fmt.Errorf("id %q: not written in lower-case base 32 (%s)", s, crockford)
	}
	return id, nil
}

// Prefix is the beginning of an id as a person types it, in normal form.
type Prefix string

// ParsePrefix reads the beginning of an id. It forgives what people do: capitals, a leading mark such as
// the "R-" of a request, and the look-alikes i, l (one) and o (zero).
//
// It returns an error if fewer than [MinPrefix] or more than 52 letters remain, or if one is no letter
// of the alphabet.
func ParsePrefix(s string) (Prefix, error) {
	t := strings.ToLower(strings.TrimSpace(s))
	if len(t) > 2 && t[1] == '-' {
		t = t[2:]
	}
	t = strings.NewReplacer("i", "1", "l", "1", "o", "0").Replace(t)
	if len(t) < MinPrefix || len(t) > idLetters {
		return "", fmt.Errorf("id %q: %d letters, allowed %d to %d", s, len(t), MinPrefix, idLetters)
	}
	for _, r := range t {
		if !strings.ContainsRune(crockford, r) {
			return "", fmt.Errorf("id %q: letter %q, allowed are %s", s, r, crockford)
		}
	}
	return Prefix(t), nil
}

// Matches reports whether id begins with p.
func (p Prefix) Matches(id ID) bool { return strings.HasPrefix(id.String(), string(p)) }
