package loop

import (
	"context"

	"mien/catalog/session"
	"mien/diff"
	"mien/diff/sanity"
)

// againstLast holds a scan against the last accepted one of the same subject and shot.
func againstLast(ctx context.Context, last, s *diff.Scan) ([]session.Check, error) {
	issues, err := sanity.Against(ctx, last, s)
	if err != nil {
		return nil, err
	}
	var out []session.Check
	for _, i := range issues {
		out = append(out, session.Check{Code: i.Code, Severity: severity(i.Severity), Message: i.Message})
	}
	return out, nil
}
