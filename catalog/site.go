package catalog

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"

	"github.com/goccy/go-yaml"

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

// noSite tells a folder that never was a catalog from one that has lost its site file.
func noSite(dir string) error {
	if _, err := os.Stat(dir); err != nil {
		return fmt.Errorf("catalog %q: %w", dir, ErrNoCatalog)
	}
	if _, err := os.Stat(filepath.Join(dir, beganName)); err == nil {
		return fmt.Errorf("catalog %q: %w: init did not finish", dir, ErrNoCatalog)
	}
	for _, name := range [...]string{recordsName, keysName} {
		if _, err := os.Stat(filepath.Join(dir, name)); err == nil {
			return &DamageError{Object: siteName, Fault: "is missing although " + name + " stands"}
		}
	}
	return fmt.Errorf("catalog %q: %w", dir, ErrNoCatalog)
}
