// Package kinetics tells from a few dated, noisy colours of one portion what kind
// of curve it follows, which colour it has on any day, and where it settles.
//
// Start at [Fit], which gives a [Curve]; [FitWithDrift] does the same for a
// portion that browns as well. [Judge] turns the curves of a colourant's batches
// into a [Verdict], and [Learn] into a narrower prior for its next batch.
// [FitDrying] is the weight of a bar.
//
// Days count from the pour, colours are CIELAB for D65, 2°, and differences are
// CIEDE2000 with kL = 2 where they decide something, since lightness moves with
// water and opacity. A band is a central 90 % interval about a median, coordinate
// by coordinate, of the noise-free colour.
//
// The method is Bayes on a grid of rates: given the rates, a curve is linear in
// its amplitudes, so their posterior and the evidence are closed forms; the four
// patterns are averaged by their probability. There are no start values, no
// random numbers and no search, and the order of the readings does not matter.
// Its models, priors and grids are those of the reference method that comes with
// the simulated cure series, but for the noise of a reading, which keeps the
// proportion of L*, a* and b* that is stated with them.
package kinetics
