package chart

import (
	"image/png"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/align"
)

// The heap stands where the counts are: mirrored counts give the mirrored bars.
func TestResidualsStandWhereTheyAre(t *testing.T) {
	var r align.Residuals
	r.Width = 0.02
	for i := range r.Count {
		r.Count[i] = 1000 / (1 + (i-26)*(i-26))
	}
	r.Above, r.Unpaired = 300, 900
	th := Light()
	const w, h = 600, 180
	columns := func(r align.Residuals) (weighted float64) {
		img := Residuals(w, h, th, 1, r)
		n := 0.0
		for y := range h {
			for x := range w {
				if img.RGBAAt(x, y) == th.Line {
					weighted += float64(x)
					n++
				}
			}
		}
		require.Positive(t, n)
		return weighted / n
	}
	middle := (62.0 + w - 16) / 2
	right := columns(r) - middle
	require.Greater(t, right, 50.0, "the heap lies at +0.12 mm of 0.4")
	for i, j := 0, len(r.Count)-1; i < j; i, j = i+1, j-1 {
		r.Count[i], r.Count[j] = r.Count[j], r.Count[i]
	}
	require.InDelta(t, -right, columns(r)-middle, 3)
	if dir := os.Getenv("SHUTLINE_PICTURES"); dir != "" {
		f, err := os.Create(filepath.Join(dir, "residuals.png"))
		require.NoError(t, err)
		require.NoError(t, png.Encode(f, Residuals(900, 200, Dark(), 1, r)))
		require.NoError(t, f.Close())
	}
	Residuals(10, 10, th, 1, r)
	Residuals(w, h, th, 1, align.Residuals{})
}
