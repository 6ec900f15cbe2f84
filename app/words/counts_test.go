package words_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/words"
	"shutline/deviation/gapflush"
)

// Stations that are near a limit are not out, and not in either: a line that leaves them out reads as if all the rest were good.
func TestUndecidedStationsAreCountedBesideThoseThatAreOut(t *testing.T) {
	r := seam("wing to door", func(k int, s *gapflush.Station) {
		switch {
		case k >= 8:
			s.Gap.V = 6
		case k >= 5:
			s.Gap.V = 5.02 // the limit is 5, U 0.08
		}
	})
	w := words.Writer{}
	require.Equal(t, "4 of 12 stations are out of tolerance, 3 are undecided", w.Seam(0, r).Headline)
	require.Equal(t, "4 out, 3 undecided", w.SeamsLine([]*gapflush.Result{r}))
	require.Contains(t, found(w.Evidence(&app.Outcome{Seams: []*gapflush.Result{r}}, "")), "Wing to door: 4 of 12 stations out, 3 undecided, does not conform.")
	near := seam("wing to door", func(k int, s *gapflush.Station) {
		if k < 2 {
			s.Gap.V = 5.02
		}
	})
	require.Equal(t, "2 of 12 undecided", w.SeamsLine([]*gapflush.Result{near}))
}
