package sync

import (
	"context"
	"fmt"
	"math/rand"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"mien/catalog"
	"mien/catalog/roster"
)

// childEnv makes the test program sync two copies instead: "DIR\nREMOTE".
const childEnv = "MIEN_SYNC_CHILD"

func child(args []string) int {
	ctx := context.Background()
	c, err := catalog.Open(ctx, args[0], catalog.Options{})
	if err == nil {
		defer c.Close()
		_, err = Run(ctx, c, args[1], Options{WithKeys: true})
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	return 0
}

func spawn(t *testing.T, dir, remote string) *exec.Cmd {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), fmt.Sprintf("%s=%s\n%s", childEnv, dir, remote))
	cmd.Stderr = os.Stderr
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	return cmd
}

// A sync that is killed at any moment, also the first one, which makes the copy, harms neither side. What
// both wrote in between is there in the end.
func TestASyncIsKilled(t *testing.T) {
	a := first(t)
	a.do(roster.Add(a.state().Roster, "manager-1", roster.New{Code: "ath-0147"}))
	dir := filepath.Join(t.TempDir(), "copy")
	rng := rand.New(rand.NewSource(3))
	wrote := 0
	for round := range 14 {
		a.scan("ath-0147", fmt.Sprint("here ", round))
		wrote++
		cmd := spawn(t, a.Dir(), dir)
		time.Sleep(time.Duration(5+rng.Intn(90)) * time.Millisecond)
		cmd.Process.Kill()
		cmd.Wait()
		a.whole()
		b, err := catalog.Open(context.Background(), dir, catalog.Options{})
		if err != nil {
			continue // the copy was not finished
		}
		p := &place{TB: t, Catalog: b, n: 1000 + round}
		p.whole()
		if _, err := p.state().Roster.Get("ath-0147"); err == nil {
			p.scan("ath-0147", fmt.Sprint("there ", round))
			wrote++
		}
		b.Close()
	}
	a.sync(dir, Options{WithKeys: true})
	b := open(t, dir, 0)
	for _, s := range []*place{a, b} {
		s.whole()
		if n := len(s.state().Session.Takes("")); n != wrote {
			t.Errorf("%s: %d takes, wrote %d", s.Site(), n, wrote)
		}
		if left, err := s.Awaited(); err != nil || len(left) > 0 {
			t.Errorf("%s awaits %d files, %v", s.Site(), len(left), err)
		}
	}
	t.Logf("%d takes", wrote)
}

// Two processes let the same copies meet from either side at the same time: neither waits for ever.
func TestTwoSyncsAtOnce(t *testing.T) {
	a := first(t)
	a.do(roster.Add(a.state().Roster, "manager-1", roster.New{Code: "ath-0147"}))
	dir := filepath.Join(t.TempDir(), "copy")
	a.sync(dir, Options{WithKeys: true})
	b := open(t, dir, 0)
	for round := range 3 {
		a.scan("ath-0147", fmt.Sprint("here ", round))
		b.n = 100
		b.scan("ath-0147", fmt.Sprint("there ", round))
		one, two := spawn(t, a.Dir(), dir), spawn(t, dir, a.Dir())
		for _, cmd := range []*exec.Cmd{one, two} {
			if err := cmd.Wait(); err != nil {
				t.Error(err)
			}
		}
	}
	a.whole()
	b.whole()
	if picture(a.state()) != picture(b.state()) {
		t.Error("the copies differ")
	}
}
