package record

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// pathIDLetters is how many letters of the id a path carries.
const pathIDLetters = 16

// maxCode is the greatest length of a code or site name.
const maxCode = 63

// ValidCode reports whether s can name a subject, prop, person or site: 1 to 63 of a to z, 0 to 9 and
// hyphens, with no hyphen at either end. Such a name is the same on every file system.
func ValidCode(s string) bool {
	if s == "" || len(s) > maxCode || s[0] == '-' || s[len(s)-1] == '-' {
		return false
	}
	for i := 0; i < len(s); i++ {
		if c := s[i]; c != '-' && (c < '0' || c > '9') && (c < 'a' || c > 'z') {
			return false
		}
	}
	return true
}

func validKind(s string) bool {
	for word := range strings.SplitSeq(s, ".") {
		if !ValidCode(word) {
			return false
		}
	}
	return true
}

// Path returns where the record stands in the history:
//
//	e/<site>/YYYY/MM/DD/HH/<YYYYMMDDTHHMMSS.mmmZ>-<n>-<16 letters of the id>.json
//
// It is a function of the record's bytes alone, so two sites never write different bytes under one path.
func (e *Entry) Path() string { return e.At.path(e.ID) }

func (s Stamp) path(id ID) string {
	return fmt.Sprintf("%s/%s-%d-%s.json", s.Folder(), s.Time().Format("20060102T150405.000Z"), s.N, id.Short(pathIDLetters))
}

// Folder returns the folder of the records that a site wrote within one hour.
func (s Stamp) Folder() string {
	return "e/" + s.Site + "/" + s.Time().Format("2006/01/02/15")
}

// ParsePath reads stamp and beginning of the id out of a path. It accepts nothing that [Entry.Path]
// would not write.
func ParsePath(path string) (Stamp, Prefix, error) {
	parts := strings.Split(path, "/")
	if len(parts) != 7 {
		return Stamp{}, "", fmt.Errorf("path %q: %d parts, allowed 7", path, len(parts))
	}
	s, prefix, err := ParseName(parts[6])
	s.Site = parts[1]
	if err != nil || s.check() != nil || s.Folder()+"/"+parts[6] != path {
		return Stamp{}, "", fmt.Errorf("path %q: not the path of a record", path)
	}
	return s, prefix, nil
}

// ParseName reads time, count and beginning of the id out of the last part of a path.
// The site of the returned stamp is empty.
func ParseName(name string) (Stamp, Prefix, error) {
	bad := fmt.Errorf("name %q: not the name of a record", name)
	stem, ok := strings.CutSuffix(name, ".json")
	parts := strings.Split(stem, "-")
	if !ok || len(parts) != 3 || len(parts[2]) != pathIDLetters {
		return Stamp{}, "", bad
	}
	t, err := time.Parse("20060102T150405.000Z", parts[0])
	if err != nil {
		return Stamp{}, "", bad
	}
	n, err := strconv.ParseInt(parts[1], 10, 64)
	if err != nil || strconv.FormatInt(n, 10) != parts[1] {
		return Stamp{}, "", bad
	}
	prefix, err := ParsePrefix(parts[2])
	if err != nil || string(prefix) != parts[2] {
		return Stamp{}, "", bad
	}
	return Stamp{Ms: t.UnixMilli(), N: n}, prefix, nil
}
