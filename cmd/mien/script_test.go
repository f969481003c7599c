package main

import (
	"context"
	"io"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){
		"mien": func() { os.Exit(runScripted(os.Args[1:], os.Stdin, os.Stdout, os.Stderr)) },
	})
}

// runScripted runs one command line at the clock that $MIEN_TEST_NOW names, so that a script can play
// over months.
func runScripted(args []string, in io.Reader, out, errOut io.Writer) int {
	now := time.Now
	if s := os.Getenv("MIEN_TEST_NOW"); s != "" {
		t, err := time.Parse(time.DateOnly, s)
		if err != nil {
			panic(err)
		}
		start := time.Now()
		now = func() time.Time { return t.Add(9*time.Hour + time.Since(start)) }
	}
	return runAt(context.Background(), now, args, in, out, errOut)
}

// TestScripts reads testdata/script/*.txtar as sessions of a user. Beyond the usual commands a script
// has `exits N COMMAND...`, which demands that very exit code, and `deliver`, which makes the files of
// an invented person (see [deliver]), `rewrite`, which puts them into another format (see [rewrite]), and `absent` and `absent-file`, which search a whole folder (see [absent]).
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata/script",
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Setup: func(e *testscript.Env) error {
			e.Setenv("MIEN_CACHE", e.WorkDir+"/cache")
			e.Setenv("MIEN_CATALOG", e.WorkDir+"/catalog")
			e.Setenv("MIEN_TEST_NOW", "2026-01-10")
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){"exits": exits, "deliver": deliver, "rewrite": rewrite, "absent": absent, "absent-file": absentFile},
	})
}

// exits runs `mien ARGS` and demands exit code N.
func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits N mien ARGS...")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	err = ts.Exec(args[1], args[2:]...)
	got := 0
	if err != nil {
		text := err.Error()
		i := strings.LastIndex(text, "exit status ")
		if i < 0 {
			ts.Fatalf("%v", err)
		}
		got, err = strconv.Atoi(text[i+len("exit status "):])
		ts.Check(err)
	}
	if got != want {
		ts.Fatalf("exit code %d, want %d", got, want)
	}
}
