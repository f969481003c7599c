// Package demo walks the whole job on an invented coastal handball league: twelve athletes, three
// squads, two visits of the rig a year apart. Every step is a command line that a user would type, run
// through the program's own code; at the end what truly changed is held against what was found.
package demo

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"mien/asset"
	"mien/asset/invent"
)

// Stage is where the demonstration plays.
type Stage struct {
	Dir       string // made if need be; must be empty
	Out, Talk io.Writer
	Quiet     bool
	// Run runs one command line of the program at a given clock and returns its exit code.
	Run func(ctx context.Context, now func() time.Time, args []string, out, errOut io.Writer) int
}

const (
	firstSession  = "2025-09-14a-road"
	secondSession = "2026-10-03a-road"
)

// player runs steps against a clock that only the story moves.
type player struct {
	Stage
	ctx     context.Context
	now     time.Time
	catalog string
}

// Play walks the job in s.Dir and returns an error when a step fails.
func Play(ctx context.Context, s Stage) error {
	if entries, err := os.ReadDir(s.Dir); err == nil && len(entries) > 0 {
		return fmt.Errorf("demo %s: holds %d files, allowed is an empty or new folder", s.Dir, len(entries))
	}
	if err := os.MkdirAll(s.Dir, 0o700); err != nil {
		return err
	}
	p := &player{Stage: s, ctx: ctx, catalog: filepath.Join(s.Dir, "catalog")}
	started := time.Now()
	people := league()
	for _, act := range []func([]athlete) error{p.setUp, p.firstVisit, p.aYearLater, p.secondVisit, p.whatToDo} {
		if err := act(people); err != nil {
			return err
		}
	}
	ok, err := p.truthAgainstFindings(people)
	if err != nil {
		return err
	}
	fmt.Fprintf(s.Out, "\nreport    %s\ncatalog   %s\nthe walk took %.0f s\n", filepath.Join(s.Dir, "report", "index.html"), p.catalog, time.Since(started).Seconds())
	if !ok {
		return fmt.Errorf("demo: fewer than 80 %% of the true changes were found, or more than 2 false alarms on unchanged people")
	}
	return nil
}

// at moves the clock to a date, nine o'clock.
func (p *player) at(date, what string) {
	p.now, _ = time.Parse("2006-01-02 15:04", date+" 09:00")
	fmt.Fprintf(p.Out, "\n-- %s: %s\n", date, what)
}

// step prints a command line and runs it; its output follows, indented. Long output is cut after
// most lines.
func (p *player) step(most int, by string, args ...string) error {
	_, err := p.run(most, by, args...)
	return err
}

func (p *player) run(most int, by string, args ...string) ([]byte, error) {
	p.now = p.now.Add(4 * time.Minute)
	full := append([]string{"--catalog", p.catalog, "--by", by}, args...)
	if most > 0 {
		fmt.Fprintf(p.Out, "\n$ mien %s\n", shown(args))
	}
	var out, talk bytes.Buffer
	code := p.Run(p.ctx, func() time.Time { return p.now }, full, &out, &talk)
	if code != 0 {
		return nil, fmt.Errorf("demo: mien %s: exit code %d: %s", shown(args), code, strings.TrimSpace(talk.String()))
	}
	lines := strings.Split(strings.TrimRight(out.String()+talk.String(), "\n"), "\n")
	if most == 0 || len(lines) == 1 && lines[0] == "" {
		return out.Bytes(), nil
	}
	for i, l := range lines {
		if i == most && len(lines) > most+1 {
			fmt.Fprintf(p.Out, "  ... %d more lines\n", len(lines)-most)
			break
		}
		if r := []rune(l); len(r) > 178 {
			l = string(r[:177]) + "…"
		}
		fmt.Fprintln(p.Out, "  "+l)
	}
	return out.Bytes(), nil
}

// shown writes a command line the way a person would type it.
func shown(args []string) string {
	out := make([]string, len(args))
	for i, a := range args {
		out[i] = a
		if strings.ContainsAny(a, " ,;") && !strings.HasPrefix(a, "--") {
			out[i] = fmt.Sprintf("%q", a)
		}
	}
	line := []rune(strings.Join(out, " "))
	if len(line) > 150 {
		line = append(line[:149], '…')
	}
	return string(line)
}

