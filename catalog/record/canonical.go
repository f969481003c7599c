package record

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode/utf16"
	"unicode/utf8"
)

// maxExact is the largest integer that every JSON reader keeps exactly: 2^53 - 1.
// Source: RFC 7493 section 2.2.
const maxExact = 1<<53 - 1

// maxDepth bounds the nesting of a record, so that a hostile one cannot exhaust the stack.
const maxDepth = 64

// Canonical returns src in the one form that records are hashed in: the JSON canonicalization scheme of
// RFC 8785, narrowed to integers.
//
// Members are sorted by the UTF-16 units of their names, there is no white space, and strings carry only
// the escapes that RFC 8785 section 3.2.2.2 demands. It refuses what could be read in two ways: fractions
// and exponents, minus zero, integers beyond 2^53 - 1, a name that occurs twice, bytes that are not UTF-8,
// and halves of surrogate pairs. The error names the member. src is not changed.
func Canonical(src []byte) ([]byte, error) {
	p := parser{src: src}
	dst, err := p.value(make([]byte, 0, len(src)), 0)
	if err != nil {
		return nil, err
	}
	p.space()
	if p.at < len(src) {
		return nil, p.fault("text after the value")
	}
	return dst, nil
}

type parser struct {
	src  []byte
	at   int
	path []string // names of the members around the position
}

func (p *parser) fault(format string, args ...any) error {
	what := fmt.Sprintf(format, args...)
	if len(p.path) > 0 {
		return fmt.Errorf("%s: byte %d: %s", strings.Join(p.path, "."), p.at, what)
	}
	return fmt.Errorf("byte %d: %s", p.at, what)
}

func (p *parser) space() {
	for p.at < len(p.src) {
		switch p.src[p.at] {
		case ' ', '\t', '\n', '\r':
			p.at++
		default:
			return
		}
	}
}

// next skips white space and returns the byte that follows, 0 at the end.
func (p *parser) next() byte {
	p.space()
	if p.at == len(p.src) {
		return 0
	}
	return p.src[p.at]
}

func (p *parser) value(dst []byte, depth int) ([]byte, error) {
	if depth > maxDepth {
		return nil, p.fault("nested deeper than %d", maxDepth)
	}
	switch c := p.next(); {
	case c == '{':
		return p.object(dst, depth)
	case c == '[':
		return p.array(dst, depth)
	case c == '"':
		s, err := p.text()
		if err != nil {
			return nil, err
		}
		return appendString(dst, s), nil
	case c == '-' || '0' <= c && c <= '9':
		return p.integer(dst)
	case c == 0 && p.at == len(p.src):
		return nil, p.fault("text ends where a value should be")
	}
	for _, word := range [...]string{"true", "false", "null"} {
		if len(p.src)-p.at >= len(word) && string(p.src[p.at:p.at+len(word)]) == word {
			p.at += len(word)
			return append(dst, word...), nil
		}
	}
	return nil, p.fault("%q where a value should be", p.src[p.at])
}

type span struct {
	name     string
	from, to int // of `"name":value` within the output
}

func (p *parser) object(dst []byte, depth int) ([]byte, error) {
	p.at++
	dst = append(dst, '{')
	start := len(dst)
	var room [12]span
	members := room[:0]
	sorted := true
	if p.next() == '}' {
		p.at++
		return append(dst, '}'), nil
	}
	for {
		if p.next() != '"' {
			return nil, p.fault("no member name")
		}
		name, err := p.text()
		if err != nil {
			return nil, err
		}
		if p.next() != ':' {
			return nil, p.fault("no colon after member %q", name)
		}
		p.at++
		from := len(dst)
		dst = append(appendString(dst, name), ':')
		p.path = append(p.path, name)
		if dst, err = p.value(dst, depth+1); err != nil {
			return nil, err
		}
		p.path = p.path[:len(p.path)-1]
		if n := len(members); n > 0 && compareUTF16(members[n-1].name, name) >= 0 {
			sorted = false
		}
		members = append(members, span{name, from, len(dst)})
		c := p.next()
		p.at++
		if c == '}' {
			break
		}
		if c != ',' {
			p.at--
			return nil, p.fault("no comma or closing brace after member %q", name)
		}
		dst = append(dst, ',')
	}
	if !sorted {
		slices.SortFunc(members, func(a, b span) int { return compareUTF16(a.name, b.name) })
		for i := 1; i < len(members); i++ {
			if members[i].name == members[i-1].name {
				return nil, p.fault("member %q occurs twice", members[i].name)
			}
		}
		text := string(dst)
		dst = dst[:start]
		for i, m := range members {
			if i > 0 {
				dst = append(dst, ',')
			}
			dst = append(dst, text[m.from:m.to]...)
		}
	}
	return append(dst, '}'), nil
}

func (p *parser) array(dst []byte, depth int) ([]byte, error) {
	p.at++
	dst = append(dst, '[')
	if p.next() == ']' {
		p.at++
		return append(dst, ']'), nil
	}
	for {
		var err error
		if dst, err = p.value(dst, depth+1); err != nil {
			return nil, err
		}
		c := p.next()
		p.at++
		if c == ']' {
			return append(dst, ']'), nil
		}
		if c != ',' {
			p.at--
			return nil, p.fault("no comma or closing bracket")
		}
		dst = append(dst, ',')
	}
}

