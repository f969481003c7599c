package obj

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"
	"slices"
	"strconv"
	"strings"

	"mien/asset/beside"
	"mien/asset/lines"
)

// library reads material libraries and finds the pictures that they name.
type library struct {
	ctx  context.Context
	dir  fs.FS // nil when nothing beside the file may be read
	file *File

	picture map[string]entry // by material
}

// entry is what a material says about its base colour.
type entry struct {
	file   string // as written, "" when it names no picture
	folder string // of the library
	odd    string // an option that is not applied
}

// read reads the libraries that the file names, else those in spare. The first word on a material
// stands.
func (l *library) read(named, spare []string) error {
	missing := []string{}
	for _, n := range named {
		names := libraryNames(n)
		if found, ok := beside.Find(l.dir, ".", names[0]); ok || len(names) == 1 {
			names = names[:1]
			if ok {
				names[0] = found
			}
		} else {
			names = names[1:]
		}
		for _, n := range names {
			ok, err := l.one(n)
			if err != nil {
				return err
			}
			if !ok {
				missing = append(missing, n)
			}
		}
	}
	if len(l.file.Libraries) == 0 && l.dir != nil {
		for _, n := range spare {
			ok, err := l.one(n)
			if err != nil {
				return err
			}
			if ok && len(named) > 0 {
				l.note("material library %q is read, the file names %q", n, strings.Join(named, " "))
			}
		}
		if len(l.file.Libraries) > 0 {
			return nil
		}
	}
	for _, n := range missing {
		l.note("material library %q is missing", n)
	}
	return nil
}

// libraryNames returns what a line of names may mean: the whole as one name, then, when it has white
// space, each word.
func libraryNames(rest string) []string {
	if u := unquote(rest); u != rest {
		return []string{u}
	}
	names := []string{rest}
	if words := strings.Fields(rest); len(words) > 1 {
		names = append(names, words...)
	}
	return names
}

func (l *library) note(format string, args ...any) {
	l.file.Notes = append(l.file.Notes, fmt.Sprintf(format, args...))
}

// one reads the library of the given name, once, and reports whether it is there.
func (l *library) one(name string) (bool, error) {
	found, ok := beside.Find(l.dir, ".", name)
	if !ok {
		return false, nil
	}
	if slices.Contains(l.file.Libraries, found) {
		return true, nil
	}
	f, err := l.dir.Open(found)
	if err != nil {
		return false, nil
	}
	defer f.Close()
	if err := l.parse(f, found); err != nil {
		return false, err
	}
	l.file.Libraries = append(l.file.Libraries, found)
	return true, nil
}

// parse reads materials from r.
func (l *library) parse(r io.Reader, name string) error {
	in := lines.NewReader(r)
	material, known := "", false
	for {
		block, n, err := in.Next()
		if errors.Is(err, io.EOF) {
			return l.ctx.Err()
		}
		if err != nil {
			return fmt.Errorf("%s: %w", name, cause(err))
		}
		text := strings.NewReplacer("\\\r\n", " ", "\\\n", " ").Replace(string(block[:n]))
		for line := range strings.Lines(strings.TrimPrefix(text, "\ufeff")) {
			key, rest, _ := strings.Cut(strings.TrimSpace(strings.ReplaceAll(line, "\t", " ")), " ")
			switch strings.ToLower(key) {
			case "newmtl":
				material = unquote(strings.TrimSpace(rest))
				if _, known = l.picture[material]; !known {
					l.picture[material] = entry{}
				}
			case "map_kd":
				if file, odd := mapFile(rest); file != "" && !known {
					l.picture[material] = entry{file, path.Dir(name), odd}
				}
			}
		}
	}
}

// optionNumbers are the options of a texture map with the count of their values; negative ones may be
// fewer, as many as numbers follow. Source: MTL material format 4.2, from memory.
var optionNumbers = map[string]int{"-blendu": 1, "-blendv": 1, "-boost": 1, "-bm": 1, "-cc": 1, "-clamp": 1, "-imfchan": 1,
	"-mm": 2, "-o": -3, "-s": -3, "-t": -3, "-texres": 1, "-type": 1}

// mapFile returns the file that a texture map names, white space inside it kept, and the first option
// that moves or changes the picture.
func mapFile(rest string) (file, odd string) {
	for {
		rest = strings.TrimSpace(rest)
		word, after, _ := strings.Cut(rest, " ")
		count, ok := optionNumbers[strings.ToLower(word)]
		if !ok {
			return unquote(rest), odd
		}
		changes := false
		for k := 0; k < max(count, -count); k++ {
			value, next, _ := strings.Cut(strings.TrimSpace(after), " ")
			x, err := strconv.ParseFloat(value, 64)
			if count < 0 && err != nil {
				break
			}
			neutral := word == "-s" || word == "-mm" && k == 1
			changes = changes || err == nil && (x != 0 && !neutral || x != 1 && neutral)
			after = next
		}
		switch word {
		case "-mm", "-o", "-s", "-t":
			if changes && odd == "" {
				odd = word
			}
		}
		rest = after
	}
}

// pictureOf returns the base colour file of a material inside the folder, "" when it has none.
func (l *library) pictureOf(material string) string {
	e, ok := l.picture[material]
	if !ok && material != "" && len(l.file.Libraries) > 0 {
		l.note("material %q is in no library", material)
	}
	if e.file == "" {
		return ""
	}
	if e.odd != "" {
		l.note("material %q: option %s of its picture is not applied", material, e.odd)
	}
	found, ok := beside.Find(l.dir, e.folder, e.file)
	if !ok {
		if !slices.Contains(l.file.Lost, e.file) {
			l.file.Lost = append(l.file.Lost, e.file)
		}
		return ""
	}
	return found
}
