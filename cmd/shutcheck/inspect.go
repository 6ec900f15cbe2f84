package main

import (
	"fmt"
	"os"
	"path/filepath"
	"sort"
	"time"

	"shutline/app"
	"shutline/app/inspection"
	"shutline/deviation/evidence"
	"shutline/deviation/verdict"
)

// inspect runs an inspection and writes its results.
func (c *command) inspect(a *arguments) (int, error) {
	switch {
	case len(a.files) == 0:
		return 0, usage("name the inspection file: shutcheck inspect FILE.toml --out DIR")
	case len(a.files) > 1:
		return 0, usage("name one inspection file, not %d (%q, %q); run the command once for each", len(a.files), a.files[0], a.files[1])
	case a.values["out"] == "":
		also := ""
		if _, err := os.Stat(a.files[0]); err != nil {
			also = fmt.Sprintf("; and there is no file %s to inspect that can be opened", a.files[0])
		}
		return 0, usage("name the folder for the results: shutcheck inspect %s --out DIR%s", a.files[0], also)
	}
	threads, err := a.threads()
	if err != nil {
		return 0, err
	}
	o, err := c.measure(a, threads)
	if err != nil {
		return 0, err
	}
	dir := a.values["out"]
	w := app.WriteOptions{Replace: a.set["replace"], Threads: threads}
	if err := app.Write(c.ctx, o, dir, w, c.progress.part(0.7, 1)); err != nil {
		return 0, err
	}
	c.progress.clear()
	if a.set["json"] {
		data, err := evidence.SummaryJSON(app.Record(o))
		if err != nil {
			return 0, err
		}
		c.out.text(string(data))
	} else {
		c.out.text(summary(o, dir, written(dir)))
	}
	if err := o.Unlaid(); err != nil { // told last, after all that was measured
		if o.Verdict == verdict.DoesNotConform { // which no part that is missing could undo
			c.progress.clear()
			fmt.Fprintln(c.stderr, message(err, app.ExitInput))
			return app.ExitDoesNotConform, nil
		}
		return 0, err
	}
	return statusOf(o.Verdict), nil
}

// measure runs the stages. The folder is looked at as early as it can be, so
// that nobody waits for results that cannot be written.
func (c *command) measure(a *arguments, threads int) (*app.Outcome, error) {
	started := time.Now()
	i, err := inspection.Read(a.files[0])
	if err != nil {
		return nil, err
	}
	s := app.Settings{Threads: threads}
	parts, err := app.LoadParts(c.ctx, i, s, c.progress.part(0, 0.2))
	if err != nil {
		return nil, atKey(c.ctx, err, i)
	}
	w := app.WriteOptions{Replace: a.set["replace"], Threads: threads}
	if err := app.CheckFolder(i, parts, a.values["out"], w); err != nil {
		return nil, err
	}
	for _, d := range app.Foresee(i, parts) { // said while there is still time to scan again
		c.progress.clear()
		fmt.Fprintln(c.stderr, "shutcheck: mind: "+d.String())
	}
	for _, d := range app.OverLong(i) {
		c.progress.clear()
		fmt.Fprintln(c.stderr, "shutcheck: mind: "+d)
	}
	read := time.Since(started)
	o, err := app.InspectParts(c.ctx, i, parts, s, c.progress.part(0.2, 0.7))
	if err != nil {
		return nil, atKey(c.ctx, err, i)
	}
	o.Started = started
	o.Times = append([]app.StageTime{{Stage: "parts", Took: read}}, o.Times...)
	return o, nil
}

// statusOf returns the exit status of a verdict.
func statusOf(v verdict.Verdict) int {
	switch v {
	case verdict.DoesNotConform:
		return app.ExitDoesNotConform
	case verdict.Undecided:
		return app.ExitUndecided
	}
	return app.ExitDone
}

// written lists the names of the pictures and tables in a folder, sorted.
func written(dir string) []string {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil
	}
	var names []string
	for _, e := range entries {
		switch filepath.Ext(e.Name()) {
		case ".csv", ".png", ".json":
			names = append(names, e.Name())
		}
	}
	sort.Strings(names)
	return names
}
