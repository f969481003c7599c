package roster

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"sort"
	"strconv"
	"strings"

	"mien/asset/terms"
	"mien/catalog/day"
	"mien/catalog/policy"
	"mien/catalog/record"
)

// Row is one line of a roster file.
type Row struct {
	Line  int
	Code  string
	Name  string
	Squad string
	Tier  int // 0 when the file has no tier
}

// LineError is a fault in a roster file.
type LineError struct {
	File         string
	Line, Column int // from 1; column 0 means the whole line
	Fault        string
}

func (e *LineError) Error() string {
	if e.Column == 0 {
		return fmt.Sprintf("%s:%d: %s", e.File, e.Line, e.Fault)
	}
	return fmt.Sprintf("%s:%d:%d: %s", e.File, e.Line, e.Column, e.Fault)
}

var columns = []string{"code", "name", "squad", "tier"}

// ReadCSV reads a roster file: RFC 4180 with a header of code, name, squad and tier in any order, of
// which code is needed. A byte order mark and blank lines are let through. It reads on after a fault,
// so that all faults are told at once; rows are whole only if there is none.
func ReadCSV(r io.Reader, file string) (rows []Row, faults []error) {
	c := csv.NewReader(r)
	c.FieldsPerRecord = -1
	head, err := c.Read()
	if err != nil {
		if err == io.EOF {
			return nil, []error{&LineError{file, 1, 0, "empty, a header code,name,squad,tier is needed"}}
		}
		return nil, []error{lineError(file, err)}
	}
	head[0] = strings.TrimPrefix(head[0], "\ufeff")
	at, err := header(file, head)
	if err != nil {
		return nil, []error{err}
	}
	seen := map[string]int{}
	for {
		f, err := c.Read()
		if err == io.EOF {
			return rows, faults
		}
		if err != nil {
			faults = append(faults, lineError(file, err))
			var pe *csv.ParseError
			if !errors.As(err, &pe) {
				return rows, faults
			}
			continue
		}
		line, _ := c.FieldPos(0)
		bad := func(column int, format string, args ...any) {
			e := &LineError{File: file, Line: line, Fault: fmt.Sprintf(format, args...)}
			if column >= 0 && column < len(f) {
				e.Line, e.Column = c.FieldPos(column)
			}
			faults = append(faults, e)
		}
		if len(f) != len(head) {
			bad(-1, "%d fields, the header has %d", len(f), len(head))
			continue
		}
		row := Row{Line: line}
		get := func(name string) (string, int) {
			i, ok := at[name]
			if !ok {
				return "", -1
			}
			return strings.TrimSpace(f[i]), i
		}
		row.Code, _ = get("code")
		row.Name, _ = get("name")
		row.Squad, _ = get("squad")
		if !policy.Word(row.Code) {
			bad(at["code"], "code %q: allowed is a lower-case word with hyphens", row.Code)
			continue
		}
		if first, ok := seen[row.Code]; ok {
			bad(at["code"], "code %s stands in line %d already", row.Code, first)
			continue
		}
		seen[row.Code] = line
		if _, i := get("squad"); row.Squad != "" && !policy.Word(row.Squad) {
			bad(i, "squad %q: allowed is a lower-case word with hyphens%s", row.Squad, suggestion(row.Squad))
			continue
		}
		if text, i := get("tier"); text != "" {
			n, err := strconv.Atoi(text)
			if err != nil || n < 1 || n > maxTier {
				bad(i, "tier %q: allowed 1 to %d", text, maxTier)
				continue
			}
			row.Tier = n
		}
		rows = append(rows, row)
	}
}

// header returns the position of each column.
func header(file string, head []string) (map[string]int, error) {
	at := map[string]int{}
	for i, h := range head {
		name := strings.ToLower(strings.TrimSpace(h))
		known := false
		for _, c := range columns {
			known = known || c == name
		}
		if !known {
			return nil, &LineError{file, 1, 0, fmt.Sprintf("column %q: unknown, nearest: %s", h, terms.Nearest(name, columns)[0])}
		}
		if _, ok := at[name]; ok {
			return nil, &LineError{file, 1, 0, fmt.Sprintf("column %s stands twice", name)}
		}
		at[name] = i
	}
	if _, ok := at["code"]; !ok {
		return nil, &LineError{file, 1, 0, "no column code"}
	}
	return at, nil
}

func lineError(file string, err error) error {
	var pe *csv.ParseError
	if errors.As(err, &pe) {
		return &LineError{file, pe.Line, pe.Column, pe.Err.Error()}
	}
	return fmt.Errorf("%s: %w", file, err)
}

// Move is a subject whose squad or tier differs from the file's.
type Move struct {
	Code             string
	OldSquad, Squad  string
	OldTier, Tier    int
	OldName, NewName string // "" when the name stays
}

// Preview says what a roster file would change.
type Preview struct {
	Joined []Row
	Moved  []Move
	Left   []string // in a squad today and not in the file, by code
	Erased []string // in the file and erased here: they stay erased
	Same   int
}

// Compare says what rows would change on d.
func Compare(s *State, rows []Row, d day.Day) Preview {
	var p Preview
	named := map[string]bool{}
	for _, r := range rows {
		named[r.Code] = true
		v := s.subjects[r.Code]
		if v == nil {
			p.Joined = append(p.Joined, r)
			continue
		}
		if v.Erased {
			p.Erased = append(p.Erased, r.Code)
			continue
		}
		m := Move{Code: r.Code, OldSquad: v.SquadOn(d), OldTier: v.Tier, Squad: r.Squad, Tier: r.Tier}
		if r.Squad == "" {
			m.Squad = m.OldSquad
		}
		if r.Tier == 0 {
			m.Tier = m.OldTier
		}
		if r.Name != "" && r.Name != v.Name && !v.NoKey {
			m.OldName, m.NewName = v.Name, r.Name
		}
		if m.Squad == m.OldSquad && m.Tier == m.OldTier && m.NewName == "" {
			p.Same++
			continue
		}
		p.Moved = append(p.Moved, m)
	}
	for _, v := range s.In("", d) {
		if !named[v.Code] && !v.Erased {
			p.Left = append(p.Left, v.Code)
		}
	}
	sort.Strings(p.Erased)
	return p
}

// Drafts returns the records of a preview. Those who left are taken out of their squads only if
// leave is set: a file may hold one squad alone.
func (p Preview) Drafts(s *State, by string, d day.Day, leave bool) ([]record.Draft, error) {
	var out []record.Draft
	for _, r := range p.Joined {
		n := New{Code: r.Code, Name: r.Name, Squad: r.Squad, Tier: r.Tier}
		if r.Squad != "" {
			n.From = d
		}
		draft, err := Add(s, by, n)
		if err != nil {
			return nil, err
		}
		out = append(out, draft)
	}
	for _, m := range p.Moved {
		c := Change{Name: m.NewName}
		if m.Squad != m.OldSquad {
			c.Squad, c.From = &m.Squad, d
		}
		if m.Tier != m.OldTier {
			c.Tier = m.Tier
		}
		draft, err := Set(s, by, m.Code, c)
		if err != nil {
			return nil, err
		}
		out = append(out, draft)
	}
	if leave {
		none := ""
		for _, code := range p.Left {
			draft, err := Set(s, by, code, Change{Squad: &none, From: d})
			if err != nil {
				return nil, err
			}
			out = append(out, draft)
		}
	}
	return out, nil
}
