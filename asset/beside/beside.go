// Package beside finds the files that a mesh file names: inside its folder, and nowhere else.
package beside

import (
	"io/fs"
	"path"
	"strings"
)

// Find returns the regular file of dir that a name means, slash-separated: as written, seen from folder
// base or from the top; else by its last part, since files carry paths of the machine that wrote
// them; in any case of letters when no exact one is there. A nil dir has no files.
func Find(dir fs.FS, base, name string) (string, bool) {
	if dir == nil || name == "" {
		return "", false
	}
	name = strings.ReplaceAll(name, `\`, "/")
	last := path.Base(name)
	for _, try := range []string{path.Join(base, name), path.Clean(name), path.Join(base, last), last} {
		if isFile(dir, try) {
			return try, true
		}
	}
	for _, folder := range []string{path.Dir(path.Join(base, name)), base, "."} {
		if !fs.ValidPath(folder) {
			continue
		}
		entries, err := fs.ReadDir(dir, folder)
		if err != nil {
			continue
		}
		for _, e := range entries {
			if try := path.Join(folder, e.Name()); strings.EqualFold(e.Name(), last) && isFile(dir, try) {
				return try, true
			}
		}
	}
	return "", false
}

func isFile(dir fs.FS, name string) bool {
	if !fs.ValidPath(name) {
		return false
	}
	info, err := fs.Stat(dir, name)
	return err == nil && info.Mode().IsRegular()
}
