package words_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app/words"
	"shutline/deviation/gapflush"
	"shutline/mesh/geom"
)

// Walking along f with u up, side A lies on the left: along +z on the left side of a vehicle, whose outside is −y,
// that is toward the front. Walked the other way, A is the panel behind.
func TestSidesFollowTheWayAPathIsWalked(t *testing.T) {
	said := func(f geom.Vec, own bool) string {
		u := geom.Vec{Y: -1}
		r := &gapflush.Result{Seam: gapflush.Seam{Name: "wing to door left", Master: gapflush.B}, Stations: []gapflush.Station{{F: f, U: u, A: f.Cross(u)}}}
		var lines []string
		for _, f := range (words.Writer{OwnFrame: own}).Seam(0, r).Found {
			lines = append(lines, f.Text)
		}
		return strings.Join(lines, "\n")
	}
	require.Contains(t, said(geom.Vec{Z: 1}, false), "Side A, the wing, lies toward −x (front), side B, the door, toward +x (rear)")
	require.Contains(t, said(geom.Vec{Z: -1}, false), "Side A, the wing, lies toward +x (rear), side B, the door, toward −x (front)")
	require.Contains(t, said(geom.Vec{Z: 1}, true), "toward −x, side B, the door, toward +x of the scan's own axes")
	require.Contains(t, said(geom.Vec{Z: 1}, false), "The master, which stays, is side B.")
}
