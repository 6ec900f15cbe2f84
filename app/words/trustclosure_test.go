package words_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app/words"
	"shutline/deviation/align"
	"shutline/deviation/closure"
	"shutline/deviation/verdict"
)

// That a scan comes back is said without more only where its two skins hold every motion: what slides may be off by any amount.
func TestComingBackIsSaidOfWhatIsHeld(t *testing.T) {
	said := func(free ...align.FreeMotion) string {
		c, ok := words.Writer{}.Closure(&closure.Result{Closures: []closure.Closure{{Displacement: verdict.Value{V: 0.87, U: 0.88, OK: true}, Shape: 0.15, Free: free}}})
		require.True(t, ok)
		return c.Found[0].Text
	}
	require.Contains(t, said(), "At (0, 0, 0) mm it comes back within what can be told: 0.87 ± 0.88 mm. No rigid motion lays one skin quite on the other")
	require.Contains(t, said(align.FreeMotion{Words: "slide along X"}), "within what can be told, as far as the two skins hold each other: 0.87 ± 0.88 mm.")
}

// Skins that nothing holds against each other have not lost their shape by that.
func TestSkinsThatNothingHoldsAreNotCalledDeformed(t *testing.T) {
	said := func(misfit bool) string {
		c, ok := words.Writer{}.Closure(&closure.Result{Closures: []closure.Closure{{StepRMS: 0.4, Misfit: misfit}}})
		require.True(t, ok)
		return c.Found[0].Text
	}
	require.Equal(t, "At (0, 0, 0) mm two skins lie 0.40 mm apart (root mean square); too little holds them against each other to say which motion lies between them.", said(false))
	require.Contains(t, said(true), "lost its shape")
}
