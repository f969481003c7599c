package main

import (
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"mien/catalog/people"
	"mien/catalog/policy"
	"mien/catalog/record"
	"mien/cmd/mien/internal/loop"
)

func newPolicy(a *app) *cobra.Command {
	c := &cobra.Command{Use: "policy", Short: "The studio's numbers: shot list, tolerances, weights, minutes, ages", Args: cobra.NoArgs}
	show := &cobra.Command{
		Use: "show", Short: "Print the policy in force; a catalog need not be given for the default", Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			if a.catalog == "" {
				fmt.Fprint(a.out, policy.DefaultYAML())
				return nil
			}
			l, err := a.open(c.Context())
			if err != nil {
				return err
			}
			defer l.Close()
			fmt.Fprint(a.out, l.State.Policy.YAML)
			return nil
		},
	}
	check := &cobra.Command{
		Use: "check FILE.yaml", Short: "Check a policy file without recording it", Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			text, err := os.ReadFile(args[0])
			if err != nil {
				return err
			}
			if _, err := policy.Parse(text); err != nil {
				return fmt.Errorf("%s: %w", args[0], err)
			}
			fmt.Fprintf(a.out, "%s: sound\n", args[0])
			return nil
		},
	}
	var why string
	set := &cobra.Command{
		Use: "set FILE.yaml", Short: "Record a policy; it holds from now on", Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			text, err := os.ReadFile(args[0])
			if err != nil {
				return err
			}
			return a.record(c, people.SetPolicy, func(l *loop.Loop) (record.Draft, error) {
				d, err := policy.Set(l.State.Policy, l.By(), text, why)
				if err != nil {
					err = fmt.Errorf("%s: %w", args[0], err)
				}
				return d, err
			})
		},
	}
	set.Flags().StringVar(&why, "why", "", "the reason")
	c.AddCommand(show, check, set)
	return c
}
