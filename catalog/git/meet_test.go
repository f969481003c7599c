package git

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"math/rand"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// add appends n files that only this site has.
func add(t testing.TB, r *Repo, site string, from, n int) Hash {
	t.Helper()
	head, err := r.Head()
	if err != nil {
		head = Hash{}
	}
	for i := range n {
		f := File{Path: fmt.Sprintf("e/%s/%02d/%d.json", site, (from+i)%5, from+i), Data: fmt.Appendf(nil, `{"of":"%s %d"}`, site, from+i)}
		if head, err = r.Append(head, Batch{Files: []File{f}, Author: site, When: time.Unix(1_790_000_000+int64(from+i), 0), Message: "1 record"}); err != nil {
			t.Fatal(err)
		}
	}
	return head
}

// clone returns a repository with all that r holds.
func clone(t testing.TB, r *Repo) *Repo {
	t.Helper()
	s := fresh(t)
	head, err := r.Head()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.Receive(context.Background(), r, head, nil); err != nil {
		t.Fatal(err)
	}
	if err := s.Advance(Hash{}, head); err != nil {
		t.Fatal(err)
	}
	if err := s.Received(head); err != nil {
		t.Fatal(err)
	}
	return s
}

// meet brings two repositories to the same commit.
func meet(t testing.TB, a, b *Repo) {
	t.Helper()
	ctx := context.Background()
	ha, _ := a.Head()
	hb, _ := b.Head()
	if _, err := a.Receive(ctx, b, hb, nil); err != nil {
		t.Fatal(err)
	}
	if _, err := b.Receive(ctx, a, ha, nil); err != nil {
		t.Fatal(err)
	}
	rel, err := a.Relate(ctx, ha, hb)
	if err != nil {
		t.Fatal(err)
	}
	to := map[Relation]Hash{Equal: ha, Ahead: ha, Behind: hb}[rel]
	if rel == Apart {
		one, err := a.Unite(ctx, ha, hb)
		if err != nil {
			t.Fatal(err)
		}
		if to, err = b.Unite(ctx, hb, ha); err != nil {
			t.Fatal(err)
		}
		if one != to {
			t.Fatalf("%s from one side, %s from the other", one.Short(), to.Short())
		}
	}
	for _, m := range []struct {
		r    *Repo
		from Hash
	}{{a, ha}, {b, hb}} {
		if err := m.r.Advance(m.from, to); err != nil {
			t.Fatal(err)
		}
	}
	for _, err := range []error{a.Received(hb), b.Received(ha)} {
		if err != nil {
			t.Fatal(err)
		}
	}
}

func tree(t testing.TB, r *Repo) Hash {
	t.Helper()
	h, err := r.Head()
	if err != nil {
		t.Fatal(err)
	}
	c, err := r.Commit(h)
	if err != nil {
		t.Fatal(err)
	}
	return c.Tree
}

// Three sites that write and meet in any order end with the same files, the same tree, and a history that
// never took anything away.
func TestSitesMeetInAnyOrder(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		root := fresh(t)
		add(t, root, "zero", 0, 1)
		sites := []*Repo{root, clone(t, root), clone(t, root)}
		want := map[string]string{}
		for n := range rapid.IntRange(2, 7).Draw(rt, "steps") {
			i := rapid.IntRange(0, 2).Draw(rt, "site")
			if rapid.Bool().Draw(rt, "meets") {
				meet(t, sites[i], sites[(i+1)%3])
				continue
			}
			add(t, sites[i], fmt.Sprintf("site-%d", i), 10*n, rapid.IntRange(1, 3).Draw(rt, "records"))
		}
		for _, s := range sites {
			h, _ := s.Head()
			maps.Copy(want, all(t, s, h))
		}
		meet(t, sites[0], sites[1])
		meet(t, sites[1], sites[2])
		meet(t, sites[2], sites[0])
		for i, s := range sites {
			h, _ := s.Head()
			if first, _ := sites[0].Head(); h != first {
				t.Errorf("site %d stands at %s, site 0 at %s", i, h.Short(), first.Short())
			}
			if got := all(t, s, h); !maps.Equal(got, want) {
				t.Errorf("site %d has %d files, want %d", i, len(got), len(want))
			}
			rep, err := s.Verify(context.Background(), nil)
			if err != nil || len(rep.Faults) > 0 || len(rep.Notes) > 0 {
				t.Errorf("site %d: %v %+v", i, err, rep)
			}
		}
	})
}

