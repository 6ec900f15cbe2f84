package ui

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app/bench"
)

func TestTheBudgetIsShownOnDemand(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Show(bench.Seams)
	require.NotContains(t, r.texts(r.card.content), "radius assumed", "only on demand")
	require.NotNil(t, r.card.budgetFold)
	r.card.budgetFold.Open = true
	r.bench.Step(-1)
	require.True(t, r.card.budgetFold.Open, "it stays open from station to station")
	seen := r.texts(r.card.content)
	for _, s := range []string{"GAP", "k = 1, mm", "radius assumed", "0.040", "scatter of the fits", "0.030", "2 smaller ones", "0.001", "U, k = 2", "± 0.100", "FLUSH", "0.020", "0.015", "± 0.050"} {
		require.Contains(t, seen, s)
	}
	require.NotContains(t, seen, "temperature")
	require.Less(t, strings.Index(seen, "radius assumed"), strings.Index(seen, "scatter of the fits"), "the largest comes first")
}

func TestAStationIsSaidToLieWhereTheStripHasIt(t *testing.T) {
	require.Equal(t, "837.5 mm", along(837.5))
	require.Equal(t, "162.5 mm", along(162.5))
	require.Equal(t, "25.0 mm", along(25))
	r := newRig(t)
	r.open()
	r.bench.Show(bench.Seams)
	require.Contains(t, r.texts(r.card.content), "STATION 16 OF 16, AT 387.5 mm")
}
