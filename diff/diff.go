// Package diff measures what changed between two scans of one person: it aligns them, takes posture
// out, compares shape and colour on the surface and says what the differences mean. It knows nothing
// of catalogs.
package diff

import (
	"mien/asset/scan"
	"mien/asset/texture"
	"mien/diff/result"
)

// Scan is one side of a comparison.
type Scan = scan.Scan

// Image is a decoded base colour.
type Image = texture.Image

// Result is the document that [Compare] returns.
type Result = result.Result
