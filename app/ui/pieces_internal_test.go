package ui

import (
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh"
)

// The table counts pieces as the card's sentence does; what that names as specks is told beside them.
func TestTheTableCountsPiecesAsTheCardDoes(t *testing.T) {
	h := &mesh.Report{Components: 5, Pieces: []mesh.Piece{{Area: 1e6}, {Area: 5e5}, {Area: 2e4}, {Area: 30}, {Area: 1}}}
	require.Len(t, h.Panels(), 3)
	require.Equal(t, "3 + 2 specks", pieceCount(h))
	h.Components, h.Pieces = 3, h.Pieces[:3]
	require.Equal(t, "3", pieceCount(h))
	require.Equal(t, "0", pieceCount(&mesh.Report{}))
}
