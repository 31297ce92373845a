package kinetics

import (
	"testing"
	"time"
)

// benchmarkAgainst times ours and a peer turn by turn and reports their ratio.
func benchmarkAgainst(b *testing.B, ours, peer func()) {
	b.Helper()
	var us, them time.Duration
	for b.Loop() {
		begin := time.Now()
		ours()
		middle := time.Now()
		peer()
		us += middle.Sub(begin)
		them += time.Since(middle)
	}
	b.ReportMetric(us.Seconds()/them.Seconds(), "peer-ratio")
	b.ReportMetric(us.Seconds()/float64(b.N)*1e3, "ours-ms/op")
}
