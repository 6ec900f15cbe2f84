package bench_test

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"shutline/app/bench"
	"shutline/app/inspection"
	"shutline/mesh/meshio"
)

// asVictim makes the test binary a program that is killed; its value says what it does.
const asVictim = "SHUTLINE_TEST_VICTIM"

func TestMain(m *testing.M) {
	if what := os.Getenv(asVictim); what != "" {
		victim(what, os.Args[1], os.Args[2])
	}
	os.Exit(m.Run())
}

// victim works on a job until it is killed.
func victim(what, dir, path string) {
	queue := make(chan func(), 1000)
	r := &rig{job: fileJob(path), errs: map[string]error{}, hold: map[string]chan struct{}{}, stuck: map[string]bool{}}
	b := bench.New(r.services(), func(f func()) { queue <- f })
	pump := func(until func() bool) {
		for !until() {
			(<-queue)()
		}
	}
	idle := func() bool { _, _, running := b.Running(); return !running && b.Complete() }
	b.KeepUnsaved(dir)
	b.Open(path)
	pump(idle)
	switch what {
	case "edit":
		b.Edit("title", func(i *inspection.Inspection) { i.Title = "changed, not saved" })
		fmt.Println("edited")
		time.Sleep(time.Hour)
	case "save":
		fmt.Println("saving")
		for n := 0; ; n++ {
			b.Edit("title", func(i *inspection.Inspection) { i.Title = strings.Repeat(string(rune('a'+n%26)), 40_000) })
			if err := b.Save(path); err != nil {
				panic(err)
			}
			pump(idle)
		}
	}
}

func fileJob(path string) *inspection.Inspection {
	job := vanJob()
	job.Path = path
	job.Scan.Units, job.Reference.Units = meshio.Millimetre, meshio.Millimetre
	return job
}

// startVictim starts one and waits until it is at work.
func startVictim(t *testing.T, what, dir, path string) *exec.Cmd {
	t.Helper()
	self, err := os.Executable()
	require.NoError(t, err)
	c := exec.Command(self, dir, path)
	c.Env = append(os.Environ(), asVictim+"="+what)
	c.Stderr = os.Stderr
	out, err := c.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, c.Start())
	t.Cleanup(func() { _ = c.Process.Kill(); _ = c.Wait() })
	line := make([]byte, 16)
	_, err = out.Read(line)
	require.NoError(t, err)
	return c
}

func kill(t *testing.T, c *exec.Cmd) {
	t.Helper()
	require.NoError(t, c.Process.Signal(syscall.SIGKILL))
	_ = c.Wait()
}

func TestChangesSurviveAKill(t *testing.T) {
	dir := t.TempDir()
	notes, path := filepath.Join(dir, "notes"), filepath.Join(dir, "van.toml")
	require.NoError(t, os.WriteFile(path, []byte("title = van\n"), 0o644))
	c := startVictim(t, "edit", notes, path)
	beside := filepath.Join(dir, "van.unsaved.toml")
	require.Eventually(t, func() bool {
		data, err := os.ReadFile(beside)
		return err == nil && strings.Contains(string(data), "changed, not saved") && len(noteFiles(t, notes)) == 1
	}, 20*time.Second, 20*time.Millisecond)
	time.Sleep(50 * time.Millisecond) // the note is written behind the file
	require.Empty(t, bench.FindUnsaved(notes), "of a program that runs nothing is offered")
	_, ok := bench.UnsavedBeside(path, notes)
	require.False(t, ok)
	kill(t, c)

	left := bench.FindUnsaved(notes)
	require.Len(t, left, 1)
	require.Equal(t, []string{path, beside, "changed, not saved"}, []string{left[0].Job, left[0].File, left[0].Title})
	require.WithinDuration(t, time.Now(), left[0].When, time.Minute)

	r := newRig(t)
	r.job = fileJob(beside)
	r.job.Title = "changed, not saved"
	r.bench.KeepUnsaved(notes)
	r.bench.Recover(left[0])
	r.settle()
	require.Empty(t, r.faults)
	require.Equal(t, path, r.bench.Job().Path, "it is saved into its own file")
	require.True(t, r.bench.Dirty())
	require.True(t, r.bench.Complete())
	require.NoError(t, r.bench.Save(path))
	r.settle()
	r.bench.Close()
	require.NoFileExists(t, beside)
	require.Empty(t, noteFiles(t, notes), "nothing is left of either program")
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Contains(t, string(data), "changed, not saved")
}

