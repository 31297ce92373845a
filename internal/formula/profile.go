package formula

// Profile is the fatty acid make-up of an oil or of a recipe's oils.
type Profile struct {
	// Acids maps "C18:1" or "ricinoleic" to % of total fatty acids; they add up to
	// 100 over the oils whose acids a table knows, and are empty if none are known.
	Acids map[string]float64 `json:"acids_percent"`
	// Known is the share of the oils, %, for which a table gives the acids.
	Known float64 `json:"known_percent_of_oils"`
	// IodineValue by E13 (calculated from acids), g I2 per 100 g.
	IodineValue float64 `json:"iodine_value"`
	// HardFat is the sum of the saturated acids C12 to C22, % of acids: what can set
	// from cold and pass for trace.
	HardFat float64 `json:"hard_fat_percent"`
	// Polyunsaturated is linoleic + linolenic, % of acids.
	Polyunsaturated float64 `json:"linoleic_linolenic_percent"`
	// OxidationIndex is oleic + 45 linoleic + 100 linolenic in % units; it ranks
	// formulas and nothing else.
	OxidationIndex float64 `json:"oxidation_index"`
}
