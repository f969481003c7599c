package loop

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"mien/asset"
	"mien/catalog/policy"
)

// folder makes files of the given names, content after "=" or a letter.
func folder(t *testing.T, files ...string) string {
	t.Helper()
	dir := t.TempDir()
	for _, f := range files {
		name, text, ok := strings.Cut(f, "=")
		if !ok {
			text = "x"
		}
		path := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

func read(t *testing.T, dir, subject string) *delivery {
	t.Helper()
	d, err := readDelivery(context.Background(), dir, subject, false, policy.Default())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(d.close)
	return d
}

func TestNamesMakeTakes(t *testing.T) {
	d := read(t, folder(t,
		"ath-0147_head_neutral_01.glb", "ath-0147_head_neutral_01_base-color.png", "ath-0147_Head_Neutral_02.GLB",
		"ath-0203_body_a-pose_01.glb", "notes.txt", "Thumbs.db", "._x.glb", "PICT0412.jpg"), "")
	var got []string
	for _, k := range d.takes {
		got = append(got, k.Subject+" "+k.Shot.String()+" "+strings.Join(names(k), " "))
	}
	want := []string{
		"ath-0147 head/neutral ath-0147_head_neutral_01.glb ath-0147_head_neutral_01_base-color.png",
		"ath-0147 head/neutral ath-0147_Head_Neutral_02.GLB",
		"ath-0203 body/a-pose ath-0203_body_a-pose_01.glb",
	}
	if strings.Join(got, "\n") != strings.Join(want, "\n") {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	if d.litter != 2 || len(d.unfiled) != 2 {
		t.Errorf("%d files of litter and %d unfiled, want 2 and 2", d.litter, len(d.unfiled))
	}
	if c := d.takes[0].Files[1].Channel; c != asset.BaseColor {
		t.Errorf("texture holds %q, want base-color", c)
	}
}

func TestSubjectServesNamesWithoutACode(t *testing.T) {
	d := read(t, folder(t, "head_neutral_01.glb"), "ath-0147")
	if len(d.takes) != 1 || d.takes[0].Subject != "ath-0147" {
		t.Fatalf("got %+v", d.takes)
	}
	_, err := readDelivery(context.Background(), folder(t, "ath-0203_head_neutral_01.glb"), "ath-0147", false, policy.Default())
	if err == nil || !strings.Contains(err.Error(), "says it belongs to ath-0203") {
		t.Errorf("another subject's file: %v", err)
	}
}

func TestManifestGoesBeforeNames(t *testing.T) {
	d := read(t, folder(t, "a.glb", "skin.png", `delivery.yaml=session: 2026-10-03a-road
captured: 2026-10-03
rig: rig-2
takes:
  - {subject: ath-0147, part: head, take: 2, light: cross, files: [a.glb, skin.png]}
`), "")
	if len(d.takes) != 1 || d.takes[0].Number != 2 || len(d.takes[0].Files) != 2 || d.takes[0].Files[1].Light != asset.LightCross {
		t.Fatalf("got %+v", d.takes)
	}
	if d.session.Session != "2026-10-03a-road" || len(d.unfiled) != 0 {
		t.Errorf("session %+v, unfiled %v", d.session, d.unfiled)
	}
}

func TestManifestFaultsNameThePlace(t *testing.T) {
	for text, want := range map[string]string{
		"takes:\n  - {subject: ath-0147, part: head, files: [none.glb]}\n":     `take 1: file "none.glb" is not in the delivery`,
		"takes:\n  - {subject: ath-0147, part: head, files: [../../x]}\n":      `take 1: file "../../x" leaves the folder`,
		"takes:\n  - {subject: ath-0147, part: tail, files: [a.glb]}\n":        `take 1: part "tail" is not in the policy's shot list`,
		"takes:\n  - {part: head, files: [a.glb]}\n":                           "take 1: no subject",
		"takes:\n  - {subject: ath-0147, part: head, files: [a.glb, a.glb]}\n": `take 1: file "a.glb" is listed twice`,
		"when: today\n": "unknown field",
	} {
		_, err := readDelivery(context.Background(), folder(t, "a.glb", "delivery.yaml="+text), "", false, policy.Default())
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: got %v, want %q", text, err, want)
		}
	}
}

func TestGLTFBringsItsFiles(t *testing.T) {
	d := read(t, folder(t, `ath-0147_head_neutral_01.gltf={"buffers":[{"uri":"geo.bin"}],"images":[{"uri":"skin.png"}]}`, "geo.bin", "skin.png", "other.png"), "")
	if got := names(d.takes[0]); strings.Join(got, " ") != "ath-0147_head_neutral_01.gltf geo.bin skin.png" {
		t.Errorf("take holds %q", got)
	}
	if len(d.unfiled) != 1 {
		t.Errorf("unfiled %v", d.unfiled)
	}
}

func TestLinksAreRefused(t *testing.T) {
	dir := folder(t, "ath-0147_head_neutral_01.glb")
	if err := os.Symlink("/etc/hosts", filepath.Join(dir, "link.png")); err != nil {
		t.Fatal(err)
	}
	_, err := readDelivery(context.Background(), dir, "", false, policy.Default())
	if err == nil || !strings.Contains(err.Error(), "link.png: a link or special file") {
		t.Errorf("got %v", err)
	}
}

func TestSurenessInWords(t *testing.T) {
	for v, want := range map[float64]string{.95: "sure", .7: "likely", .3: "unsure"} {
		if got := Sureness(v); got != want {
			t.Errorf("%g is %q, want %q", v, got, want)
		}
	}
}
