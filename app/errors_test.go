package app_test

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/inspection"
	"shutline/deviation/align"
	"shutline/deviation/evidence"
	"shutline/deviation/gapflush"
	"shutline/mesh/meshio"
)

// The statuses are those of contract.md: sysexits.h for 64 to 74, 128 + SIGINT for 130.
func TestExitStatus(t *testing.T) {
	for _, c := range []struct {
		err  error
		want int
	}{
		{nil, 0},
		{&app.UsageError{Problem: "x"}, 64},
		{&inspection.Error{}, 65},
		{&meshio.FormatError{Byte: -1}, 65},
		{&meshio.UnitError{}, 65},
		{&app.InputError{}, 65},
		{fmt.Errorf("x: %w", align.ErrTooFew), 65},
		{fmt.Errorf("x: %w", align.ErrNoOverlap), 65},
		{fmt.Errorf("x: %w", gapflush.ErrPath), 65},
		{&inspection.OpenError{Err: fs.ErrNotExist}, 66},
		{&meshio.OpenError{Err: fs.ErrPermission}, 66},
		{fs.ErrNotExist, 66},
		{&app.FaultError{What: "x"}, 70},
		{errors.New("nobody expected this"), 70},
		{&evidence.WriteError{}, 74},
		{&evidence.WriteError{Err: fs.ErrPermission}, 74},
		{context.Canceled, 130},
		{fmt.Errorf("app: %w", context.DeadlineExceeded), 130},
	} {
		require.Equal(t, c.want, app.ExitStatus(c.err), "%T %v", c.err, c.err)
		if c.err != nil {
			require.Equal(t, c.want, app.ExitStatus(fmt.Errorf("wrapped: %w", c.err)))
		}
	}
}

func TestSentencesNameNoPackages(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"meshio: scan.stl: cannot be opened", "scan.stl: cannot be opened"},
		{"app: seam \"a\": gapflush: seam \"a\": path cannot be used", "seam \"a\": seam \"a\": path cannot be used"},
		{"app: /job/scan.stl: align: too few points", "/job/scan.stl: too few points"},
		{"meshio: app: cannot be opened", "app: cannot be opened"}, // a file of that name
		{"no prefix", "no prefix"},
	} {
		require.Equal(t, c.want, app.Sentence(errors.New(c.text)))
	}
}
