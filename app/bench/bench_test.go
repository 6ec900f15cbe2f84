package bench_test

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/bench"
	"shutline/app/inspection"
	"shutline/deviation/verdict"
	"shutline/deviation/worth"
	"shutline/mesh/meshio"
)

func lamps(b *bench.Bench) []bench.Lamp {
	var list []bench.Lamp
	for _, s := range bench.Stages() {
		list = append(list, b.Lamp(s))
	}
	return list
}

func TestOpeningRunsEveryStageInOrder(t *testing.T) {
	r := newRig(t)
	require.Equal(t, []bench.Lamp{0, 0, 0, 0, 0, 0}, lamps(r.bench))
	r.open()
	require.Equal(t, []string{"read", "load", "place", "compare", "wing to door", "door to quarter"}, r.taken())
	require.Equal(t, []bench.Lamp{bench.Good, bench.Done, bench.Good, bench.Good, bench.Bad, bench.NotDone}, lamps(r.bench))
	require.Equal(t, verdict.DoesNotConform, r.bench.Outcome().Verdict)
	require.True(t, r.bench.Complete())
	require.False(t, r.bench.Dirty())

	seam, station := r.bench.Selection()
	require.Equal(t, []int{0, 2}, []int{seam, station}, "the worst station of the first seam is marked")
}

func TestAFailedOpeningKeepsTheJob(t *testing.T) {
	r := newRig(t)
	r.open()
	before := r.bench.Job()
	r.errs["load"] = errBroken
	r.bench.OpenPair("other.stl", "")
	r.settle()
	require.Same(t, before, r.bench.Job())
	require.Len(t, r.faults, 1)
	require.EqualError(t, r.faults[0], errBroken.Error(), "the sentence is the reader's own")
	require.Equal(t, bench.Bad, r.bench.Lamp(bench.Seams))
}

func TestAUnitThatCannotBeToldComesWithItsJob(t *testing.T) {
	r := newRig(t)
	r.errs["load"] = &meshio.UnitError{Path: "other.stl"}
	r.bench.OpenPair("other.stl", "")
	r.settle()
	var unit *meshio.UnitError
	var load *bench.LoadError
	require.ErrorAs(t, r.faults[0], &unit)
	require.ErrorAs(t, r.faults[0], &load)
	require.Equal(t, "other.stl", load.Job.Scan.File)
	require.Nil(t, r.bench.Job())
}

func TestChangesRunOnlyWhatStandsOnThem(t *testing.T) {
	for _, c := range []struct {
		name   string
		change func(*inspection.Inspection)
		runs   []string
	}{
		{"title", func(i *inspection.Inspection) { i.Title = "other" }, nil},
		{"tolerance", func(i *inspection.Inspection) { i.Surface.Tolerance.Hi = 1 }, []string{"compare"}},
		{"one seam", func(i *inspection.Inspection) { i.Seams[1].Every = 10 }, []string{"door to quarter"}},
		{"placement", func(i *inspection.Inspection) { i.Place.Method = "none" }, []string{"place", "compare", "wing to door", "door to quarter"}},
		{"unit", func(i *inspection.Inspection) { i.Scan.Units = "cm" }, []string{"load", "place", "compare", "wing to door", "door to quarter"}},
		{"mirror", func(i *inspection.Inspection) { i.Reference.Mirror = "y" }, []string{"load", "place", "compare", "wing to door", "door to quarter"}},
		{"seam gone", func(i *inspection.Inspection) { i.Seams = i.Seams[1:] }, []string{}},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := newRig(t)
			r.open()
			r.taken()
			r.bench.Edit(c.name, c.change)
			r.settle()
			require.ElementsMatch(t, c.runs, r.taken())
			require.True(t, r.bench.Dirty())
			require.True(t, r.bench.Complete())
			require.Equal(t, c.name, r.bench.CanUndo())
			require.Empty(t, r.faults)
		})
	}
}

func TestStaleResultsStayToLookAt(t *testing.T) {
	r := newRig(t)
	r.open()
	r.stuck["compare"] = true
	r.bench.Edit("tolerance", func(i *inspection.Inspection) { i.Surface.Tolerance.Hi = 1 })
	require.NotNil(t, r.bench.Outcome().Compared)
	require.True(t, r.bench.IsStale(bench.Surface))
	r.bench.Stop()
	require.Equal(t, bench.Stale, r.bench.Lamp(bench.Surface))
	require.Equal(t, bench.Bad, r.bench.Lamp(bench.Seams), "seams do not stand on the surface tolerance")
	require.False(t, r.bench.Complete())
}

