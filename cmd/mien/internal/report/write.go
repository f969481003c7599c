package report

import (
	"bytes"
	"context"
	"embed"
	"fmt"
	"html/template"
	"io"
	"os"
	"path/filepath"
	"strings"
)

//go:embed page/*
var pages embed.FS

var funcs = template.FuncMap{
	"join":  strings.Join,
	"words": func(s string) string { return strings.ReplaceAll(s, "-", " ") },
}

var templates = template.Must(template.New("").Funcs(funcs).ParseFS(pages, "page/*.html"))

// view is what a page's template sees.
type view struct {
	*Site
	Subject *Subject
}

// Write writes the site into dir, which it makes: index.html, one page per subject, style.css and the
// pictures. Files of an earlier report of the same name are replaced. The same site gives the same
// bytes.
func Write(ctx context.Context, dir string, s *Site) error {
	if err := os.MkdirAll(filepath.Join(dir, "pictures"), 0o700); err != nil {
		return err
	}
	style, err := pages.ReadFile("page/style.css")
	if err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(dir, "style.css"), style, 0o600); err != nil {
		return err
	}
	for i := range s.Subjects {
		if err := ctx.Err(); err != nil {
			return err
		}
		sub := &s.Subjects[i]
		if err := copyPictures(dir, sub); err != nil {
			return err
		}
		if err := page(filepath.Join(dir, sub.Code+".html"), "subject.html", view{s, sub}); err != nil {
			return err
		}
	}
	return page(filepath.Join(dir, "index.html"), "index.html", view{Site: s})
}

func page(file, name string, v view) error {
	var b bytes.Buffer
	if err := templates.ExecuteTemplate(&b, name, v); err != nil {
		return fmt.Errorf("report %s: %w", file, err)
	}
	return os.WriteFile(file, b.Bytes(), 0o600)
}

// copyPictures brings a subject's pictures into the report under names of their own.
func copyPictures(dir string, s *Subject) error {
	n := 0
	bring := func(list []Picture) error {
		for i := range list {
			n++
			list[i].Name = fmt.Sprintf("%s-%02d%s", s.Code, n, filepath.Ext(list[i].From))
			if err := copyFile(list[i].From, filepath.Join(dir, "pictures", list[i].Name)); err != nil {
				return err
			}
		}
		return nil
	}
	for c := range s.Comparisons {
		if err := bring(s.Comparisons[c].Pictures); err != nil {
			return err
		}
		for f := range s.Comparisons[c].Findings {
			if err := bring(s.Comparisons[c].Findings[f].Pictures); err != nil {
				return err
			}
		}
	}
	return nil
}

func copyFile(from, to string) error {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer in.Close()
	out, err := os.OpenFile(to, os.O_CREATE|os.O_TRUNC|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	if _, err := io.Copy(out, in); err != nil {
		out.Close()
		return err
	}
	return out.Close()
}
