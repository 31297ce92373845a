package formula

import "lyefast/internal/unit"

// ShownStep is the finest weight that a portion is given in, g.
const ShownStep unit.Grams = 0.1
