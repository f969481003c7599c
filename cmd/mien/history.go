package main

import (
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"mien/cmd/mien/internal/ui"
)

type historyLine struct {
	At      string `json:"at"`
	ID      string `json:"id"`
	Kind    string `json:"kind"`
	Subject string `json:"subject"`
	By      string `json:"by"`
	Site    string `json:"site"`
}

func newHistory(a *app) *cobra.Command {
	var since string
	c := &cobra.Command{
		Use:   "history [CODE|ID]",
		Short: "What was recorded, by whom and when",
		Args:  cobra.MaximumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			from, err := dayFlag("since", since)
			if err != nil {
				return err
			}
			l, err := a.open(c.Context())
			if err != nil {
				return err
			}
			defer l.Close()
			match, err := l.HistoryOf(c.Context(), args)
			if err != nil {
				return err
			}
			lines := []historyLine{}
			t := ui.Table{Head: []string{"AT", "RECORD", "KIND", "SUBJECT", "BY", "SITE"}}
			for _, e := range match {
				at := time.UnixMilli(e.At.Ms).UTC()
				if at.Before(from) {
					continue
				}
				v := historyLine{at.Format("2006-01-02 15:04:05"), e.ID.Short(6), string(e.Kind), e.Subject, e.By, e.At.Site}
				lines = append(lines, v)
				t.Row(v.At, v.ID, v.Kind, v.Subject, v.By, v.Site)
			}
			if a.json {
				return ui.JSON(a.out, map[string]any{"schema": "mien.history/1", "records": lines})
			}
			if len(lines) == 0 {
				fmt.Fprintln(a.out, "nothing was recorded")
				return nil
			}
			return a.table(&t)
		},
	}
	c.Flags().StringVar(&since, "since", "", "from this date on")
	return c
}
