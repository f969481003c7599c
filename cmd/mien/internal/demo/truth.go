package demo

import (
	"errors"
	"fmt"
	"runtime"
	"sort"
	"strings"
	"sync"

	"mien/asset"
	"mien/asset/invent"
	"mien/asset/terms"
)

// want is one true change, over the parts that show it.
type want struct {
	code   string
	change invent.Change
}

// wanted returns the true changes of an athlete: what a body or a head scan shows of them, each once.
// A tan passes and is a difference of capture; a sleeve is worn on the day and ends nothing.
func (p *player) wanted(a athlete) ([]want, error) {
	who := invent.NewPerson(invent.Tuning, a.seed)
	var out []want
	for _, part := range []asset.Part{asset.PartBody, asset.PartHead} {
		if a.same || part == asset.PartHead && !headShows(out) {
			continue
		}
		list, err := who.Changes(p.ctx, a.before, a.after, part)
		if err != nil {
			return nil, err
		}
	next:
		for _, c := range list {
			if c.Kind == terms.SkinTone || c.Kind == terms.Accessory && c.Region.Segment() != terms.Head {
				continue
			}
			if part == asset.PartHead && c.Kind == terms.Physique {
				continue
			}
			for i := range out {
				o := &out[i].change
				switch {
				case o.Kind != c.Kind:
				case c.Kind == terms.Footwear: // a pair of shoes is one change
					if part == asset.PartBody {
						o.AreaCM2 += c.AreaCM2
						o.PeakMm = max(o.PeakMm, c.PeakMm)
					}
					continue next
				case o.Region == c.Region:
					o.AreaCM2 = max(o.AreaCM2, c.AreaCM2)
					continue next
				}
			}
			out = append(out, want{code: a.code, change: c})
		}
	}
	return out, nil
}

// headShows reports whether a scan of the head shows any of the changes.
func headShows(list []want) bool {
	for _, w := range list {
		if r := w.change.Region; r.Segment() == terms.Head || r == terms.NeckFront || r == terms.NeckBack {
			return true
		}
	}
	return false
}

// wantedOfAll returns the true changes of every athlete, computed side by side.
func (p *player) wantedOfAll(people []athlete) ([][]want, error) {
	out, errs := make([][]want, len(people)), make([]error, len(people))
	var wait sync.WaitGroup
	slots := make(chan struct{}, runtime.GOMAXPROCS(0))
	for i, a := range people {
		slots <- struct{}{}
		wait.Go(func() {
			defer func() { <-slots }()
			out[i], errs[i] = p.wanted(a)
		})
	}
	wait.Wait()
	return out, errors.Join(errs...)
}

// near reports whether two regions are one place for a reader: the same, or on one segment of the body.
func near(a, b string) bool {
	if a == b {
		return true
	}
	x, errX := terms.ParseRegion(a)
	y, errY := terms.ParseRegion(b)
	return errX == nil && errY == nil && x.Segment() == y.Segment()
}

// samePlace reports whether a finding speaks of where a change is. Physique is of the whole body, and a
// pair of shoes is named by one foot.
func samePlace(c invent.Change, f finding) bool {
	return c.Kind == terms.Physique || c.Kind == terms.Footwear || near(f.Region, c.Region.String())
}

// truthAgainstFindings prints what truly changed beside what was found. It reports whether the
// demonstration keeps its promise: at least 80 percent found, at most 2 false alarms on people who did
// not change.
func (p *player) truthAgainstFindings(people []athlete) (bool, error) {
	var doc findingDoc
	if err := p.query(&doc, "finding", "list"); err != nil {
		return false, err
	}
	used := make([]bool, len(doc.Findings))
	fmt.Fprintf(p.Out, "\n-- truth against findings\n\n")
	row := func(cells ...any) {
		line := fmt.Sprintf("%-9s  %-12s %-8s %-14s %9s %9s %9s %9s  %s", cells...)
		fmt.Fprintln(p.Out, strings.TrimRight(line, " "))
	}
	row("SUBJECT", "KIND", "ACTION", "REGION", "TRUE CM2", "GOT CM2", "TRUE MM", "GOT MM", "RESULT")
	hits, total, falseUnchanged, falseOther := 0, 0, 0, 0
	all, err := p.wantedOfAll(people)
	if err != nil {
		return false, err
	}
	for k, a := range people {
		wants := all[k]
		for _, w := range wants {
			total++
			c := w.change
			best := -1
			for i, f := range doc.Findings {
				if used[i] || f.Subject != a.code || f.Kind != string(c.Kind) || f.Action != string(c.Action) || !samePlace(c, f) {
					continue
				}
				if best < 0 || f.AreaCM2 > doc.Findings[best].AreaCM2 {
					best = i
				}
			}
			trueMm := ""
			if c.PeakMm != 0 {
				trueMm = fmt.Sprintf("%+.1f", c.PeakMm)
			}
			if best < 0 {
				row(a.code, c.Kind, c.Action, c.Region, fmt.Sprintf("%.1f", c.AreaCM2), "", trueMm, "", "MISSED")
				continue
			}
			hits++
			used[best] = true
			f := doc.Findings[best]
			row(a.code, c.Kind, c.Action, c.Region, fmt.Sprintf("%.1f", c.AreaCM2), fmt.Sprintf("%.1f", f.AreaCM2), trueMm, signed(f.PeakMm), "found on the "+f.Part)
		}
		// The same change seen in another part of the same session is no second finding of it, and a
		// sleeve that is worn on the day is what it is said to be.
		for i, f := range doc.Findings {
			if used[i] || f.Subject != a.code {
				continue
			}
			if repeats(f, wants) || f.Kind == string(terms.Accessory) && len(a.after.Sleeves) > 0 {
				used[i] = true
				continue
			}
			word := "false alarm"
			if a.same {
				word = "FALSE ALARM on an unchanged person"
				falseUnchanged++
			} else {
				falseOther++
			}
			row(a.code, f.Kind, f.Action, f.Region, "", fmt.Sprintf("%.1f", f.AreaCM2), "", signed(f.PeakMm), word)
		}
	}
	var same []string
	for _, a := range people {
		if a.same {
			same = append(same, a.code)
		}
	}
	sort.Strings(same)
	fmt.Fprintf(p.Out, "\nfound %d of %d true changes; false alarms: %d over the unchanged %s, %d beside true changes\n", hits, total, falseUnchanged, strings.Join(same, ", "), falseOther)
	return hits*10 >= total*8 && falseUnchanged <= 2, nil
}

// repeats reports whether f says once more what is among the true changes.
func repeats(f finding, wants []want) bool {
	for _, w := range wants {
		c := w.change
		if f.Kind == string(c.Kind) && f.Action == string(c.Action) && samePlace(c, f) {
			return true
		}
	}
	return false
}
