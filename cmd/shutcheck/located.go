package main

import (
	"context"
	"fmt"
	"strings"

	"shutline/app"
	"shutline/app/inspection"
)

// located is an error about a mesh with the place in the inspection file that names it: who typed one file reads of another.
type located struct {
	where string
	err   error
}

func (e *located) Error() string { return e.where + ": " + app.Sentence(e.err) }

// Unwrap returns the cause, which the exit status hangs on.
func (e *located) Unwrap() error { return e.err }

// atKey says at which line and key of the inspections, the first that names it, the mesh stands that an error begins with; other errors
// are returned as they are.
func atKey(ctx context.Context, err error, of ...*inspection.Inspection) error {
	if err == nil || ctx.Err() != nil {
		return err
	}
	said := app.Sentence(err)
	for _, i := range of {
		for _, m := range meshKeys(i) {
			if m.file == "" || !strings.HasPrefix(said, m.file+": ") {
				continue
			}
			keys := []string{m.table + ".file"}
			switch {
			case strings.Contains(said, "take mirror out of [reference]"), strings.Contains(said, "is not symmetric"):
				keys = []string{"reference.mirror", "reference.mirror_plane", m.table + ".file"}
			case strings.Contains(said, "its unit is stated as"):
				keys = []string{m.table + ".units", m.table + ".file"}
			}
			for _, key := range keys {
				if line := inspection.Line(i.Path, key); line > 0 {
					return &located{fmt.Sprintf("%s: line %d: %s", i.Path, line, key), err}
				}
			}
		}
	}
	return err
}

type meshKey struct{ table, file string }

func meshKeys(i *inspection.Inspection) []meshKey {
	list := []meshKey{{"scan", i.Scan.File}}
	if i.Reference != nil {
		list = append(list, meshKey{"reference", i.Reference.File})
	}
	for k := range i.Pieces {
		list = append(list, meshKey{fmt.Sprintf("piece[%d]", k), i.Pieces[k].File})
	}
	return list
}
