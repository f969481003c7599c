// Package table reads tables that people bring as CSV files, and names every fault by line and column.
package table

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"mien/asset/terms"
)

// LineError is a fault in a file.
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

// Line is one line of a table.
type Line struct {
	File   string
	Number int // of the line in the file, from 1
	at     map[string]int
	fields []string
	places [][2]int // line and column of each field
}

// Get returns a field without blanks around it, "" if the table has no such column.
func (l Line) Get(column string) string {
	if i, ok := l.at[column]; ok {
		return strings.TrimSpace(l.fields[i])
	}
	return ""
}

// Fault returns a [LineError] about a field.
func (l Line) Fault(column, format string, args ...any) error {
	e := &LineError{File: l.File, Line: l.Number, Fault: fmt.Sprintf(format, args...)}
	if i, ok := l.at[column]; ok {
		e.Line, e.Column = l.places[i][0], l.places[i][1]
	}
	return e
}

// Read reads a CSV file by RFC 4180: a header that names columns in any order, all of needed among them,
// then lines of as many fields. A byte order mark and blank lines are let through. It reads on after a
// fault; lines are all that are whole.
func Read(r io.Reader, file string, columns []string, needed ...string) (lines []Line, faults []error) {
	c := csv.NewReader(r)
	c.FieldsPerRecord = -1
	head, err := c.Read()
	if err == io.EOF {
		return nil, []error{&LineError{file, 1, 0, "empty, a header is needed: " + strings.Join(columns, ",")}}
	}
	if err != nil {
		return nil, []error{parseFault(file, err)}
	}
	head[0] = strings.TrimPrefix(head[0], "\ufeff")
	at, err := header(file, head, columns, needed)
	if err != nil {
		return nil, []error{err}
	}
	for {
		f, err := c.Read()
		if err == io.EOF {
			return lines, faults
		}
		if err != nil {
			faults = append(faults, parseFault(file, err))
			if pe := (*csv.ParseError)(nil); !errors.As(err, &pe) {
				return lines, faults
			}
			continue
		}
		l := Line{File: file, at: at, fields: f}
		for i := range f {
			line, column := c.FieldPos(i)
			l.places = append(l.places, [2]int{line, column})
		}
		l.Number = l.places[0][0]
		if len(f) != len(head) {
			faults = append(faults, l.Fault("", "%d fields, the header has %d", len(f), len(head)))
			continue
		}
		lines = append(lines, l)
	}
}

// Sort puts faults in the order of their lines, those without a line last.
func Sort(faults []error) {
	line := func(err error) int {
		if e := (*LineError)(nil); errors.As(err, &e) {
			return e.Line
		}
		return 1 << 30
	}
	slices.SortStableFunc(faults, func(a, b error) int { return line(a) - line(b) })
}

// header returns the position of each column.
func header(file string, head, columns, needed []string) (map[string]int, error) {
	at := map[string]int{}
	for i, h := range head {
		name := strings.ToLower(strings.TrimSpace(h))
		if !slices.Contains(columns, name) {
			return nil, &LineError{file, 1, 0, fmt.Sprintf("column %q: unknown, nearest: %s", h, terms.Nearest(name, columns)[0])}
		}
		if _, ok := at[name]; ok {
			return nil, &LineError{file, 1, 0, fmt.Sprintf("column %s stands twice", name)}
		}
		at[name] = i
	}
	for _, name := range needed {
		if _, ok := at[name]; !ok {
			return nil, &LineError{file, 1, 0, "no column " + name}
		}
	}
	return at, nil
}

func parseFault(file string, err error) error {
	if pe := (*csv.ParseError)(nil); errors.As(err, &pe) {
		return &LineError{file, pe.Line, pe.Column, pe.Err.Error()}
	}
	return fmt.Errorf("%s: %w", file, err)
}
