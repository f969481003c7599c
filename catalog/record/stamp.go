package record

import (
	"cmp"
	"fmt"
	"strconv"
	"sync"
	"time"
)

// maxMs is the last millisecond that four digits of a year can name: 9999-12-31T23:59:59.999Z.
const maxMs = 253402300799999

// SkewCap is how far ahead of this machine's clock another site's stamp may lie and still move our clock.
// It covers a clock set to the wrong zone; common practice, no source.
const SkewCap = 24 * time.Hour

// Time returns the wall-clock part of s in UTC.
func (s Stamp) Time() time.Time { return time.UnixMilli(s.Ms).UTC() }

// Compare orders stamps by (Ms, N, Site).
func (s Stamp) Compare(t Stamp) int {
	return cmp.Or(cmp.Compare(s.Ms, t.Ms), cmp.Compare(s.N, t.N), cmp.Compare(s.Site, t.Site))
}

func (s Stamp) check() error {
	switch {
	case s.Ms < 0 || s.Ms > maxMs:
		return fmt.Errorf("time %d ms, allowed 0 to %d", s.Ms, int64(maxMs))
	case s.N < 0 || s.N > maxExact:
		return fmt.Errorf("count %d within a millisecond, allowed 0 to %d", s.N, int64(maxExact))
	case !ValidCode(s.Site):
		return fmt.Errorf("site %q, allowed are 1 to %d letters a to z, digits and inner hyphens", s.Site, maxCode)
	}
	return nil
}

func (s *Stamp) parse(src []byte) error {
	err := eachMember(src, func(name string, from, to int) (err error) {
		value := src[from:to]
		switch name {
		case "ms":
			s.Ms, err = strconv.ParseInt(string(value), 10, 64)
		case "n":
			s.N, err = strconv.ParseInt(string(value), 10, 64)
		case "site":
			s.Site, err = plainString(value)
		}
		return err
	})
	if err == nil {
		err = s.check()
	}
	return err
}

// Compare orders entries as the fold reads them: by stamp, then by id.
func Compare(a, b Entry) int {
	if c := a.At.Compare(b.At); c != 0 {
		return c
	}
	return cmp.Compare(string(a.ID[:]), string(b.ID[:]))
}

// Clock is a hybrid logical clock: it follows the wall clock and never gives a stamp that is not after
// every stamp it gave or observed before. It is safe for use by several goroutines.
//
// Source: Kulkarni, Demirbas, Madappa, Avva, Leone, Logical Physical Clocks (2014).
type Clock struct {
	mu   sync.Mutex
	site string
	now  func() time.Time
	last Stamp
}

// NewClock returns the clock of a site over a wall clock.
func NewClock(site string, now func() time.Time) *Clock {
	return &Clock{site: site, now: now, last: Stamp{Ms: -1}}
}

// Next returns the stamp of a new record of this site.
func (c *Clock) Next() Stamp {
	c.mu.Lock()
	defer c.mu.Unlock()
	if ms := c.now().UnixMilli(); ms > c.last.Ms {
		c.last = Stamp{Ms: ms, Site: c.site}
	} else {
		c.last = Stamp{Ms: c.last.Ms, N: c.last.N + 1, Site: c.site}
	}
	return c.last
}

// Observe makes later stamps come after s. A stamp of another site that lies more than [SkewCap] ahead of
// the wall clock is reported as far and does not move the clock; our own stamps always do.
func (c *Clock) Observe(s Stamp) (far bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if s.Site != c.site && s.Ms > c.now().Add(SkewCap).UnixMilli() {
		return true
	}
	if s.Ms > c.last.Ms || s.Ms == c.last.Ms && s.N > c.last.N {
		c.last = s
	}
	return false
}
