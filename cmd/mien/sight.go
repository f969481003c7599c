package main

import (
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"mien/asset/terms"
	"mien/catalog/day"
	"mien/catalog/people"
	"mien/catalog/request"
	"mien/cmd/mien/internal/loop"
)

func newSight(a *app) *cobra.Command {
	var in request.Report
	var seen, who, photo string
	c := &cobra.Command{
		Use:   "sight CODE KIND",
		Short: "Report that a person no longer matches the scan; raises or joins a request",
		Long: "sight records that somebody saw a difference: a tattoo, footwear, hair, facial-hair, accessory, skin-mark,\n" +
			"skin-tone, physique, teeth or kit. It raises a request for the scans that show the region, or joins the open one.",
		Args: cobra.ExactArgs(2),
		RunE: func(c *cobra.Command, args []string) error {
			kind, err := terms.ParseItemKind(args[1])
			if err != nil {
				return err
			}
			if in.Region != "" {
				if _, err := terms.ParseRegion(in.Region); err != nil {
					return err
				}
			}
			if in.Source, err = terms.ParseSource(who); err != nil {
				return err
			}
			if _, err := dayFlag("seen", seen); err != nil {
				return err
			}
			l, err := a.open(c.Context())
			if err != nil {
				return err
			}
			defer l.Close()
			if err := l.May(people.Sight); err != nil {
				return err
			}
			in.Subject, in.Kind, in.Seen = args[0], kind, day.Day(seen)
			if in.Seen == "" {
				in.Seen = l.Today()
			}
			if photo != "" {
				if err := keepPhoto(c, l, photo, &in); err != nil {
					return err
				}
			}
			ref, joined, err := l.Sight(c.Context(), in)
			if err != nil {
				return err
			}
			if joined {
				fmt.Fprintf(a.out, "joined request %s\n", ref)
				return nil
			}
			fmt.Fprintf(a.out, "raised request %s\n", ref)
			return nil
		},
	}
	f := c.Flags()
	f.StringVar(&in.Region, "region", "", "where on the body; left and right are the subject's own")
	f.StringVar(&in.Note, "note", "", "what was seen; kept sealed")
	f.StringVar(&photo, "photo", "", "a photo that shows it")
	f.StringVar(&seen, "seen", "", "date (default: today)")
	f.StringVar(&who, "source", "artist", "subject, agent, squad, artist or public")
	return c
}

// keepPhoto stores the photo of a sighting.
func keepPhoto(c *cobra.Command, l *loop.Loop, file string, in *request.Report) error {
	f, err := os.Open(file)
	if err != nil {
		return err
	}
	defer f.Close()
	h, _, _, err := l.Catalog.Store().Put(c.Context(), f)
	in.Photo, in.PhotoName = h, filepath.Base(file)
	return err
}