func noteFiles(t *testing.T, dir string) []string {
	list, err := filepath.Glob(filepath.Join(dir, "note-*.json"))
	require.NoError(t, err)
	return list
}

// However a program is killed while it saves, the file holds one of the states that were saved, whole.
func TestAKilledSaveLeavesAWholeFile(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "van.toml")
	require.NoError(t, os.WriteFile(path, []byte("title = van\n"), 0o644))
	for n := range 8 {
		c := startVictim(t, "save", filepath.Join(dir, "notes"), path)
		time.Sleep(time.Duration(3+7*n) * time.Millisecond)
		kill(t, c)
		data, err := os.ReadFile(path)
		require.NoError(t, err)
		title := strings.TrimSuffix(strings.TrimPrefix(strings.SplitAfter(string(data), "\n")[0], "title = "), "\n")
		whole := title == "van" || len(title) == 40_000 && title == strings.Repeat(title[:1], 40_000)
		require.True(t, whole, "%d bytes beginning with %.20q", len(data), title)
		require.True(t, strings.HasSuffix(string(data), "\n"))
	}
	hidden := func() []string {
		list, err := filepath.Glob(filepath.Join(dir, ".*"))
		require.NoError(t, err)
		return list
	}
	for _, f := range hidden() {
		require.NoError(t, os.Chtimes(f, time.Time{}, time.Now().Add(-time.Hour)))
	}
	r := newRig(t)
	r.job = fileJob(path)
	r.bench.Open(path)
	r.settle()
	require.Empty(t, hidden(), "whatever the killed programs left is gone when the job is opened an hour later")
}

func TestUnsavedChangesGoWhenTheyAreSavedOrTakenBack(t *testing.T) {
	dir := t.TempDir()
	notes, path := filepath.Join(dir, "notes"), filepath.Join(dir, "van.toml")
	r := newRig(t)
	r.job = fileJob(path)
	r.bench.KeepUnsaved(notes)
	r.open()
	kept := func() bool {
		_, err := os.Stat(bench.Beside(path))
		return err == nil
	}
	require.False(t, kept())
	r.bench.Edit("title", func(i *inspection.Inspection) { i.Title = "second" })
	require.Eventually(t, kept, 10*time.Second, 5*time.Millisecond)
	r.bench.Undo()
	require.Eventually(t, func() bool { return !kept() }, 10*time.Second, 5*time.Millisecond, "nothing is unsaved any more")
	r.bench.Redo()
	require.Eventually(t, kept, 10*time.Second, 5*time.Millisecond)
	r.bench.Close()
	require.False(t, kept(), "who closes has been asked")
	require.Empty(t, noteFiles(t, notes))
	r.drain()
	require.NoError(t, r.bench.Kept())
}

