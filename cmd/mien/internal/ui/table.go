package ui

import (
	"encoding/json"
	"io"
	"strings"
	"unicode/utf8"
)

// Table is a plain text table: a header line, then rows; columns are as wide as their widest cell.
type Table struct {
	Head  []string
	Right map[int]bool // columns that are numbers
	Faint bool         // write the header in the terminal's faint face
	rows  [][]string
}

// Row adds a row of cells.
func (t *Table) Row(cells ...string) { t.rows = append(t.rows, cells) }

// Len returns the number of rows.
func (t *Table) Len() int { return len(t.rows) }

// Print writes the table to w, two spaces between columns.
func (t *Table) Print(w io.Writer) error {
	width := make([]int, len(t.Head))
	for _, r := range append([][]string{t.Head}, t.rows...) {
		for i, c := range r {
			width[i] = max(width[i], utf8.RuneCountInString(c))
		}
	}
	var b strings.Builder
	for n, r := range append([][]string{t.Head}, t.rows...) {
		var line strings.Builder
		for i, c := range r {
			pad := strings.Repeat(" ", width[i]-utf8.RuneCountInString(c))
			if i > 0 {
				line.WriteString("  ")
			}
			if t.Right[i] {
				line.WriteString(pad + c)
			} else {
				line.WriteString(c + pad)
			}
		}
		text := strings.TrimRight(line.String(), " ")
		if n == 0 && t.Faint {
			text = "\x1b[2m" + text + "\x1b[0m"
		}
		b.WriteString(text + "\n")
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// JSON writes v indented by two spaces, without escaping of <, > and &.
func JSON(w io.Writer, v any) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(v)
}
