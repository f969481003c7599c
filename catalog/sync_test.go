package catalog

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

var (
	callWrite  = regexp.MustCompile(`\b(?:write|pwrite64)\((\d+)<([^>]*)>`)
	callSync   = regexp.MustCompile(`\b(?:fsync|fdatasync)\(\d+<([^>]*)>`)
	callRename = regexp.MustCompile(`\brename(?:at2?)?\(.*?"([^"]*)".*?"([^"]*)"`)
)

// TestEveryNameIsSyncedBeforeItCounts follows the system calls of a process that appends. Killing a process
// cannot show a missing sync, since the system still holds what was written; the order of the calls can:
// a file is synced after its last byte and before it gets its name, the folder is synced after that and
// before the branch moves on or the caller is told.
func TestEveryNameIsSyncedBeforeItCounts(t *testing.T) {
	if err := exec.Command("strace", "-f", "-qq", "-o", os.DevNull, "true").Run(); err != nil {
		t.Skip("needs strace, and leave to use it, to watch system calls")
	}
	dir := start(t).Dir()
	log := filepath.Join(t.TempDir(), "calls")
	cmd := exec.Command("strace", "-f", "-y", "-qq", "-s", "200", "-o", log,
		"-e", "trace=write,pwrite64,fsync,fdatasync,rename,renameat,renameat2", os.Args[0])
	cmd.Env = append(os.Environ(), fmt.Sprintf("%s=%s\n25\n2\nstore", childEnv, dir))
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%.500s", err, out)
	}
	text, err := os.ReadFile(log)
	if err != nil {
		t.Fatal(err)
	}
	unsynced := map[string]bool{} // files with bytes, and folders with names, that a power cut would take
	moves, told := 0, 0
	settled := func(when string) {
		for name := range unsynced {
			if strings.HasPrefix(name, dir) && !strings.HasSuffix(name, ".lock") {
				t.Errorf("%s: %s is not synced", when, name)
			}
		}
	}
	for line := range strings.Lines(string(text)) {
		if strings.Contains(line, "resumed>") {
			continue
		}
		if m := callWrite.FindStringSubmatch(line); m != nil {
			if m[1] == "1" {
				told++
				settled("told the caller")
			} else {
				unsynced[m[2]] = true
			}
		} else if m := callSync.FindStringSubmatch(line); m != nil {
			delete(unsynced, m[1])
		} else if m := callRename.FindStringSubmatch(line); m != nil {
			if unsynced[m[1]] {
				t.Errorf("%s gets its name before it is synced", m[1])
			}
			if strings.HasSuffix(m[2], "refs/heads/main") {
				moves++
				settled("branch moves")
			}
			unsynced[filepath.Dir(m[2])] = true
		}
	}
	if moves != 25 || told != 50 {
		t.Errorf("saw %d moves of the branch and %d answers, want 25 and 50", moves, told)
	}
}
