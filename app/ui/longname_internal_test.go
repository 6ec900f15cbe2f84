package ui

import (
	"errors"
	"strings"
	"testing"

	"fyne.io/fyne/v2"
	"github.com/stretchr/testify/require"
)

// However long a name is, what is said of it and the buttons are on the screen.
func TestALongNameLeavesRoomForTheButtons(t *testing.T) {
	r := newRig(t)
	r.win.Resize(fyne.NewSize(900, 600))
	r.failed(errors.New("/jobs/" + strings.Repeat("x", 3000) + ".stl cannot be opened: the file name is too long; give it a shorter one"))
	r.paint()
	require.Contains(t, r.question(), "give it a shorter one")
	top := r.win.Canvas().Overlays().Top()
	require.LessOrEqual(t, top.MinSize().Height, float32(600))
	tapText(t, top, "Close")
	require.Equal(t, "a short one stays", withShortNames("a short one stays"))
}
