package projection

import (
	"errors"
	"testing"

	"mien/asset/terms"
	"mien/catalog/fault"
	"mien/catalog/policy"
	"mien/catalog/record"
	"mien/catalog/request"
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

// What another site records about somebody before it hears of the erasure is withdrawn too.
func TestAnErasureReachesWhatComesLater(t *testing.T) {
	a, b := newSite(t, "studio", "2025-01-05"), newSite(t, "road", "2025-01-05")
	a.do(roster.Add(a.state.Roster, "m-1", roster.New{Code: "ath-1"}))
	meet(a, b)
	a.do(roster.Erase(a.state.Roster, "p-1", "ath-1"))
	b.log.On("2025-02-01")
	b.intake("ath-1", "2025-02-01", "road", true, head)
	d, _, err := request.Raise(b.state.Request, "m-1", request.Ask{Subject: "ath-1", Reasons: []policy.Reason{policy.Age}, Shots: []policy.Shot{head}})
	b.do(d, err)
	if n := len(b.state.Session.Likeness("ath-1", "2025-03-01")); n != 1 {
		t.Fatalf("%d shots before the sites met", n)
	}
	meet(a, b)
	for _, s := range []*site{a, b} {
		if n := len(s.state.Session.Likeness("ath-1", "2025-03-01")); n != 0 {
			t.Errorf("%d shots of somebody who was erased", n)
		}
		for _, r := range s.state.Request.All() {
			if r.Status.Live() {
				t.Errorf("request %s is %s", r.Ref(), r.Status)
			}
		}
	}
}