// A job without a file, or in a folder that takes nothing, is kept in the user's own folder.
func TestChangesWithoutAPlaceBesideTheirJob(t *testing.T) {
	dir := t.TempDir()
	notes := filepath.Join(dir, "notes")
	r := newRig(t)
	r.job = fileJob("")
	r.bench.KeepUnsaved(notes)
	r.open()
	r.bench.Edit("title", func(i *inspection.Inspection) { i.Title = "no file yet" })
	require.Eventually(t, func() bool { return len(noteFiles(t, notes)) == 1 }, 10*time.Second, 5*time.Millisecond)
	own, err := filepath.Glob(filepath.Join(notes, "job-*.unsaved.toml"))
	require.NoError(t, err)
	require.Len(t, own, 1)
	r.bench.Close()

	r = newRig(t)
	r.job = fileJob(filepath.Join(dir, "no such folder", "van.toml"))
	r.bench.KeepUnsaved(notes)
	r.open()
	r.bench.Edit("title", func(i *inspection.Inspection) { i.Title = "elsewhere" })
	require.Eventually(t, func() bool { return len(noteFiles(t, notes)) == 1 }, 10*time.Second, 5*time.Millisecond)
	r.bench.Close()
	r.drain()
	require.NoError(t, r.bench.Kept())

	blocked := filepath.Join(dir, "blocked") // a file where the folder should be
	require.NoError(t, os.WriteFile(blocked, nil, 0o644))
	r = newRig(t)
	r.job = fileJob("")
	r.bench.KeepUnsaved(blocked)
	r.open()
	r.bench.Edit("title", func(i *inspection.Inspection) { i.Title = "nowhere" })
	r.until(func() bool { return r.bench.Kept() != nil })
	require.Contains(t, r.shown, bench.KeptChanged)
}

func TestChangesThatLieBesideAJobWithoutANote(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "van.toml")
	_, ok := bench.UnsavedBeside(path, dir)
	require.False(t, ok)
	require.NoError(t, os.WriteFile(bench.Beside(path), []byte("title = old\n"), 0o644))
	u, ok := bench.UnsavedBeside(path, dir)
	require.True(t, ok)
	require.Equal(t, path, u.Job)

	// They are not written over by other changes of the job.
	r := newRig(t)
	r.job = fileJob(path)
	r.bench.KeepUnsaved(filepath.Join(dir, "notes"))
	r.open()
	r.bench.Edit("title", func(i *inspection.Inspection) { i.Title = "new" })
	require.Eventually(t, func() bool { return len(noteFiles(t, filepath.Join(dir, "notes"))) == 1 }, 10*time.Second, 5*time.Millisecond)
	data, err := os.ReadFile(bench.Beside(path))
	require.NoError(t, err)
	require.Equal(t, "title = old\n", string(data))
	r.bench.Close()
	bench.Discard(u)
	require.NoFileExists(t, bench.Beside(path))
}

// A program that is killed right after it has saved leaves changes that the job's own file holds: they
// are not offered, with a note or without. What another has saved since is no reason to drop them.
func TestChangesThatWereSavedAreNotOffered(t *testing.T) {
	const head = "[scan]\nfile = \"scan.stl\"\n"
	for _, c := range []struct {
		name, job, changes string
		age                time.Duration // of the changes, from the job's
		offered, left      bool
	}{
		{"made and not saved", "title = \"a\"\n" + head, "title = \"b\"\n" + head, time.Second, true, true},
		{"saved since", "title = \"c\"\n" + head, "title = \"b\"\n" + head, -time.Second, true, true},
		{"just saved", "# a comment\ntitle = \"b\"\n" + head + "sha256 = \"" + strings.Repeat("0", 64) + "\"\n", "title = \"b\"\n" + head, -time.Millisecond, false, false},
		{"the same, by a clock that is off", "title = \"b\"\n" + head, "title = \"b\"\n" + head, time.Hour, false, false},
		{"a title of their own", "title = \"b\"\n" + head, "title = \"b \"\n" + head, time.Second, true, true},
		{"not an inspection", "title = \"b\"\n" + head, "title = ", time.Second, true, true},
	} {
		for _, noted := range []bool{true, false} {
			dir := t.TempDir()
			notes, job := filepath.Join(dir, "notes"), filepath.Join(dir, "van.toml")
			beside, note := bench.Beside(job), filepath.Join(notes, "note-1.json")
			require.NoError(t, os.Mkdir(notes, 0o755))
			require.NoError(t, os.WriteFile(job, []byte(c.job), 0o644))
			require.NoError(t, os.WriteFile(beside, []byte(c.changes), 0o644))
			now := time.Now()
			require.NoError(t, os.Chtimes(job, now, now))
			require.NoError(t, os.Chtimes(beside, now, now.Add(c.age)))
			offered, since := false, false
			if noted {
				require.NoError(t, os.WriteFile(note, fmt.Appendf(nil, "{\"job\":%q,\"file\":%q,\"when\":\"2026-01-02T03:04:05Z\"}", job, beside), 0o644))
				list := bench.FindUnsaved(notes)
				offered = len(list) > 0
				since = offered && list[0].Since
			} else {
				var u bench.Unsaved
				u, offered = bench.UnsavedBeside(job, notes)
				since = u.Since
			}
			require.Equal(t, offered && c.age < 0, since, c.name)
			require.Equal(t, c.offered, offered, "%s, noted %v", c.name, noted)
			_, err := os.Stat(beside)
			require.Equal(t, c.left, err == nil, c.name)
			if noted {
				_, err = os.Stat(note)
				require.Equal(t, c.offered, err == nil, c.name)
				_, ok := bench.UnsavedBeside(job, notes)
				require.False(t, ok, c.name)
			}
		}
	}
}