// What the scan says of its own scale counts in every gap: seams are measured again when it is another.
func TestSeamsAreMeasuredAgainForAnotherScale(t *testing.T) {
	r := newRig(t)
	r.open()
	r.taken()
	r.bench.Edit("known length", func(i *inspection.Inspection) { i.Lengths = []inspection.Length{{Name: "bar"}} })
	r.settle()
	require.Empty(t, r.taken(), "the same scale as before")
	require.True(t, r.bench.Complete())
	r.mu.Lock()
	r.growth = worth.Growth{OK: true, PerMetre: 0.3, Factor: 2, Used: 1}
	r.mu.Unlock()
	require.NotZero(t, r.growth.ScalePPM())
	r.bench.Edit("travelled", func(i *inspection.Inspection) { i.Scan.Travelled = 9000 })
	r.settle()
	require.Equal(t, []string{"wing to door", "door to quarter"}, r.taken())
	require.Equal(t, 0.3, r.bench.Outcome().Growth.PerMetre)
	require.True(t, r.bench.Complete())
}

// A seam that goes again leaves what was looked at before it came.
func TestUndoOfANewSeamGoesBackToTheSeamThatWasMarked(t *testing.T) {
	r := newRig(t)
	r.open()
	for _, name := range []string{"second", "third"} {
		r.bench.Edit("new seam", func(i *inspection.Inspection) {
			s := i.Seams[0]
			s.Name = name
			i.Seams = append(i.Seams, s)
		})
		r.settle()
	}
	r.bench.Select(1, -1)
	r.bench.Edit("new seam", func(i *inspection.Inspection) {
		s := i.Seams[0]
		s.Name = "fourth"
		i.Seams = append(i.Seams, s)
	})
	r.settle()
	last := len(r.bench.Job().Seams) - 1
	r.bench.Select(last, -1)
	require.Equal(t, 1, r.bench.Undo().Seam)
	require.Equal(t, last, r.bench.Redo().Seam)
}

func TestUndoAndRedo(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Edit("tolerance", func(i *inspection.Inspection) { i.Surface.Tolerance.Hi = 1 })
	r.settle()
	r.bench.Edit("step", func(i *inspection.Inspection) { i.Seams[0].Every = 10 })
	r.settle()
	r.bench.Undo()
	r.settle()
	require.Equal(t, 25.0, r.bench.Job().Seams[0].Every)
	require.Equal(t, 25.0, r.bench.Results()[0].Seam.Every, "measured again for the job as it is")
	r.bench.Undo()
	r.settle()
	require.False(t, r.bench.Dirty(), "back at the job as opened")
	require.Empty(t, r.bench.CanUndo())
	require.Equal(t, "tolerance", r.bench.CanRedo())
	r.bench.Redo()
	r.bench.Redo()
	r.settle()
	require.Equal(t, 1.0, r.bench.Job().Surface.Tolerance.Hi)
	require.Equal(t, 10.0, r.bench.Job().Seams[0].Every)
	r.bench.Undo()
	r.bench.Edit("other", func(i *inspection.Inspection) { i.Surface.Reach = 5 })
	require.Empty(t, r.bench.CanRedo(), "a new change ends what could be redone")
	r.settle()
}

func TestAChangeThatMakesTheFilesUnreadableIsNotKept(t *testing.T) {
	r := newRig(t)
	r.open()
	r.errs["load"], r.once = errBroken, true
	r.bench.Edit("unit", func(i *inspection.Inspection) { i.Scan.Units = "m" })
	r.settle()
	require.Len(t, r.faults, 1)
	require.Equal(t, meshio.UnitUnknown, r.bench.Job().Scan.Units)
	require.True(t, r.bench.Complete())
}

func TestAStageThatFailsSaysSoAndCanBeTriedAgain(t *testing.T) {
	r := newRig(t)
	r.errs["compare"] = errors.New("deviation: no point within reach")
	r.open()
	require.Equal(t, bench.Failed, r.bench.Lamp(bench.Surface))
	require.Equal(t, bench.Surface, r.bench.Shown())
	require.EqualError(t, r.bench.Err(bench.Surface), "deviation: no point within reach")
	require.False(t, r.bench.Complete())
	delete(r.errs, "compare")
	r.bench.Retry()
	r.settle()
	require.True(t, r.bench.Complete())
}