// Relate is held against a walk over everything, on histories whose clocks are wrong.
func TestRelateAgainstAWalkOverEverything(t *testing.T) {
	ctx := context.Background()
	r := fresh(t)
	rng := rand.New(rand.NewSource(5))
	w := newPackWriter()
	empty := w.add(typeTree, nil)
	var commits []Hash
	above := map[Hash]map[Hash]bool{}
	for i := range 60 {
		c := &Commit{Tree: empty, Author: "a", When: time.Unix(int64(rng.Intn(50)), 0), Message: fmt.Sprint(i)}
		reach := map[Hash]bool{}
		for range min(len(commits), 1+rng.Intn(2)) {
			p := commits[max(0, len(commits)-1-rng.Intn(6))]
			c.Parents = append(c.Parents, p)
			maps.Copy(reach, above[p])
			reach[p] = true
		}
		h := w.add(typeCommit, c.encode())
		commits, above[h] = append(commits, h), reach
	}
	if _, err := w.place(r.obj.folder()); err != nil {
		t.Fatal(err)
	}
	if err := r.obj.refresh(); err != nil {
		t.Fatal(err)
	}
	seen := map[Relation]int{}
	for _, a := range commits {
		for _, b := range commits {
			want := Apart
			switch {
			case a == b:
				want = Equal
			case above[a][b]:
				want = Ahead
			case above[b][a]:
				want = Behind
			}
			got, err := r.Relate(ctx, a, b)
			if err != nil || got != want {
				t.Fatalf("%s to %s: %d, want %d, %v", a.Short(), b.Short(), got, want, err)
			}
			seen[got]++
		}
	}
	if len(seen) != 4 {
		t.Errorf("relations seen: %v", seen)
	}
}

func TestUniteRefusesOtherBytes(t *testing.T) {
	ctx := context.Background()
	a := fresh(t)
	base := add(t, a, "zero", 0, 1)
	b := clone(t, a)
	for r, text := range map[*Repo]string{a: "one", b: "two"} {
		if _, err := r.Append(base, Batch{Files: []File{{Path: "e/x/1.json", Data: []byte(text)}}, Author: "x", When: time.Unix(1, 0)}); err != nil {
			t.Fatal(err)
		}
	}
	ha, _ := a.Head()
	hb, _ := b.Head()
	onlyB, onlyA, err := a.Differ(ctx, ha, b, hb)
	if err != nil || len(onlyA) != 1 || len(onlyB) != 1 || onlyA[0].Path() != "e/x/1.json" || onlyB[0].Path() != "e/x/1.json" {
		t.Fatal(onlyA, onlyB, err)
	}
	if _, err := a.Receive(ctx, b, hb, nil); err != nil {
		t.Fatal(err)
	}
	var damage *DamageError
	if _, err := a.Unite(ctx, ha, hb); !errors.As(err, &damage) || damage.Object != "e/x/1.json" {
		t.Errorf("%v", err)
	}
}

// A copy that is stopped at any object is whole as far as it came, is no damage, and goes on.
func TestReceiveCutShort(t *testing.T) {
	a := fresh(t)
	add(t, a, "zero", 0, 2)
	b := clone(t, a)
	head := add(t, a, "one", 10, 9)
	for stop := 1; ; stop += 7 {
		ctx, cancel := context.WithCancel(context.Background())
		n, err := b.Receive(ctx, a, head, func(n int) {
			if n == stop {
				cancel()
			}
		})
		cancel()
		rep, verr := b.Verify(context.Background(), nil)
		if verr != nil || len(rep.Faults) > 0 {
			t.Fatalf("stopped at %d: %v %+v", stop, verr, rep)
		}
		if err == nil {
			if n != stop && n > stop {
				t.Errorf("%d objects", n)
			}
			break
		}
	}
	if rep, _ := b.Verify(context.Background(), nil); len(rep.Notes) != 1 {
		t.Errorf("notes %v", rep.Notes)
	}
	from, _ := b.Head()
	if err := b.Advance(from, head); err != nil {
		t.Fatal(err)
	}
	if err := b.Received(head); err != nil {
		t.Fatal(err)
	}
	if rep, _ := b.Verify(context.Background(), nil); len(rep.Notes) != 0 || len(rep.Faults) != 0 {
		t.Errorf("%+v", rep)
	}
	if tree(t, a) != tree(t, b) {
		t.Error("trees differ")
	}
}

