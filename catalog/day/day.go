// Package day holds calendar dates without a time of day, as records write them: "2026-10-03".
package day

import (
	"fmt"
	"time"
)

// Day is a calendar date in the form YYYY-MM-DD; "" is no date. Days compare as strings.
type Day string

const layout = "2006-01-02"

// Parse reads a date in the form YYYY-MM-DD.
func Parse(s string) (Day, error) {
	t, err := time.Parse(layout, s)
	if err != nil || t.Year() < 1900 || t.Year() > 2999 {
		return "", fmt.Errorf("date %q: not a calendar date, allowed is YYYY-MM-DD", s)
	}
	return Day(s), nil
}

// Of returns the date of t in t's own time zone.
func Of(t time.Time) Day { return Day(t.Format(layout)) }

// OfMs returns the UTC date of a record's clock reading in milliseconds since 1970.
func OfMs(ms int64) Day { return Of(time.UnixMilli(ms).UTC()) }

// Valid reports whether d is a calendar date.
func (d Day) Valid() bool {
	_, err := Parse(string(d))
	return err == nil
}

// Time returns midnight UTC of d, the zero time when d is no date.
func (d Day) Time() time.Time {
	t, err := time.Parse(layout, string(d))
	if err != nil {
		return time.Time{}
	}
	return t
}

// Add returns the date n days later; "" stays "".
func (d Day) Add(n int) Day {
	if d == "" {
		return ""
	}
	return Of(d.Time().AddDate(0, 0, n))
}

// AddMonths returns the same day of the month n months later, or that month's last day when it
// has no such day (2026-01-31 plus one month is 2026-02-28); "" stays "".
func (d Day) AddMonths(n int) Day {
	if d == "" {
		return ""
	}
	t := d.Time()
	first := time.Date(t.Year(), t.Month()+time.Month(n), 1, 0, 0, 0, 0, time.UTC)
	last := first.AddDate(0, 1, -1).Day()
	return Of(first.AddDate(0, 0, min(t.Day(), last)-1))
}

// DaysUntil returns the number of days from d to later, negative when later is earlier.
func (d Day) DaysUntil(later Day) int {
	return int(later.Time().Sub(d.Time()).Hours() / 24)
}

// MonthsUntil returns the number of whole months from d to later, negative when later is earlier.
func (d Day) MonthsUntil(later Day) int {
	if later < d {
		return -later.MonthsUntil(d)
	}
	a, b := d.Time(), later.Time()
	n := (b.Year()-a.Year())*12 + int(b.Month()-a.Month())
	if d.AddMonths(n) > later {
		n--
	}
	return n
}

// Within reports whether d lies in [from, until); an empty bound is open.
func (d Day) Within(from, until Day) bool {
	return (from == "" || from <= d) && (until == "" || d < until)
}
