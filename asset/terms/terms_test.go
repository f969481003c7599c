package terms

import (
	"errors"
	"testing"
)

func TestEveryRegionHasAName(t *testing.T) {
	seen := map[string]bool{}
	for r := Region(1); r < RegionCount; r++ {
		n := r.String()
		if n == "" || seen[n] {
			t.Errorf("region %d: name %q empty or used twice", r, n)
		}
		seen[n] = true
		back, err := ParseRegion(n)
		if err != nil || back != r {
			t.Errorf("ParseRegion(%q) = %v, %v", n, back, err)
		}
	}
}

func TestLeftAndRightAreTwins(t *testing.T) {
	for r := Region(1); r < RegionCount; r++ {
		n := r.String()
		if len(n) > 5 && n[len(n)-5:] == "-left" {
			twin, err := ParseRegion(n[:len(n)-5] + "-right")
			if err != nil || twin != r+1 {
				t.Errorf("%s has no twin beside it", n)
			}
			if s := r.Segment(); s != Trunk && s != Head && twin.Segment() != s+1 {
				t.Errorf("%s and its twin do not move with twin segments", n)
			}
		}
	}
}

func TestUnknownRegionNamesTheNearest(t *testing.T) {
	_, err := ParseRegion("forarm-left")
	var u *UnknownError
	if !errors.As(err, &u) || u.Near[0] != "forearm-left" {
		t.Fatalf("got %v", err)
	}
}
