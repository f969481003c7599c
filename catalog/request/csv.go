package request

import (
	"io"

	"mien/asset/terms"
	"mien/catalog/day"
	"mien/catalog/table"
)

var sightColumns = []string{"code", "kind", "region", "seen", "source", "note"}

// ReadCSV reads a file of sightings: a table as [table.Read] takes it with the columns code, kind, region,
// seen, source and note, of which code and kind are needed. A line without a date was seen on today,
// one without a source comes from the squad. It reads on after a fault, so that all are told at once.
func ReadCSV(r io.Reader, file string, today day.Day) (reports []Report, faults []error) {
	lines, faults := table.Read(r, file, sightColumns, "code", "kind")
	for _, l := range lines {
		in := Report{Subject: l.Get("code"), Kind: terms.ItemKind(l.Get("kind")), Region: l.Get("region"),
			Seen: day.Day(l.Get("seen")), Source: terms.Source(l.Get("source")), Note: l.Get("note")}
		if in.Seen == "" {
			in.Seen = today
		}
		if in.Source == "" {
			in.Source = terms.FromSquad
		}
		if column, err := in.check(); err != nil {
			faults = append(faults, l.Fault(column, "%v", err))
			continue
		}
		reports = append(reports, in)
	}
	table.Sort(faults)
	return reports, faults
}
