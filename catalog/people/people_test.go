package people

import (
	"errors"
	"testing"

	"mien/catalog/fault"
	"mien/catalog/fold/foldtest"
)

func TestWhoMayDoWhat(t *testing.T) {
	st, log := NewState(), foldtest.New("studio", "2026-01-05")
	if err := st.May("anybody", Erase); err != nil || !st.Unguarded() {
		t.Fatalf("with nobody registered everything is allowed: %v", err)
	}
	add := func(code string, rs ...Role) {
		t.Helper()
		d, err := Add(st, "lead-1", code, "Somebody", rs)
		if err := st.Apply(log.Add(t, d, err)); err != nil {
			t.Fatal(err)
		}
	}
	add("lead-1", Lead)
	add("artist-1", Artist)
	add("privacy-1", Privacy, Artist, Artist)
	for _, c := range []struct {
		by   string
		a    Action
		want bool
	}{
		{"lead-1", Decide, true}, {"artist-1", Decide, false}, {"artist-1", Sight, true}, {"lead-1", Erase, false},
		{"privacy-1", Erase, true}, {"stranger", Sight, false}, {"", Sight, false},
	} {
		err := st.May(c.by, c.a)
		var denied *fault.DeniedError
		if (err == nil) != c.want || err != nil && !errors.As(err, &denied) {
			t.Errorf("%s, %s: %v", c.by, c.a, err)
		}
	}
	if _, err := Add(st, "lead-1", "artist-1", "", []Role{Artist}); err == nil {
		t.Error("registered twice")
	}
	if _, err := SetRoles(st, "lead-1", "lead-1", []Role{Artist}); err == nil {
		t.Error("the last who may change roles gave them away")
	}
	if _, err := End(st, "lead-1", "lead-1", ""); err == nil {
		t.Error("the last who may change roles was ended")
	}
	d, err := End(st, "lead-1", "artist-1", "left")
	if err := st.Apply(log.Add(t, d, err)); err != nil {
		t.Fatal(err)
	}
	if len(d.After) != 1 || st.May("artist-1", Sight) == nil {
		t.Error("an ended person still may")
	}
	_, err = AddKey(st, "lead-1", "lead-1", "nonsense")
	if err == nil {
		t.Error("a key that is none was taken")
	}
	d, err = AddKey(st, "lead-1", "lead-1", "ssh-ed25519 AAAAC3Nz desk of somebody")
	if err := st.Apply(log.Add(t, d, err)); err != nil {
		t.Fatal(err)
	}
	if p, _ := st.Get("lead-1"); p.Keys[0] != "ssh-ed25519 AAAAC3Nz" {
		t.Errorf("the key's comment is kept in the open: %q", p.Keys[0])
	}
}

func TestEveryActionHasARole(t *testing.T) {
	for a, rs := range allowed {
		if len(rs) == 0 {
			t.Errorf("nobody may %s", a)
		}
	}
	if _, err := ParseRole("leed"); err == nil {
		t.Error("an unknown role was read")
	}
}
