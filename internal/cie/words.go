package cie

// Words says in a few words how large a ΔE00 looks. The first two limits are the
// 50 : 50 thresholds of perceptibility and acceptability of Paravina et al.
// (2015), J. Esthet. Restor. Dent. 27 Suppl. 1, S1–S9, 175 observers on dental
// ceramic; the next two are their double and treble, the grades of Paravina et al.
// (2019), J. Esthet. Restor. Dent. 31, 103–112 (from memory). Twelve, from where we
// speak of another colour, is the highest class for browning wood (J. Korean Wood
// Sci. Technol. 48(1), 2020, Table 1), which is in ΔE*ab and taken over as it
// stands. No threshold for soap has been published; dark colours bear more.
func Words(deltaE00 float64) string {
	switch {
	case deltaE00 <= 0.8:
		return "no visible difference"
	case deltaE00 <= 1.8:
		return "a slight difference"
	case deltaE00 <= 3.6:
		return "a clear difference"
	case deltaE00 <= 5.4:
		return "a strong difference"
	case deltaE00 <= 12:
		return "a very strong difference"
	case deltaE00 > 12:
		return "another colour"
	}
	return "difference not known"
}
