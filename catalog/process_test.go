package catalog

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"mien/catalog/record"
)

// childEnv makes the test program append to a catalog instead: "DIR\nCOUNT\nBATCH",
// with a fourth line if it shall store a file before each batch.
const childEnv = "MIEN_CATALOG_CHILD"

func TestMain(m *testing.M) {
	if task := os.Getenv(childEnv); task != "" {
		if err := child(strings.Split(task, "\n")); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		return
	}
	os.Exit(m.Run())
}

// child appends batches and prints each id once the catalog has promised to keep it.
func child(args []string) error {
	count, _ := strconv.Atoi(args[1])
	batch, _ := strconv.Atoi(args[2])
	ctx := context.Background()
	c, err := Open(ctx, args[0], Options{})
	if err != nil {
		return err
	}
	defer c.Close()
	for i := range count {
		if len(args) > 3 {
			if _, _, _, err := c.Store().Put(ctx, strings.NewReader(fmt.Sprint("scan ", i))); err != nil {
				return err
			}
		}
		ids, err := c.Append(ctx, drafts(batch))
		if err != nil {
			return err
		}
		for _, id := range ids {
			fmt.Println(id)
		}
	}
	return nil
}

func spawn(t *testing.T, dir string, count, batch int) (*exec.Cmd, *bufio.Scanner) {
	t.Helper()
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), fmt.Sprintf("%s=%s\n%d\n%d", childEnv, dir, count, batch))
	cmd.Stderr = os.Stderr
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	return cmd, bufio.NewScanner(out)
}

// promisedIn opens a catalog afresh, verifies it, and checks that it holds the promised records.
func promisedIn(t *testing.T, dir string, promised []string) []record.Entry {
	t.Helper()
	ctx := context.Background()
	c, err := Open(ctx, dir, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	rep, err := c.Verify(ctx, nil)
	if err != nil || rep.Err() != nil {
		t.Fatal(err, rep.Err())
	}
	entries, err := c.Entries(ctx)
	if err != nil {
		t.Fatal(err)
	}
	have := map[string]bool{}
	stamps := map[record.Stamp]bool{}
	for _, e := range entries {
		have[e.ID.String()] = true
		if stamps[e.At] {
			t.Errorf("two records at %+v", e.At)
		}
		stamps[e.At] = true
	}
	for _, id := range promised {
		if !have[id] {
			t.Fatalf("record %s was promised and is not here (%d of %d)", id, len(have), len(promised))
		}
	}
	return entries
}

func clean(t *testing.T, dir string) {
	t.Helper()
	if _, err := exec.LookPath("git"); err != nil {
		t.Log("no git client: fsck is left out")
		return
	}
	cmd := exec.Command("git", "fsck", "--full", "--strict", "--no-dangling")
	cmd.Dir = filepath.Join(dir, recordsName)
	if out, err := cmd.CombinedOutput(); err != nil || strings.Contains(string(out), "error") || strings.Contains(string(out), "missing") {
		t.Errorf("git fsck: %v\n%s", err, out)
	}
}

func TestTwoProcessesKeepEveryRecord(t *testing.T) {
	dir := start(t).Dir()
	const each = 200
	a, outA := spawn(t, dir, each, 1)
	b, outB := spawn(t, dir, each, 1)
	var promised []string
	for _, out := range []*bufio.Scanner{outA, outB} {
		for out.Scan() {
			promised = append(promised, out.Text())
		}
	}
	for _, cmd := range []*exec.Cmd{a, b} {
		if err := cmd.Wait(); err != nil {
			t.Fatal(err)
		}
	}
	if len(promised) != 2*each {
		t.Fatalf("%d promised, want %d", len(promised), 2*each)
	}
	if entries := promisedIn(t, dir, promised); len(entries) != 2*each+1 {
		t.Errorf("%d records, want %d", len(entries), 2*each+1)
	}
	clean(t, dir)
}

// TestKilledProcessLosesNothingPromised ends a writer at random moments, without warning. MIEN_KILL_ROUNDS
// sets how often.
func TestKilledProcessLosesNothingPromised(t *testing.T) {
	rounds := 6
	if s := os.Getenv("MIEN_KILL_ROUNDS"); s != "" {
		rounds, _ = strconv.Atoi(s)
	}
	dir := start(t).Dir()
	var promised []string
	for round := range rounds {
		cmd, out := spawn(t, dir, 1_000_000, 1+round%3)
		first, heard := make(chan bool, 1), make(chan []string)
		go func() {
			var ids []string
			for out.Scan() {
				if len(out.Text()) == 52 { // the last line may be cut
					ids = append(ids, out.Text())
				}
				if len(ids) == 1 {
					first <- true
				}
			}
			heard <- ids
		}()
		<-first
		time.Sleep(time.Duration(round*37%60) * time.Millisecond)
		if err := cmd.Process.Kill(); err != nil {
			t.Fatal(err)
		}
		promised = append(promised, <-heard...)
		_ = cmd.Wait() // it was killed
		if round%10 == 5 || round == rounds-1 {
			promisedIn(t, dir, promised)
		}
	}
	c, err := Open(context.Background(), dir, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	if _, err := c.Append(context.Background(), drafts(1)); err != nil {
		t.Fatal(err)
	}
	t.Logf("%d records promised in %d rounds", len(promised), rounds)
	clean(t, dir)
}
