package main

import (
	"fmt"
	"runtime/debug"

	"github.com/spf13/cobra"

	"mien/cmd/mien/internal/loop"
)

func newVersion(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "version",
		Short: "Print the program's build and the comparison engine's number",
		Args:  cobra.NoArgs,
		RunE: func(*cobra.Command, []string) error {
			build := "unknown build"
			if info, ok := debug.ReadBuildInfo(); ok {
				for _, s := range info.Settings {
					if s.Key == "vcs.revision" {
						build = s.Value
					}
				}
			}
			_, err := fmt.Fprintf(a.out, "mien, %s, engine %s\n", build, loop.Engine)
			return err
		},
	}
}
