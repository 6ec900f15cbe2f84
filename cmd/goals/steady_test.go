package main

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestRowsStandUnderTheirHeading(t *testing.T) {
	var out strings.Builder
	s := &steady{out: &out}
	fmt.Fprint(s, "points mm\tgoal\tnote\n")
	fmt.Fprint(s, "1\tmet\t\n")
	require.NoError(t, s.Flush())
	fmt.Fprint(s, "2.5 ± 0.1\tmet\tlong and last\n0.1\tm\n")
	require.NoError(t, s.Flush())
	require.NoError(t, s.Flush())
	require.Equal(t, "points mm  goal  note\n1          met\n2.5 ± 0.1  met   long and last\n0.1        m\n", out.String())
}

// A title is no cell of the column that it stands over.
func TestATitleIsWiderThanTheFirstColumn(t *testing.T) {
	var out strings.Builder
	s := &steady{out: &out}
	fmt.Fprint(s, "\nall goals, seed 5\npart\tgoal\t\nplan\tmet\tlong and last\n")
	require.NoError(t, s.Flush())
	require.Equal(t, "\nall goals, seed 5\npart  goal\nplan  met   long and last\n", out.String())
}