func (p *parser) integer(dst []byte) ([]byte, error) {
	from := p.at
	for p.at < len(p.src) && strings.IndexByte("+-.eE0123456789", p.src[p.at]) >= 0 {
		p.at++
	}
	word := string(p.src[from:p.at])
	v, err := strconv.ParseInt(word, 10, 64)
	switch {
	case err != nil || strconv.FormatInt(v, 10) != word:
		p.at = from
		return nil, p.fault("number %s, allowed are integers (micrometres, mm2, millionths)", word)
	case v > maxExact || v < -maxExact:
		p.at = from
		return nil, p.fault("number %s, allowed are -%d to %d", word, int64(maxExact), int64(maxExact))
	}
	return append(dst, word...), nil
}

// text reads a string whose opening quote is at the position.
func (p *parser) text() (string, error) {
	from := p.at
	p.at++
	begin := p.at
	for p.at < len(p.src) { // most strings need no decoding
		c := p.src[p.at]
		if c == '"' {
			s := p.src[begin:p.at]
			if !utf8.Valid(s) {
				return "", p.fault("string is not UTF-8")
			}
			p.at++
			return string(s), nil
		}
		if c == '\\' || c < ' ' {
			break
		}
		p.at++
	}
	out := append([]byte(nil), p.src[begin:p.at]...)
	for p.at < len(p.src) {
		c := p.src[p.at]
		switch {
		case c == '"':
			if !utf8.Valid(out) {
				return "", p.fault("string is not UTF-8")
			}
			p.at++
			return string(out), nil
		case c < ' ':
			return "", p.fault("control character %#02x in a string", c)
		case c != '\\':
			out = append(out, c)
			p.at++
		default:
			r, err := p.escape()
			if err != nil {
				return "", err
			}
			out = utf8.AppendRune(out, r)
		}
	}
	p.at = from
	return "", p.fault("string does not end")
}

func (p *parser) escape() (rune, error) {
	if p.at+1 >= len(p.src) {
		return 0, p.fault("escape does not end")
	}
	c := p.src[p.at+1]
	if c != 'u' {
		i := strings.IndexByte(`"\/bfnrt`, c)
		if i < 0 {
			return 0, p.fault("escape \\%c is unknown", c)
		}
		p.at += 2
		return rune("\"\\/\b\f\n\r\t"[i]), nil
	}
	r, ok := p.unit(p.at)
	if !ok {
		return 0, p.fault("escape \\u without four hex digits")
	}
	if !utf16.IsSurrogate(r) {
		p.at += 6
		return r, nil
	}
	low, ok := p.unit(p.at + 6)
	pair := utf16.DecodeRune(r, low)
	if !ok || pair == utf8.RuneError {
		return 0, p.fault("half of a surrogate pair")
	}
	p.at += 12
	return pair, nil
}

// unit reads the escape \uXXXX at byte i.
func (p *parser) unit(i int) (rune, bool) {
	if i+6 > len(p.src) || p.src[i] != '\\' || p.src[i+1] != 'u' {
		return 0, false
	}
	v, err := strconv.ParseUint(string(p.src[i+2:i+6]), 16, 16)
	return rune(v), err == nil
}

// appendString writes s with exactly the escapes of RFC 8785 section 3.2.2.2.
func appendString(dst []byte, s string) []byte {
	const hex = "0123456789abcdef"
	dst = append(dst, '"')
	from := 0
	for i := 0; i < len(s); i++ {
		c := s[i]
		if c >= ' ' && c != '"' && c != '\\' {
			continue
		}
		dst = append(dst, s[from:i]...)
		from = i + 1
		if k := strings.IndexByte("\"\\\b\f\n\r\t", c); k >= 0 {
			dst = append(dst, '\\', `"\bfnrt`[k])
		} else {
			dst = append(dst, '\\', 'u', '0', '0', hex[c>>4], hex[c&15])
		}
	}
	return append(append(dst, s[from:]...), '"')
}

// compareUTF16 orders strings by their UTF-16 code units. It differs from the order of bytes only where
// a character beyond U+FFFF meets one from U+E000 to U+FFFF.
func compareUTF16(a, b string) int {
	for i := 0; i < len(a) && i < len(b); {
		if a[i] < utf8.RuneSelf && a[i] == b[i] {
			i++
			continue
		}
		ra, na := utf8.DecodeRuneInString(a[i:])
		rb, _ := utf8.DecodeRuneInString(b[i:])
		if ra == rb {
			i += na
			continue
		}
		if high, low := ra > 0xffff, rb > 0xffff; high != low {
			ua, ub := firstUnit(ra), firstUnit(rb)
			return int(ua) - int(ub)
		}
		return int(ra) - int(rb)
	}
	return len(a) - len(b)
}

func firstUnit(r rune) rune {
	if r <= 0xffff {
		return r
	}
	high, _ := utf16.EncodeRune(r)
	return high
}
