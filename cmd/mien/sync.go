package main

import (
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"mien/cmd/mien/internal/loop"
	"mien/cmd/mien/internal/ui"
)

func newSync(a *app) *cobra.Command {
	var o loop.SyncOptions
	c := &cobra.Command{
		Use:   "sync REMOTE",
		Short: "Meet another copy of this catalog: records both ways, then the files that are missing",
		Long: "sync brings this catalog and the copy in the folder REMOTE, on a disk that travels or on a share, to the same\n" +
			"records and files. An empty folder becomes a copy first. Both may be used meanwhile, and a sync that was cut\n" +
			"short goes on where it stopped. Keys stay where they are unless --with-keys is given: without them, names,\n" +
			"notes, regions and findings stay closed in the other copy; the scan files are never encrypted.",
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			l, err := a.open(c.Context())
			if err != nil {
				return err
			}
			defer l.Close()
			if o.WithKeys {
				fmt.Fprintf(a.err, "KEYS TRAVEL: whoever holds %s can read every name, note and finding in it; keep it like the catalog itself\n", args[0])
			}
			p := a.progress()
			defer p.Close()
			o.Progress = p
			r, err := l.Sync(c.Context(), args[0], o)
			p.Close()
			if err != nil {
				return err
			}
			if a.json {
				if err := ui.JSON(a.out, r); err != nil {
					return err
				}
				return r.Err()
			}
			a.printSync(r)
			return r.Err()
		},
	}
	f := c.Flags()
	f.BoolVar(&o.RecordsOnly, "records-only", false, "leave the files where they are")
	f.BoolVar(&o.WithKeys, "with-keys", false, "give each copy the keys of the other: both can then read everything")
	f.StringVar(&o.Site, "site", "copy", "name of a copy that is made now; four random characters are added")
	return c
}

func (a *app) printSync(r *loop.SyncReport) {
	if r.Made {
		fmt.Fprintf(a.out, "made a copy in %s, site %s\n", filepath.Clean(r.Remote), r.RemoteSite)
	}
	fmt.Fprintf(a.out, "records: %d came, %d went; %d in all\n", r.Records.Came, r.Records.Went, r.Total)
	fmt.Fprintf(a.out, "files: %d came (%.1f MB), %d went (%.1f MB)\n", r.Files.Came, float64(r.Bytes.Came)/1e6, r.Files.Went, float64(r.Bytes.Went)/1e6)
	switch {
	case r.KeysMoved:
		fmt.Fprintf(a.out, "keys: of %d came, of %d went\n", r.Keys.Came, r.Keys.Went)
	case r.Keys.Came+r.Keys.Went > 0:
		a.say("note: keys stayed where they are: those of %d stay closed here, of %d there; --with-keys would give them", r.Keys.Came, r.Keys.Went)
	}
	if len(r.Erased) > 0 {
		fmt.Fprintf(a.out, "erasure carried out: %s\n", strings.Join(r.Erased, ", "))
	}
	if len(r.Held) > 0 {
		fmt.Fprintf(a.out, "erased at another site, kept here under a hold: %s\n", strings.Join(r.Held, ", "))
	}
	if r.Awaited.Came > 0 || r.Awaited.Went > 0 {
		a.say("note: still awaited: %d here, %d there", r.Awaited.Came, r.Awaited.Went)
	}
	for _, path := range r.Far {
		fmt.Fprintf(a.out, "note: %s was written more than a day ahead of this machine's clock; it is kept\n", path)
	}
	for _, v := range r.Aside {
		fmt.Fprintf(a.out, "set aside: %s: %s\n", v.Path, v.Fault)
	}
	for _, v := range r.Faults {
		fmt.Fprintf(a.out, "damaged: %s: %s\n", v.Object, v.Fault)
	}
}
