package record

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
)

var errNoObject = errors.New("not a JSON object")

// eachMember calls f for each member of a JSON object without white space, in order.
// The value of the member is src[from:to].
func eachMember(src []byte, f func(name string, from, to int) error) error {
	if len(src) < 2 || src[0] != '{' || src[len(src)-1] != '}' {
		return errNoObject
	}
	if len(src) == 2 {
		return nil
	}
	for at := 1; ; at++ {
		colon := valueEnd(src, at)
		if colon >= len(src) || src[colon] != ':' || src[at] != '"' {
			return fmt.Errorf("byte %d: no member name", at)
		}
		name, err := memberName(src[at:colon])
		if err != nil {
			return err
		}
		end := valueEnd(src, colon+1)
		if end >= len(src) || end == colon+1 {
			return fmt.Errorf("byte %d: member %q has no value", colon, name)
		}
		if err := f(name, colon+1, end); err != nil {
			return err
		}
		at = end
		if end == len(src)-1 {
			return nil
		}
		if src[end] != ',' {
			return fmt.Errorf("byte %d: no comma after member %q", end, name)
		}
	}
}

// memberName reads a name. Those that every record has cost no memory.
func memberName(src []byte) (string, error) {
	for _, known := range [...]string{"after", "at", "by", "kind", "open", "schema", "sealed", "subject", "ms", "n", "site", "box", "key", "nonce"} {
		if len(src) == len(known)+2 && string(src[1:len(src)-1]) == known {
			return known, nil
		}
	}
	return plainString(src)
}

// valueEnd returns the index after the JSON value at src[at:], len(src) if it does not end.
func valueEnd(src []byte, at int) int {
	depth := 0
	for i := at; i < len(src); i++ {
		switch src[i] {
		case '"':
			i = stringEnd(src, i)
		case '{', '[':
			depth++
		case '}', ']':
			if depth == 0 {
				return i
			}
			depth--
		case ',', ':':
			if depth == 0 {
				return i
			}
		}
	}
	return len(src)
}

// stringEnd returns the index of the quote that closes the string at src[at:], len(src) if there is none.
func stringEnd(src []byte, at int) int {
	for i := at + 1; i < len(src); i++ {
		k := bytes.IndexAny(src[i:], `"\`)
		if k < 0 {
			return len(src)
		}
		i += k
		if src[i] == '"' {
			return i
		}
		i++
	}
	return len(src)
}

// plainString reads a JSON string; one without escapes costs no parser.
func plainString(src []byte) (string, error) {
	n := len(src)
	if n < 2 || src[0] != '"' || src[n-1] != '"' {
		return "", fmt.Errorf("%.20s is no string", src)
	}
	if bytes.IndexByte(src, '\\') < 0 {
		return string(src[1 : n-1]), nil
	}
	var s string
	err := json.Unmarshal(src, &s)
	return s, err
}
