package main

import (
	"strconv"

	"shutline/app"
	"shutline/app/inspection"
	"shutline/app/words"
	"shutline/deviation/evidence"
)

// mostLimit is the largest --limit in mm: more than any bodywork may be off.
const mostLimit = 1000

// compare lays two inspections of the same part side by side and writes what has
// changed. It judges nothing, so it ends with 0 whatever has changed, unless a seam could not be laid.
func (c *command) compare(a *arguments) (int, error) {
	switch {
	case len(a.files) != 2:
		return 0, usage("name two inspection files of the same part, not %d: shutcheck compare FIRST.toml SECOND.toml --out DIR", len(a.files))
	case a.values["out"] == "":
		return 0, usage("name the folder for the results: shutcheck compare %s %s --out DIR", a.files[0], a.files[1])
	}
	threads, err := a.threads()
	if err != nil {
		return 0, err
	}
	limit := 0.0
	if s, given := a.values["limit"]; given {
		limit, err = strconv.ParseFloat(s, 64)
		if err != nil || !(limit > 0 && limit <= mostLimit) {
			return 0, usage("--limit must be a number of mm over 0 and at most %d, not %q", mostLimit, s)
		}
	}
	var pair [2]*inspection.Inspection
	for k := range pair {
		if pair[k], err = inspection.Read(a.files[k]); err != nil {
			return 0, err
		}
	}
	s := app.Settings{Threads: threads}
	found, err := app.LoadPair(c.ctx, pair, s, c.progress.part(0, 0.2))
	if err != nil {
		return 0, atKey(c.ctx, err, pair[:]...)
	}
	dir, w := a.values["out"], app.WriteOptions{Replace: a.set["replace"], Threads: threads}
	if err := app.CheckChangeFolder(found, dir, w); err != nil {
		return 0, err
	}
	if err := found.Measure(c.ctx, limit, s, c.progress.part(0.2, 0.8)); err != nil {
		return 0, atKey(c.ctx, err, pair[:]...)
	}
	if err := app.WriteChange(c.ctx, found, dir, w, c.progress.part(0.8, 1)); err != nil {
		return 0, err
	}
	c.progress.clear()
	if a.set["json"] {
		data, err := evidence.ChangeSummaryJSON(app.ChangeRecord(found))
		if err != nil {
			return 0, err
		}
		c.out.text(string(data))
		return 0, found.Unlaid()
	}
	c.out.text(changeSummary(found, dir, written(dir)))
	return 0, found.Unlaid()
}

func changeSummary(c *app.Change, dir string, files []string) string {
	var t text
	w := words.Writer{}
	t.line(app.ChangeRecord(c).Title())
	t.line("")
	t.card("Change", w.Change(c), false)
	if len(c.Points) > 0 {
		t.card("Points", w.ChangedPoints(c.Points), false)
	}
	if all := w.ChangedSeams(c.Seams); all.Headline != "" {
		t.card("Seams", all, false)
	}
	for _, s := range c.Seams {
		t.card("Seam: "+s.Name, w.ChangedSeam(s), false)
	}
	t.files(dir, files)
	t.list("Mind", evidence.Cautions())
	return t.b.String()
}
