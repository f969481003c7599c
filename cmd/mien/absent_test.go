package main

import (
	"bytes"
	"compress/zlib"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/rogpeppe/go-internal/testscript"
)

// absent demands that no file under a folder, nor the name of one, holds any of some words in clear:
// absent DIR WORD... Packs of records are searched unpacked. `! absent` demands that one of them is found.
func absent(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) < 2 {
		ts.Fatalf("usage: absent DIR WORD...")
	}
	found := ""
	search(ts, args[0], func(path string, data []byte) {
		for _, word := range args[1:] {
			if strings.Contains(path, word) || bytes.Contains(bytes.ToLower(data), bytes.ToLower([]byte(word))) {
				found = path + " holds " + word
			}
		}
	})
	judge(ts, neg, found)
}

// absentFile is [absent] for the bytes of files, of which a piece from the middle is searched:
// absent-file DIR FILE...
func absentFile(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) < 2 {
		ts.Fatalf("usage: absent-file DIR FILE...")
	}
	for _, name := range args[1:] {
		data := []byte(ts.ReadFile(name))
		piece := data[len(data)/2 : min(len(data), len(data)/2+256)]
		found := ""
		search(ts, args[0], func(path string, data []byte) {
			if bytes.Contains(data, piece) {
				found = path + " holds bytes of " + name
			}
		})
		judge(ts, neg, found)
	}
}

func judge(ts *testscript.TestScript, neg bool, found string) {
	if neg && found == "" {
		ts.Fatalf("nothing was found")
	}
	if !neg && found != "" {
		ts.Fatalf("%s", found)
	}
}

// search calls f with each file under a folder, and with each object of a pack as it is unpacked.
func search(ts *testscript.TestScript, dir string, f func(path string, data []byte)) {
	err := filepath.WalkDir(ts.MkAbs(dir), func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		rel, err := filepath.Rel(ts.MkAbs(dir), path)
		if err != nil {
			return err
		}
		data, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		f(rel, data)
		if filepath.Ext(path) != ".pack" {
			return nil
		}
		for at := 0; at < len(data); at++ { // wherever a packed object begins
			if data[at] != 0x78 {
				continue
			}
			z, err := zlib.NewReader(bytes.NewReader(data[at:]))
			if err != nil {
				continue
			}
			if object, _ := io.ReadAll(z); len(object) > 0 {
				f(rel, object)
			}
		}
		return nil
	})
	ts.Check(err)
}