// What Receive brings is checked against its name.
func TestReceiveRefusesDamage(t *testing.T) {
	a := fresh(t)
	head := add(t, a, "zero", 0, 3)
	names, _ := filepath.Glob(filepath.Join(a.dir, "objects/pack/*.pack"))
	for _, name := range names {
		b, _ := os.ReadFile(name)
		for i := range b {
			if string(b[i:min(len(b), i+8)]) == `{"of":"z` {
				b[i+8] = '9'
			}
		}
		os.Chmod(name, 0o600)
		os.WriteFile(name, b, 0o600)
	}
	again, err := Open(a.dir)
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	var damage *DamageError
	if _, err := fresh(t).Receive(context.Background(), again, head, nil); !errors.As(err, &damage) {
		t.Errorf("%v", err)
	}
}

// An object that is sound in itself but not the one its name promises does not come in.
func TestReceiveRefusesAnotherObject(t *testing.T) {
	a := fresh(t)
	w := newPackWriter()
	blob := w.add(typeBlob, []byte("swapped"))
	w.objects[0].hash[0] ^= 1
	promised := w.objects[0].hash
	c := &Commit{Tree: w.add(typeTree, encodeTree([]entry{{name: "x", hash: promised}})), Author: "x", When: time.Unix(1, 0)}
	head := w.add(typeCommit, c.encode())
	if _, err := w.place(a.obj.folder()); err != nil {
		t.Fatal(err)
	}
	if err := a.obj.refresh(); err != nil {
		t.Fatal(err)
	}
	var damage *DamageError
	_, err := fresh(t).Receive(context.Background(), a, head, nil)
	if !errors.As(err, &damage) || !strings.Contains(damage.Object, promised.Short()) || !strings.Contains(damage.Fault, blob.Short()) {
		t.Errorf("%v", err)
	}
}

func TestTidyLeavesFewPacks(t *testing.T) {
	r := fresh(t)
	head := add(t, r, "zero", 0, 15)
	left := filepath.Join(r.obj.dir, "tmp_mien_left")
	os.WriteFile(left, []byte("x"), 0o600)
	old := time.Now().Add(-25 * time.Hour)
	os.Chtimes(left, old, old)
	fewer, err := r.Tidy()
	if err != nil || fewer < 10 || r.Packs() != 15-fewer {
		t.Errorf("%d fewer, %d stand, %v", fewer, r.Packs(), err)
	}
	if _, err := os.Stat(left); err == nil {
		t.Error("what a sync left yesterday still stands")
	}
	if n := len(all(t, r, head)); n != 15 {
		t.Errorf("%d files, want 15", n)
	}
}

// A git client reads what two sites made of their histories, and finds nothing to object to.
func TestGitReadsAMeeting(t *testing.T) {
	if _, err := exec.LookPath("git"); err != nil {
		t.Skip("needs the git client, to judge the repository independently")
	}
	a := fresh(t)
	add(t, a, "zero", 0, 2)
	b := clone(t, a)
	add(t, a, "one", 10, 2)
	add(t, b, "two", 20, 3)
	meet(t, a, b)
	for _, r := range []*Repo{a, b} {
		out, err := exec.Command("git", "-C", r.dir, "fsck", "--full", "--strict").CombinedOutput()
		if err != nil {
			t.Errorf("fsck: %v\n%s", err, out)
		}
		out, err = exec.Command("git", "-C", r.dir, "ls-tree", "-r", "--name-only", "main").Output()
		if err != nil || len(out) == 0 {
			t.Errorf("ls-tree: %v", err)
		}
	}
}
