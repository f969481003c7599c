package forget

import (
	"context"

	"mien/catalog"
	"mien/catalog/projection"
)

// Verify is [catalog.Catalog.Verify] that knows who uses which file: what went with an erased subject is
// not missing, also where the take had been refiled, and what somebody else still uses is.
func Verify(ctx context.Context, c *catalog.Catalog, progress catalog.Progress) (*catalog.Report, error) {
	entries, err := c.Entries(ctx)
	if err != nil {
		if ctx.Err() != nil {
			return nil, err
		}
		return c.Verify(ctx, progress) // it names the damage
	}
	state, _ := projection.Fold(entries)
	return c.VerifyExcept(ctx, Of(entries, state).Erased, progress)
}
