package main

import (
	"path/filepath"
	"slices"

	"shutline/app"
	"shutline/app/words"
	"shutline/deviation/evidence"
)

// join lays pieces together and writes the joined mesh with its tables. It judges nothing.
func (c *command) join(a *arguments) error {
	out := a.values["out"]
	switch {
	case len(a.files) < 2:
		return usage("name two pieces or more, not %d: shutcheck join PIECE... --out MESH", len(a.files))
	case out == "":
		return usage("name the joined mesh: shutcheck join PIECE... --out MESH")
	}
	threads, err := a.threads()
	if err != nil {
		return err
	}
	units, err := a.units()
	if err != nil {
		return err
	}
	inputs := append(slices.Clone(a.files), a.values["reference"], a.values["markers"])
	if err := app.CheckJoinedPath(out, a.set["replace"], inputs...); err != nil {
		return err
	}
	job := app.JoinJob{Files: a.files, Reference: a.values["reference"], Markers: a.values["markers"], Units: units}
	j, err := app.JoinPieces(c.ctx, job, app.Settings{Threads: threads}, c.progress.part(0, 0.95))
	if err != nil {
		return err
	}
	files, err := app.WriteJoined(c.ctx, j, out, app.WriteOptions{Replace: a.set["replace"], Threads: threads})
	if err != nil {
		return err
	}
	c.progress.clear()
	if a.set["json"] {
		data, err := evidence.JoinedJSON(app.JoinedRecord(j))
		if err != nil {
			return err
		}
		c.out.text(string(data))
		return nil
	}
	c.out.text(joinSummary(j, out, files))
	return nil
}

// joinSummary words a join.
func joinSummary(j *app.PiecesJoined, out string, files []string) string {
	var t text
	w := words.Writer{}
	card := w.Joined(j.Result, j.Joined, j.Notes)
	t.card("Pieces", card, false)
	for _, n := range card.Next {
		t.indented("  Next: ", "        ", n)
	}
	if len(card.Next) > 0 {
		t.line("")
	}
	t.raw("Written into " + filepath.Dir(out) + ":")
	for _, f := range files {
		t.raw("  " + f)
	}
	t.line("")
	t.list("Mind", evidence.Cautions())
	return t.b.String()
}
