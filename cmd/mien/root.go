package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"os/signal"
	"os/user"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"mien/cmd/mien/internal/loop"
	"mien/cmd/mien/internal/ui"
)

// app carries what every command needs: where to read and write, the global flags, the clock.
type app struct {
	in       io.Reader
	out, err io.Writer
	now      func() time.Time

	catalog string
	json    bool
	quiet   bool
	gate    bool
	color   string
	by      string
}

// run executes one command line and returns the exit code.
func run(args []string, in io.Reader, out, errOut io.Writer) int {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	return runAt(ctx, time.Now, args, in, out, errOut)
}

// runAt is [run] with the clock and the context given, as the demonstration and the tests need it.
func runAt(ctx context.Context, now func() time.Time, args []string, in io.Reader, out, errOut io.Writer) int {
	a := &app{in: in, out: out, err: errOut, now: now}
	root := newRoot(a)
	root.SetArgs(args)
	root.SetIn(in)
	root.SetOut(out)
	root.SetErr(errOut)
	err := root.ExecuteContext(ctx)
	ui.PrintError(errOut, err)
	return ui.ExitCode(err)
}

func newRoot(a *app) *cobra.Command {
	root := &cobra.Command{
		Use:   "mien",
		Short: "Track scan assets of athletes and measure how a likeness changed",
		Long: "mien keeps every scan of every athlete by content, measures what changed between two scans of one\n" +
			"person in mm and cm2, raises rescan requests, and lists which game assets are out of date.",
		SilenceErrors: true,
		SilenceUsage:  true,
		Args: func(_ *cobra.Command, args []string) error {
			if len(args) > 0 {
				return fmt.Errorf("no such command: %q", args[0])
			}
			return nil
		},
		RunE: func(c *cobra.Command, _ []string) error { return c.Help() },
		PersistentPreRunE: func(*cobra.Command, []string) error {
			if a.color != "auto" && a.color != "always" && a.color != "never" {
				return ui.Misuse("--color %q: allowed are auto, always, never", a.color)
			}
			return nil
		},
	}
	f := root.PersistentFlags()
	f.StringVar(&a.catalog, "catalog", os.Getenv("MIEN_CATALOG"), "the catalog's folder (default: $MIEN_CATALOG)")
	f.BoolVar(&a.json, "json", false, "print the result as one JSON document")
	f.BoolVar(&a.quiet, "quiet", false, "print the result only, no progress and no talk")
	f.BoolVar(&a.gate, "gate", false, "exit with 3 when the result needs attention")
	f.StringVar(&a.color, "color", "auto", "colour in the terminal: auto, always or never")
	f.StringVar(&a.by, "by", "", "code of the person who acts (default: the login name)")
	root.SetFlagErrorFunc(func(c *cobra.Command, err error) error {
		return ui.Hint(&ui.UsageError{Err: err}, "%s --help", c.CommandPath())
	})
	cobra.EnableCommandSorting = false
	for _, g := range commands(a) {
		root.AddGroup(&cobra.Group{ID: g.title, Title: g.title})
		for _, c := range g.commands {
			c.GroupID = g.title
			root.AddCommand(c)
		}
	}
	guardArgs(root)
	return root
}

// guardArgs turns a wrong count of arguments into a usage error, on c and all commands below it.
func guardArgs(c *cobra.Command) {
	if check := c.Args; check != nil {
		c.Args = func(c *cobra.Command, args []string) error {
			if err := check(c, args); err != nil {
				if c.HasParent() {
					err = fmt.Errorf("%s: %w", c.Name(), err)
				}
				return ui.Hint(&ui.UsageError{Err: err}, "%s --help", c.CommandPath())
			}
			return nil
		}
	}
	for _, sub := range c.Commands() {
		guardArgs(sub)
	}
}

// open opens the catalog that the flags name.
func (a *app) open(ctx context.Context) (*loop.Loop, error) {
	if a.catalog == "" {
		return nil, noCatalog()
	}
	return loop.Open(ctx, a.catalog, loop.Options{By: a.person(), Now: a.now})
}

func noCatalog() error {
	return ui.Hint(ui.Misuse("no catalog given"), "add --catalog DIR or set MIEN_CATALOG; make one with: mien init DIR")
}

// person returns the code of the person who acts.
func (a *app) person() string {
	if a.by != "" {
		return a.by
	}
	if u, err := user.Current(); err == nil {
		return strings.ToLower(u.Username)
	}
	return "unknown"
}

// say writes one line of talk to stderr unless --quiet is given.
func (a *app) say(format string, args ...any) {
	if !a.quiet {
		fmt.Fprintf(a.err, format+"\n", args...)
	}
}

// progress returns the display for long work.
func (a *app) progress() *ui.Progress { return ui.NewProgress(a.err, a.quiet) }

// table prints t, its header faint where colour is wanted.
func (a *app) table(t *ui.Table) error {
	f, ok := a.out.(*os.File)
	t.Faint = a.color == "always" || a.color == "auto" && ok && term.IsTerminal(int(f.Fd())) && os.Getenv("NO_COLOR") == ""
	return t.Print(a.out)
}

// attend returns the error that makes exit code 3 when --gate is given and the result needs attention.
func (a *app) attend(needed bool, why string) error {
	if a.gate && needed {
		return &ui.AttentionError{Why: why}
	}
	return nil
}

// dayFlag reads a date of the command line; "" gives the zero time.
func dayFlag(flag, s string) (time.Time, error) {
	if s == "" {
		return time.Time{}, nil
	}
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		return t, ui.Misuse("--%s %q: allowed are dates like 2026-10-03", flag, s)
	}
	return t, nil
}
