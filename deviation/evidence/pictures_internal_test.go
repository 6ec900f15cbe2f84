package evidence

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
)

// Every local worst is drawn: both ends of a twisted panel, not only the worse one.
func TestEveryLocalWorstIsDrawn(t *testing.T) {
	r := &gapflush.Result{Seam: gapflush.DefaultSeam("a", nil)}
	for k := range 20 {
		v := func(x float64) verdict.Value { return verdict.Value{V: x, U: 0.03, OK: true} }
		r.Stations = append(r.Stations, gapflush.Station{Index: k + 1, Gap: v(4 - 0.05*float64(k)), Flush: v(-1.44 + 0.154*float64(k))})
	}
	r.Stations[7].Gap.V, r.Stations[9].Gap = 4.2, verdict.Value{V: 99}
	require.Equal(t, []int{0, 7, 19}, drawn(r, "worst"))
	require.Empty(t, drawn(r, "none"))
	require.Len(t, drawn(r, "all"), 20)
	require.Empty(t, drawn(&gapflush.Result{Stations: make([]gapflush.Station, 3)}, "worst"), "what has no number is no worst")
}

func TestAPictureSaysWhatItWasMadeFrom(t *testing.T) {
	r := &Record{Version: "1.2.3", InspectionSHA256: strings.Repeat("c", 64),
		Inputs: []Input{{Role: "scan", Name: "left.stl", SHA256: "0123456789abcdef"}, {Role: "reference", Name: "van.ply", SHA256: "fedcba9876543210"}}}
	require.Equal(t, []string{"scan left.stl 0123456789ab  ·  reference van.ply fedcba987654  ·  inspection cccccccccccc  ·  shutline 1.2.3"}, footOf(r))
	require.Equal(t, "left.stl", titleOf(r), "an untitled job has no blank heading")
	r.Title = "Left wing"
	require.True(t, strings.HasPrefix(footOf(r)[0], "Left wing  ·  scan"))
	require.Equal(t, "Left wing", titleOf(r))
}

func TestNumbersInPictures(t *testing.T) {
	require.Equal(t, []string{"−0.78", "+0.73", "0.00", "0.00"}, []string{signed(-0.78), signed(0.73), signed(0.001), signed(-0.001)})
	require.Equal(t, []string{"999", "1\u00a0000", "139\u00a0937"}, []string{grouped(999), grouped(1000), grouped(139937)})
}

// Names that differ by what the contract turns into "-", by case, or by a number that was put behind another make no two files
// of one name, on file systems without upper and lower case too.
func TestNoTwoSeamsShareAFile(t *testing.T) {
	names := []string{"side +y", "side -y", "side -y-2", "SIDE -Y", "side -y 001", "Kupplung", "\u212Aupplung", "\u03C3", "\u03C2", "", "seam", "a" + strings.Repeat("b", 60), "a" + strings.Repeat("b", 61)}
	files := map[string]string{}
	for k, name := range fileNames(names) {
		for _, file := range []string{seamPicture(name), "station-" + name + "-001.png", "station-" + name + "-1000.png"} {
			file = strings.ToLower(strings.ToUpper(file))
			require.Empty(t, files[file], "%q and %q", files[file], names[k])
			files[file] = "x" + names[k]
		}
	}
}
