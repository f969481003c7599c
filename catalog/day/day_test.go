package day

import (
	"testing"

	"pgregory.net/rapid"
)

func TestParse(t *testing.T) {
	for s, ok := range map[string]bool{
		"2026-10-03": true, "2024-02-29": true, "2026-02-29": false, "2026-1-3": false, "": false,
		"2026-10-03 ": false, "0026-10-03": false, "2026-13-01": false,
	} {
		if _, err := Parse(s); (err == nil) != ok {
			t.Errorf("Parse(%q): %v", s, err)
		}
	}
}

func TestMonths(t *testing.T) {
	for _, c := range []struct {
		a, b Day
		want int
	}{
		{"2026-01-31", "2026-02-28", 1}, {"2026-01-31", "2026-02-27", 0}, {"2025-10-03", "2026-10-02", 11},
		{"2025-10-03", "2026-10-03", 12}, {"2026-10-03", "2025-10-03", -12}, {"2026-05-05", "2026-05-05", 0},
	} {
		if got := c.a.MonthsUntil(c.b); got != c.want {
			t.Errorf("%s to %s: %d months, want %d", c.a, c.b, got, c.want)
		}
	}
}

func TestAddAndUntilAreInverse(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		d := Day("2020-01-01").Add(rapid.IntRange(0, 5000).Draw(r, "start"))
		n := rapid.IntRange(-4000, 4000).Draw(r, "n")
		if got := d.DaysUntil(d.Add(n)); got != n {
			r.Fatalf("%s plus %d days is %d days away", d, n, got)
		}
		m := rapid.IntRange(0, 60).Draw(r, "m")
		if got := d.MonthsUntil(d.AddMonths(m)); got != m {
			r.Fatalf("%s plus %d months (%s) is %d months away", d, m, d.AddMonths(m), got)
		}
	})
}

func TestWithinIsHalfOpen(t *testing.T) {
	if !Day("2026-01-01").Within("2026-01-01", "2026-01-02") || Day("2026-01-02").Within("", "2026-01-02") {
		t.Error("from is included, until is not")
	}
}
