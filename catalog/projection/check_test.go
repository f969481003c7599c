package projection

import (
	"errors"
	"testing"

	"mien/asset/terms"
	"mien/catalog/fault"
	"mien/catalog/record"
	"mien/catalog/roster"
)

func TestNothingIsRecordedAboutTheErasedOrUnknown(t *testing.T) {
	s := newSite(t, "studio", "2025-01-05")
	for _, code := range []string{"ath-1", "ath-2"} {
		s.do(roster.Add(s.state.Roster, "m-1", roster.New{Code: code}))
	}
	s.do(roster.AddProp(s.state.Roster, "m-1", "shoe-1", roster.PropOpen{Kind: terms.Footwear}, roster.PropSealed{}))
	s.do(roster.Erase(s.state.Roster, "p-1", "ath-2"))
	var gone *fault.ConflictError
	var none *fault.NotFoundError
	for _, subject := range []string{"", "ath-1", "shoe-1"} {
		if err := s.state.Check(record.Draft{Kind: "intake.add", Subject: subject}); err != nil {
			t.Errorf("%q: %v", subject, err)
		}
	}
	if err := s.state.Check(record.Draft{Kind: "take.accept", Subject: "ath-2"}); !errors.As(err, &gone) || gone.By != "p-1" {
		t.Errorf("erased: %v", err)
	}
	if err := s.state.Check(record.Draft{Kind: "intake.add", Subject: "ath-3"}); !errors.As(err, &none) {
		t.Errorf("unknown: %v", err)
	}
	if err := s.state.Check(record.Draft{Kind: roster.KindAdd, Subject: "ath-3"}); err != nil {
		t.Errorf("somebody who joins: %v", err)
	}
}
