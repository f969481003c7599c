package loop

import (
	"context"

	"mien/asset"
	"mien/asset/check"
	"mien/asset/scan"
)

// CheckReport is the document `mien.check/1`.
type CheckReport struct {
	Schema  string        `json:"schema"`
	Files   []CheckedFile `json:"files"`
	Refused int           `json:"refused"`
}

// CheckedFile is what the checks say about one file.
type CheckedFile struct {
	File   string        `json:"file"`
	Issues []check.Issue `json:"issues"`
}

// CheckFiles judges mesh files by themselves. unit is m, cm, mm, in or "". A file that cannot be read
// is an error.
func CheckFiles(ctx context.Context, files []string, unit string, part asset.Part) (*CheckReport, error) {
	per, ok := metresPer[unit]
	if !ok {
		return nil, usage("--unit %q: allowed are m, cm, mm, in", unit)
	}
	r := &CheckReport{Schema: "mien.check/1", Files: []CheckedFile{}}
	for _, f := range files {
		s, err := scan.LoadFile(ctx, f, scan.Options{MetresPerUnit: per, Part: part})
		if err != nil {
			return nil, askUnit(err, "--unit")
		}
		issues, err := check.Take(ctx, s)
		if err != nil {
			return nil, err
		}
		if check.Worst(issues) == check.Refuse {
			r.Refused++
		}
		r.Files = append(r.Files, CheckedFile{f, append([]check.Issue{}, issues...)})
	}
	return r, nil
}