// Work that does not notice at once that it was stopped must not hold up the
// bench, and what it brings later must not arrive.
func TestStopFreesTheBenchAtOnce(t *testing.T) {
	r := newRig(t)
	r.hold["place"] = make(chan struct{})
	r.bench.Open("van.toml")
	r.until(func() bool { return r.bench.Lamp(bench.Place) == bench.Working })
	r.bench.Stop()
	_, _, running := r.bench.Running()
	require.False(t, running)
	require.Equal(t, bench.NotDone, r.bench.Lamp(bench.Place))
	close(r.hold["place"])
	r.next()
	r.drain()
	require.Nil(t, r.bench.Outcome().Placed)
	require.Empty(t, r.faults)
}

// The deviations are there to be shown before their figures are, and are gone again where the work is stopped.
func TestDeviationsAreShownBeforeTheirFigures(t *testing.T) {
	r := newRig(t)
	r.hold["compare"] = make(chan struct{})
	r.bench.Open("van.toml")
	require.Nil(t, r.bench.Field())
	r.until(func() bool { return r.bench.Field() != nil })
	require.Nil(t, r.bench.Outcome().Compared)
	early := r.bench.Field()
	r.bench.Stop()
	require.Nil(t, r.bench.Field())
	close(r.hold["compare"])
	r.drain()
	r.mu.Lock()
	delete(r.hold, "compare")
	r.mu.Unlock()
	r.bench.Retry()
	r.settle()
	require.Equal(t, r.bench.Outcome().Compared.Field, r.bench.Field())
	require.NotSame(t, early, r.bench.Field())
}

func TestANewerRequestCancelsTheOlder(t *testing.T) {
	r := newRig(t)
	r.open()
	r.stuck["compare"] = true
	r.bench.Edit("tolerance", func(i *inspection.Inspection) { i.Surface.Tolerance.Hi = 1 })
	r.taken()
	r.mu.Lock()
	r.stuck["compare"] = false
	r.mu.Unlock()
	r.bench.Edit("tolerance", func(i *inspection.Inspection) { i.Surface.Tolerance.Hi = 2 })
	r.settle()
	require.Equal(t, 2.0, r.bench.Job().Surface.Tolerance.Hi)
	require.True(t, r.bench.Complete())
}

func TestAnOvertakenRunIsToldToEnd(t *testing.T) {
	r := newRig(t)
	r.stuck["place"] = true
	r.bench.Open("van.toml")
	r.until(func() bool { return r.bench.Lamp(bench.Place) == bench.Working })
	for len(r.taken()) == 0 {
		r.drain()
	}
	r.bench.OpenPair("a.stl", "b.stl")
	require.Equal(t, "place", <-r.ended)
	r.bench.Stop()
}

func TestWalkingStaysOnTheSeam(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Select(0, 1)
	r.bench.Step(-5)
	_, station := r.bench.Selection()
	require.Equal(t, 0, station)
	r.bench.Step(100)
	require.Equal(t, 4, r.bench.Station().Index)
	r.bench.StepSeam(1)
	seam, station := r.bench.Selection()
	require.Equal(t, []int{1, 2}, []int{seam, station})
	r.bench.StepSeam(1)
	seam, _ = r.bench.Selection()
	require.Equal(t, 0, seam, "round the end")
	r.bench.Select(99, 99)
	seam, station = r.bench.Selection()
	require.Equal(t, []int{1, 3}, []int{seam, station})
}

func TestSaveWritesAWholeFileOrNone(t *testing.T) {
	r := newRig(t)
	r.open()
	dir := t.TempDir()
	path := filepath.Join(dir, "saved.toml")
	r.bench.Edit("title", func(i *inspection.Inspection) { i.Title = "second" })
	r.settle()
	require.NoError(t, r.bench.Save(path))
	require.False(t, r.bench.Dirty())
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, "title = second\n", string(data))
	// sha256sum of "title = second\n".
	require.Len(t, r.bench.Job().SHA256, 64)
	files, err := os.ReadDir(dir)
	require.NoError(t, err)
	require.Len(t, files, 1, "nothing is left beside it")

	err = r.bench.Save(filepath.Join(dir, "no such folder", "x.toml"))
	require.ErrorContains(t, err, "no such folder")
	r.bench.Undo()
	require.True(t, r.bench.Dirty())
	r.bench.Redo()
	require.False(t, r.bench.Dirty(), "the state that was saved is reached again")
	r.settle()
}

