package main

import (
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app/ui"
)

// Preferences that were edited to nonsense do not keep the window from opening.
func TestTheWindowOpensWhateverStandsInItsPreferences(t *testing.T) {
	for _, text := range []string{" ", `{`, `[]`, `{"recent":["a",1]}`, `{"recent":[1,"a"],"look":5}`, `{"recent":[true,null]}`, `{"recent":{"a":["b",2]},"folder":[[1],["c"]]}`} {
		d := newDesk(t)
		d.home = t.TempDir()
		d.preferences = text
		d.open("light")
		d.wait("the doors", func(e ui.Trace) bool { return e.Event == "ready" })
		d.key("ctrl+q")
		require.NoError(t, <-d.ended, "%s: %s", text, d.said.String())
		require.NotContains(t, d.said.String(), "fault")
	}
}
