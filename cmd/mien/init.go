package main

import (
	"path/filepath"

	"github.com/spf13/cobra"

	"mien/catalog"
	"mien/cmd/mien/internal/ui"
)

func newInit(a *app) *cobra.Command {
	var site string
	c := &cobra.Command{
		Use:   "init [DIR]",
		Short: "Make a new catalog in an empty folder",
		Args:  cobra.MaximumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			dir := a.catalog
			if len(args) == 1 {
				dir = args[0]
			}
			if dir == "" {
				return ui.Misuse("init: no folder given")
			}
			cat, err := catalog.Init(c.Context(), dir, catalog.InitOptions{Site: site, By: a.person(), Now: a.now})
			if err != nil {
				return err
			}
			defer cat.Close()
			a.say("made catalog %s, site %s", filepath.Clean(dir), cat.Site())
			a.say("note: %s", biometricCaution)
			return nil
		},
	}
	c.Flags().StringVar(&site, "site", "main", "name of this copy of the catalog; four random characters are added")
	return c
}

// biometricCaution is printed where scans begin to be kept and shown.
const biometricCaution = "scans of a face or body can be biometric data (GDPR Art. 9, Illinois BIPA 740 ILCS 14, Texas Bus. & Com. Code 503.001 and others); follow local law and ask licensed counsel"

// skinCaution is printed beside findings about skin.
const skinCaution = "a finding about skin is about likeness, never a medical statement; a mole or mark that changed is for a doctor"
