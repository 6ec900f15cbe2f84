package bodywork

import "testing"

// BenchmarkVan reports how fast a job of a million scan triangles is made.
func BenchmarkVan(b *testing.B) {
	const size = 1_000_000
	b.ReportAllocs()
	for b.Loop() {
		van(b, Options{Size: size, Seed: 1})
	}
	b.ReportMetric(float64(size)*float64(b.N)/b.Elapsed().Seconds()/1e6, "Mtri/s")
}
