package app

import (
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app/inspection"
)

// Two results that are named alike are told apart by their files.
func TestEqualTitlesHoldTheFiles(t *testing.T) {
	at := func(title, path string) *inspection.Inspection {
		return &inspection.Inspection{Title: title, Path: path}
	}
	for _, c := range []struct {
		first, second *inspection.Inspection
		want          [2]string
	}{
		{at("wing", "a/1.toml"), at("door", "a/2.toml"), [2]string{"wing", "door"}},
		{at("wing", "a/1.toml"), at("wing", "a/2.toml"), [2]string{"wing (1.toml)", "wing (2.toml)"}},
		{at("wing", "x/a/job.toml"), at("wing", "x/b/job.toml"), [2]string{"wing (a/job.toml)", "wing (b/job.toml)"}},
		{at("", "a/job.toml"), at("", "b/job.toml"), [2]string{"a/job.toml", "b/job.toml"}},
	} {
		require.Equal(t, c.want, ChangeRecord(&Change{Inspections: [2]*inspection.Inspection{c.first, c.second}}).Titles)
	}
}