// query runs a command with --json and reads its document.
func (p *player) query(into any, args ...string) error {
	out, err := p.run(0, "mgr-1", append(args, "--json")...)
	if err != nil {
		return err
	}
	return json.Unmarshal(out, into)
}

func (p *player) setUp(people []athlete) error {
	p.at("2025-09-01", "a new catalog, who works with it, who is in it")
	var csv strings.Builder
	csv.WriteString("code,name,squad,tier\n")
	codes := []string{"roster", "consent"}
	for _, a := range people {
		fmt.Fprintf(&csv, "%s,%s,%s,%d\n", a.code, a.name, a.squad, a.tier)
		codes = append(codes, a.code)
	}
	file := filepath.Join(p.Dir, "league.csv")
	if err := os.WriteFile(file, []byte(csv.String()), 0o600); err != nil {
		return err
	}
	for _, s := range [][]string{
		{"setup", "init", p.catalog}, {"setup", "people", "add", "lead-1", "lead"}, {"lead-1", "people", "add", "mgr-1", "manager"},
		{"lead-1", "people", "add", "art-1", "artist"}, {"lead-1", "people", "add", "priv-1", "privacy"},
		{"mgr-1", "roster", "import", file},
		append(append([]string{"priv-1"}, codes...), "--to", "capture,game", "--reference", "binder 3"),
	} {
		if err := p.step(4, s[0], s[1:]...); err != nil {
			return err
		}
	}
	return nil
}

// deliver makes the files of one session the way a solver hands them over.
func (p *player) deliver(people []athlete, session int, dir string) error {
	for i, a := range people {
		if err := p.ctx.Err(); err != nil {
			return err
		}
		look := a.before
		if session == 2 {
			look = a.after
		}
		who := invent.NewPerson(invent.Tuning, a.seed)
		shots := []invent.Shot{
			{Part: asset.PartBody, Look: look, Capture: captureOf(a, i, session, asset.PartBody), Beside: i%2 == 0},
			{Part: asset.PartHead, Look: look, Capture: captureOf(a, i, session, asset.PartHead), Beside: i%2 == 1},
		}
		if session == 2 {
			if a.noHead {
				shots = shots[:1]
			}
			shots = append(shots, mishaps(a, i)...)
		}
		if _, err := who.Deliver(p.ctx, dir, a.code, shots); err != nil {
			return err
		}
	}
	return nil
}

// mishaps are the faulty files among the second delivery.
func mishaps(a athlete, i int) []invent.Shot {
	second := captureOf(a, i, 2, asset.PartHead)
	second.Seed, second.GridTurnDeg = second.Seed+1, second.GridTurnDeg+11
	extra := invent.Shot{Part: asset.PartHead, Number: 2, Look: a.after, Capture: second}
	switch a.code {
	case "ath-0123":
		extra.Faults = []invent.Fault{invent.Truncated}
	case "ath-0131":
		extra.Faults = []invent.Fault{invent.NotANumber}
	case "ath-0190":
		other := invent.NewPerson(invent.Tuning, 977)
		extra.Person = &other
	default:
		return nil
	}
	return []invent.Shot{extra}
}

func (p *player) firstVisit(people []athlete) error {
	p.at("2025-09-16", "the drive of the first visit arrives")
	dir := filepath.Join(p.Dir, "drive-1")
	if err := p.deliver(people, 1, dir); err != nil {
		return err
	}
	if err := p.step(12, "mgr-1", "intake", dir, "--session", firstSession, "--rig", "rig-2"); err != nil {
		return err
	}
	p.at("2025-11-20", "artists make game assets from the scans")
	for _, a := range people {
		most := 0
		if a.code == people[0].code {
			most = 4
		}
		if err := p.step(most, "art-1", "derived", "add", a.code, a.code+"-likeness"); err != nil {
			return err
		}
	}
	fmt.Fprintf(p.Out, "  ... and so for the other %d\n", len(people)-1)
	return nil
}
