package catalog

import (
	"context"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"syscall"

	"github.com/goccy/go-yaml"
	"github.com/gofrs/flock"
	"github.com/zeebo/blake3"

	"mien/catalog/durable"
	"mien/catalog/record"
)

// Format is the version of the on-disk form that this program writes; FORMAT.md describes it.
const Format = 1

// Names within a catalog folder.
const (
	recordsName = "records.git"
	storeName   = "store"
	keysName    = "keys"
	siteName    = "site.yaml"
	lockName    = "lock"
	beganName   = "init-began" // stands while init is at work
)

// site is the content of site.yaml: what is true of this copy of the catalog only.
type site struct {
	Format  int    `yaml:"format"`
	Catalog string `yaml:"catalog"` // the same at every site
	Site    string `yaml:"site"`
	Place   string `yaml:"place,omitempty"` // tells this folder from a copy of it
}

// siteForm is a name and the four random digits that tell copies apart.
var siteForm = regexp.MustCompile(`^.+-[0-9a-f]{4}$`)

const siteIntro = "# This copy of the catalog. The site name stands in every record written here: do not change it.\n"

func (s site) write(dir string) error {
	text, err := yaml.Marshal(s)
	if err != nil {
		return err
	}
	return durable.Write(filepath.Join(dir, siteName), append([]byte(siteIntro), text...), 0o600)
}

func readSite(dir string) (site, error) {
	var s site
	text, err := os.ReadFile(filepath.Join(dir, siteName))
	if errors.Is(err, fs.ErrNotExist) {
		return s, noSite(dir)
	}
	if err != nil {
		return s, err
	}
	if err := yaml.UnmarshalWithOptions(text, &s, yaml.Strict()); err != nil {
		return s, &DamageError{Object: siteName, Fault: yaml.FormatError(err, false, false), Err: err}
	}
	switch {
	case s.Format > Format:
		return s, fmt.Errorf("%s: format %d, this program reads up to %d: a newer program is needed", siteName, s.Format, Format)
	case s.Format < 1 || !siteForm.MatchString(s.Site) || !record.ValidCode(s.Site) || !record.ValidCode(s.Catalog):
		return s, &DamageError{Object: siteName, Fault: fmt.Sprintf("format %d, catalog %q, site %q: not what init writes", s.Format, s.Catalog, s.Site)}
	}
	return s, nil
}

// placeOf returns 16 hex digits that are the same as long as dir is the same folder of the same disk, and
// differ in any copy of it. They are empty where the system does not number its files.
func placeOf(dir string) (string, error) {
	h := blake3.New()
	for _, name := range [...]string{".", lockName, recordsName, storeName, keysName} {
		info, err := os.Stat(filepath.Join(dir, name))
		if err != nil {
			return "", err
		}
		number, ok := fileNumber(info)
		if !ok {
			return "", nil
		}
		fmt.Fprintf(h, "%s %d\n", name, number)
	}
	return hex.EncodeToString(h.Sum(nil)[:8]), nil
}

// settle gives a copied folder a site name of its own, so that the two copies never write under one name.
// A copy that cannot be changed keeps the name: it cannot be written to either.
func settle(ctx context.Context, dir string, s site) (site, error) {
	place, err := placeOf(dir)
	if err != nil || place == s.Place {
		return s, err
	}
	lock := flock.New(filepath.Join(dir, lockName), flock.SetFlag(os.O_RDWR))
	if _, err := lock.TryLockContext(ctx, lockWait); err != nil {
		if errors.Is(err, fs.ErrPermission) || errors.Is(err, syscall.EROFS) {
			return s, nil
		}
		return s, err
	}
	defer lock.Close()
	if s, err = readSite(dir); err != nil || place == s.Place { // another process was first
		return s, err
	}
	s.Site, s.Place = newSiteName(s.Site[:len(s.Site)-5]), place
	return s, s.write(dir)
}

// newSiteName adds four random hex digits to a name.
func newSiteName(name string) string {
	var random [2]byte
	rand.Read(random[:])
	return name + "-" + hex.EncodeToString(random[:])
}

// noSite tells a folder that never was a catalog from one that has lost its site file.
func noSite(dir string) error {
	if _, err := os.Stat(dir); err != nil {
		return &NoCatalogError{Dir: dir}
	}
	if _, err := os.Stat(filepath.Join(dir, beganName)); err == nil {
		return &NoCatalogError{Dir: dir, Unfinished: true}
	}
	for _, name := range [...]string{recordsName, keysName} {
		if _, err := os.Stat(filepath.Join(dir, name)); err == nil {
			return &DamageError{Object: siteName, Fault: "is missing although " + name + " stands"}
		}
	}
	return &NoCatalogError{Dir: dir}
}