func TestAJobChangedBySomebodyElseIsNotSavedOver(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "van.toml")
	r := newRig(t)
	r.job = fileJob(path)
	r.open()
	require.NoError(t, r.bench.Save(path))
	r.settle()
	require.NoError(t, os.WriteFile(path, []byte("title = by hand\n"), 0o644))
	r.bench.Edit("title", func(i *inspection.Inspection) { i.Title = "second" })
	r.settle()
	save := func(over bool) (err error) {
		done := false
		r.bench.SaveThen(path, over, func(e error) { done, err = true, e })
		r.until(func() bool { return done })
		return err
	}
	var changed *bench.ChangedError
	require.ErrorAs(t, save(false), &changed)
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	require.Equal(t, "title = by hand\n", string(data))
	require.True(t, r.bench.Dirty())
	require.NoError(t, save(true))
	require.False(t, r.bench.Dirty())
	require.NoError(t, save(false), "it is known again")
}

// Changes that are taken back after another has saved the job are not saved over that without asking.
func TestRecoveredChangesAreNotSavedOverWhatIsNewer(t *testing.T) {
	path := filepath.Join(t.TempDir(), "van.toml")
	require.NoError(t, os.WriteFile(path, []byte("title = by hand\n"), 0o644))
	require.NoError(t, os.WriteFile(bench.Beside(path), []byte("title = changed\n"), 0o644))
	r := newRig(t)
	r.job = fileJob(bench.Beside(path))
	r.bench.Recover(bench.Unsaved{Job: path, File: bench.Beside(path), Since: true})
	r.settle()
	require.Empty(t, r.faults)
	save := func(over bool) (err error) {
		done := false
		r.bench.SaveThen(path, over, func(e error) { done, err = true, e })
		r.until(func() bool { return done })
		return err
	}
	var changed *bench.ChangedError
	require.ErrorAs(t, save(false), &changed)
	require.NoError(t, save(true))
}

// A change that is made while the disk is waited for is not lost, and not taken for saved.
func TestAChangeDuringASaveStaysUnsaved(t *testing.T) {
	path := filepath.Join(t.TempDir(), "van.toml")
	r := newRig(t)
	r.job = fileJob("")
	r.open()
	r.bench.Edit("title", func(i *inspection.Inspection) { i.Title = "second" })
	done := false
	r.bench.SaveThen(path, false, func(err error) { require.NoError(t, err); done = true })
	r.bench.Edit("title", func(i *inspection.Inspection) { i.Title = "third" })
	r.until(func() bool { return done })
	require.True(t, r.bench.Dirty())
	require.Equal(t, []string{"third", path}, []string{r.bench.Job().Title, r.bench.Job().Path})
	r.settle()
	require.NoError(t, r.bench.Save(path))
	require.False(t, r.bench.Dirty())
}
