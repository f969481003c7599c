package roster

import (
	"io"
	"sort"
	"strconv"

	"mien/catalog/day"
	"mien/catalog/policy"
	"mien/catalog/record"
	"mien/catalog/table"
)

// Row is one line of a roster file.
type Row struct {
	Line  int
	Code  string
	Name  string
	Squad string
	Tier  int // 0 when the file has no tier
}

var columns = []string{"code", "name", "squad", "tier"}

// ReadCSV reads a roster file: a table as [table.Read] takes it with the columns code, name, squad and
// tier, of which code is needed. It reads on after a fault, so that all faults are told at once; rows are
// whole only if there is none.
func ReadCSV(r io.Reader, file string) (rows []Row, faults []error) {
	lines, faults := table.Read(r, file, columns, "code")
	seen := map[string]int{}
	for _, l := range lines {
		row := Row{Line: l.Number, Code: l.Get("code"), Name: l.Get("name"), Squad: l.Get("squad")}
		first, twice := seen[row.Code]
		tier, err := strconv.Atoi(l.Get("tier"))
		var fault error
		switch {
		case !policy.Word(row.Code):
			fault = l.Fault("code", "code %q: allowed is a lower-case word with hyphens", row.Code)
		case twice:
			fault = l.Fault("code", "code %s stands in line %d already", row.Code, first)
		case row.Squad != "" && !policy.Word(row.Squad):
			fault = l.Fault("squad", "squad %q: allowed is a lower-case word with hyphens%s", row.Squad, suggestion(row.Squad))
		case l.Get("tier") != "" && (err != nil || tier < 1 || tier > maxTier):
			fault = l.Fault("tier", "tier %q: allowed 1 to %d", l.Get("tier"), maxTier)
		}
		if !twice {
			seen[row.Code] = l.Number
		}
		if fault != nil {
			faults = append(faults, fault)
			continue
		}
		row.Tier = tier
		rows = append(rows, row)
	}
	table.Sort(faults)
	return rows, faults
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
