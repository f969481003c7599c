package main

import (
	"context"
	"io"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"mien/cmd/mien/internal/demo"
)

func newDemo(a *app) *cobra.Command {
	c := &cobra.Command{
		Use:   "demo [DIR]",
		Short: "Walk the whole job on an invented league of twelve athletes",
		Long: "demo invents a coastal handball league of twelve athletes, captures them twice, and walks the whole job with\n" +
			"the real commands. It ends with a table of what truly changed against what was found.",
		Args: cobra.MaximumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			dir := ""
			if len(args) == 1 {
				dir = args[0]
			} else {
				var err error
				if dir, err = os.MkdirTemp("", "mien-demo-"); err != nil {
					return err
				}
			}
			if os.Getenv("MIEN_CACHE") == "" { // everything that the walk makes lies in its own folder
				os.Setenv("MIEN_CACHE", filepath.Join(dir, "cache"))
				defer os.Unsetenv("MIEN_CACHE")
			}
			return demo.Play(c.Context(), demo.Stage{
				Dir: dir, Out: a.out, Talk: a.err, Quiet: a.quiet,
				Run: func(ctx context.Context, now func() time.Time, args []string, out, errOut io.Writer) int {
					return runAt(ctx, now, args, a.in, out, errOut)
				},
			})
		},
	}
	return c
}
