package git

import (
	"flag"
	"os"
	"testing"
)

// Each step of a drawn test writes to the disk and waits for it, so eight runs are what time allows.
func TestMain(m *testing.M) {
	flag.Parse()
	if f := flag.Lookup("rapid.checks"); f.Value.String() == f.DefValue {
		flag.Set("rapid.checks", "8")
	}
	os.Exit(m.Run())
}
