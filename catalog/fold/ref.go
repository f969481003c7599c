package fold

import (
	"strconv"
	"strings"

	"github.com/zeebo/blake3"

	"mien/catalog/fault"
	"mien/catalog/record"
)

// Derive returns the lasting id of the n-th thing that a record or a result named: the BLAKE3 digest
// of the base's bytes, a zero byte and n in decimal.
func Derive(base []byte, n int) record.ID {
	b := append(append([]byte(nil), base...), 0)
	return blake3.Sum256(strconv.AppendInt(b, int64(n), 10))
}

// Find returns the one id of ids that begins with ref, as [record.ParsePrefix] reads it. mark is the
// sign that people see before the letters, "R-" for a request.
//
// It returns a [fault.NotFoundError], a [fault.AmbiguousError], or a [fault.InvalidError] for a ref
// that can be no id.
func Find(what, mark, ref string, ids []record.ID) (record.ID, error) {
	p, err := record.ParsePrefix(ref)
	if err != nil {
		return record.ID{}, &fault.InvalidError{Object: what, Fault: err.Error()}
	}
	var fits []record.ID
	for _, id := range ids {
		if p.Matches(id) {
			fits = append(fits, id)
		}
	}
	switch len(fits) {
	case 0:
		return record.ID{}, &fault.NotFoundError{What: what, ID: strings.TrimSpace(ref)}
	case 1:
		return fits[0], nil
	}
	var shown []string
	for _, id := range fits {
		shown = append(shown, mark+id.Short(len(p)+4))
	}
	return record.ID{}, &fault.AmbiguousError{What: what, ID: strings.TrimSpace(ref), Fits: shown}
}

// Shown returns mark and the shortest prefix of id, at least [record.MinPrefix] letters, that no
// other id of ids begins with.
func Shown(mark string, id record.ID, ids []record.ID) string {
	n := record.MinPrefix
	s := id.String()
	for _, o := range ids {
		if o[0] != id[0] || o == id {
			continue
		}
		for t := o.String(); n < len(s) && t[:n] == s[:n]; {
			n++
		}
	}
	return mark + s[:n]
}
