package main

import (
	"strings"

	"github.com/spf13/cobra"

	"mien/catalog/people"
	"mien/catalog/record"
	"mien/cmd/mien/internal/loop"
	"mien/cmd/mien/internal/ui"
)

func newPeople(a *app) *cobra.Command {
	c := &cobra.Command{Use: "people", Short: "Who works with the catalog, and what each may do", Args: cobra.NoArgs}
	var name string
	add := &cobra.Command{
		Use: "add CODE ROLE...", Short: "Register a person as manager, artist, lead, operator or privacy", Args: cobra.MinimumNArgs(2),
		RunE: func(c *cobra.Command, args []string) error {
			return a.record(c, people.People, func(l *loop.Loop) (record.Draft, error) {
				roles, err := rolesOf(args[1:])
				if err != nil {
					return record.Draft{}, err
				}
				return people.Add(l.State.People, l.By(), args[0], name, roles)
			})
		},
	}
	add.Flags().StringVar(&name, "name", "", "the person's name; kept sealed")
	role := &cobra.Command{
		Use: "role CODE ROLE...", Short: "Replace a person's roles", Args: cobra.MinimumNArgs(2),
		RunE: func(c *cobra.Command, args []string) error {
			return a.record(c, people.People, func(l *loop.Loop) (record.Draft, error) {
				roles, err := rolesOf(args[1:])
				if err != nil {
					return record.Draft{}, err
				}
				return people.SetRoles(l.State.People, l.By(), args[0], roles)
			})
		},
	}
	list := &cobra.Command{
		Use: "list", Short: "List people and their roles", Args: cobra.NoArgs,
		RunE: func(c *cobra.Command, _ []string) error {
			l, err := a.open(c.Context())
			if err != nil {
				return err
			}
			defer l.Close()
			if l.State.People.Unguarded() {
				a.say("nobody is registered yet: everybody may do everything")
			}
			t := ui.Table{Head: []string{"CODE", "NAME", "ROLES", "ENDED"}}
			for _, p := range l.State.People.List() {
				var roles []string
				for _, r := range p.Roles {
					roles = append(roles, string(r))
				}
				ended := ""
				if p.Ended {
					ended = "yes"
				}
				t.Row(p.Code, p.Name, strings.Join(roles, ", "), ended)
			}
			return a.table(&t)
		},
	}
	c.AddCommand(add, role, list)
	return c
}

func rolesOf(words []string) ([]people.Role, error) {
	var out []people.Role
	for _, w := range words {
		r, err := people.ParseRole(w)
		if err != nil {
			return nil, err
		}
		out = append(out, r)
	}
	return out, nil
}
