package plan

import "lyefast/internal/formula"

// Minutes gives the working minutes a plan's design wants of a batter that still
// runs: as stated, else what its technique usually wants. ok is false where neither
// says so.
func Minutes(p formula.Pour) (minutes float64, ok bool) { return needs(p) }