func TestEvidenceIsWrittenFromWhatIsOnTheBench(t *testing.T) {
	r := newRig(t)
	r.open()
	r.taken()
	var dir string
	r.bench.WriteEvidence("out", true, func(d string, err error) {
		require.NoError(t, err)
		dir = d
	})
	r.settle()
	require.Equal(t, "out", dir)
	require.Equal(t, []string{"write out true 2"}, r.taken())
	require.Equal(t, "out", r.bench.Written)
	require.Equal(t, bench.Bad, r.bench.Lamp(bench.Evidence))
	r.bench.Edit("step", func(i *inspection.Inspection) { i.Seams[0].Every = 10 })
	require.Equal(t, bench.Stale, r.bench.Lamp(bench.Evidence))
	r.settle()
	require.Equal(t, bench.Stale, r.bench.Lamp(bench.Evidence), "evidence is never written by itself")
}

func TestTheDemoIsMadeAndOpened(t *testing.T) {
	r := newRig(t)
	r.bench.OpenMade(func(_ context.Context, report func(string, float64)) (string, error) {
		report("writing", 0.5)
		return "van.toml", nil
	})
	r.settle()
	require.Equal(t, "van", r.bench.Job().Title)
}

var _ app.Progress = func(string, float64) {}

func TestSavingLeavesAUnitJudgedThatNobodyStated(t *testing.T) {
	for _, source := range []string{"judged", "format"} {
		r := newRig(t)
		r.unitSource = source
		r.bench.OpenPair("parts/left door.stl", "ref.stl")
		r.settle()
		require.Equal(t, "left door", r.bench.Job().Title, "a new job is called what its scan is")
		r.bench.Edit("reach", func(i *inspection.Inspection) { i.Surface.Reach = 5 })
		r.settle()
		r.taken()
		path := filepath.Join(t.TempDir(), "door.toml")
		require.NoError(t, r.bench.Save(path))
		data, err := os.ReadFile(path)
		require.NoError(t, err)
		require.Equal(t, "title = left door\n", string(data))
		require.Equal(t, meshio.UnitUnknown, r.bench.Job().Scan.Units)
		require.False(t, r.bench.Dirty())
		r.settle()
		require.Equal(t, []string{"read"}, r.taken(), "nothing is measured again")
		require.Equal(t, source, r.bench.Outcome().Parts.Scan.UnitSource)
	}
	r := newRig(t)
	r.unitSource = "judged"
	r.bench.OpenPair("door.stl", "ref.stl")
	r.settle()
	r.bench.Edit("unit", func(i *inspection.Inspection) { i.Scan.Units, i.Reference.Units = "mm", "mm" })
	r.settle()
	path := filepath.Join(t.TempDir(), "door.toml")
	require.NoError(t, r.bench.Save(path))
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Contains(t, string(data), "units = mm mm", "what the user states is kept")
}

func TestARenamedSeamKeepsItsResultToLookAt(t *testing.T) {
	r := newRig(t)
	r.open()
	before := r.bench.Results()[0]
	r.bench.Edit("name", func(i *inspection.Inspection) { i.Seams[0].Name = "hood to wing" })
	require.Same(t, before, r.bench.Results()[0])
	r.settle()
	require.Equal(t, "hood to wing", r.bench.Results()[0].Seam.Name)
	r.bench.Edit("delete", func(i *inspection.Inspection) { i.Seams, i.SeamPictures = i.Seams[1:], i.SeamPictures[1:] })
	r.settle()
	require.Equal(t, "door to quarter", r.bench.Results()[0].Seam.Name)
}

func TestAScanAloneIsNotPlaced(t *testing.T) {
	r := newRig(t)
	r.job.Reference = &inspection.Reference{File: "ref.stl"}
	r.open()
	require.Equal(t, bench.Good, r.bench.Lamp(bench.Place))
	r.bench.Edit("no reference", func(i *inspection.Inspection) { i.Reference = nil })
	require.Equal(t, bench.NotDone, r.bench.Lamp(bench.Place))
	r.bench.Stop()
}

func TestAFaultOfOurOwnIsAnErrorNotTheEnd(t *testing.T) {
	r := newRig(t)
	s := r.services()
	s.Compare = func(context.Context, *inspection.Inspection, *app.Parts, *app.Placed, app.Settings, app.Progress) (*app.Compared, error) {
		panic("index out of range")
	}
	r.bench = bench.New(s, func(f func()) { r.queue <- f })
	r.bench.Open("van.toml")
	r.settle()
	var fault *app.FaultError
	require.ErrorAs(t, r.bench.Err(bench.Surface), &fault)
	require.Equal(t, bench.Failed, r.bench.Lamp(bench.Surface))
	require.True(t, r.bench.IsDone(bench.Place), "what was done stays")
}
