// Command shutline is the window: shutline [FILE.toml | SCAN [REFERENCE]].
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"strings"
	"time"

	"fyne.io/fyne/v2"
	fyneapp "fyne.io/fyne/v2/app"

	"shutline/app"
	"shutline/app/bench"
	"shutline/app/demo"
	"shutline/app/ui"
	"shutline/assets"
)

const usage = `usage: shutline [FILE.toml | SCAN [REFERENCE]]

Opens the window, on an inspection file or on a scan and its reference.
Without a display, use shutcheck: it does the same work headless.

  --trace FILE   append a line of JSON about everything that happens, for tests
  --watch FILE   append a line of JSON about everything that holds the drawing thread, for measuring
  --version      print the version
`

func main() {
	// The drawing thread needs a processor of Go's whenever it wakes or comes back from the driver, while workers keep
	// all others busy for milliseconds: it would miss every other tick.
	runtime.GOMAXPROCS(runtime.GOMAXPROCS(0) + 1)
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(spare)
	}
	os.Exit(run(os.Args[1:], os.Stdout, os.Stderr))
}

// spare is how much garbage, in hundredths of what is in use, is left lying about. What the window holds is large arrays without pointers, which
// take the collector next to no time: half of Go's own measure takes no more, and a job of 2 million triangles a third less memory at rest.
const spare = 50

// run returns the exit status; 64, 66 and 70 as in sysexits.h.
func run(args []string, out, fault io.Writer) int {
	flags := flag.NewFlagSet("shutline", flag.ContinueOnError)
	flags.SetOutput(io.Discard)
	trace := flags.String("trace", "", "")
	watched := flags.String("watch", "", "")
	version := flags.Bool("version", false, "")
	if err := flags.Parse(args); errors.Is(err, flag.ErrHelp) {
		fmt.Fprint(out, usage)
		return app.ExitDone
	} else if err != nil {
		fmt.Fprintf(fault, "shutline: %v\n%s", err, usage)
		return app.ExitUsage
	}
	if *version {
		fmt.Fprintln(out, "shutline", appVersion)
		return app.ExitDone
	}
	if flags.NArg() > 2 {
		fmt.Fprintf(fault, "shutline: give one inspection file, or a scan and its reference\n%s", usage)
		return app.ExitUsage
	}
	if err := checkDisplay(); err != nil {
		fmt.Fprintf(fault, "shutline: %v\n", err)
		return exitNoDisplay
	}
	return report(open(flags.Args(), *trace, *watched), fault)
}

// report words the error the window ended with, and returns the exit status.
func report(err error, to io.Writer) int {
	var own *app.FaultError
	switch {
	case err == nil:
		return app.ExitDone
	case errors.As(err, &own) && strings.Contains(fmt.Sprint(own.What), "GLFW"):
		fmt.Fprintf(to, "shutline: no window can be opened on the display %s (%v): it needs OpenGL 2.1; shutcheck inspect FILE.toml --out DIR does the same work headless\n", os.Getenv("DISPLAY"), own.What)
		return exitNoDisplay
	case errors.As(err, &own):
		fmt.Fprintf(to, "shutline: %v; please report this with what you did and the lines below\n%s", err, own.Stack)
		return app.ExitFault
	}
	fmt.Fprintf(to, "shutline: %v\n", err)
	return app.ExitOpen
}

// exitNoDisplay is EX_UNAVAILABLE of sysexits.h.
const exitNoDisplay = 69

// open shows the window and returns when it is closed. A panic, of the toolkit
// where a display offers no OpenGL or of our own, becomes an error.
func open(args []string, trace, watched string) (err error) {
	defer func() {
		if fault := recover(); fault != nil {
			err = &app.FaultError{What: fault, Stack: debug.Stack()}
		}
	}()
	var to io.Writer
	for _, file := range []struct {
		name string
		use  func(io.Writer)
	}{{trace, func(w io.Writer) { to = w }}, {watched, func(w io.Writer) { go watch(w) }}} {
		if file.name == "" {
			continue
		}
		f, err := os.OpenFile(file.name, os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o644)
		if err != nil {
			return fmt.Errorf("what happens cannot be written down: %w", err)
		}
		defer f.Close()
		file.use(f)
	}
	services := bench.Production()
	if len(args) == 1 {
		services = services.Ahead(args[0])
	}
	silence()
	fyneapp.SetMetadata(metadata())
	a := fyneapp.NewWithID(appID)
	a.SetIcon(fyne.NewStaticResource("icon.png", assets.Icon))
	if err := ui.Speak(a); err != nil {
		return fmt.Errorf("the texts cannot be read: %w", err)
	}
	w := ui.New(a, ui.Options{Services: services, Post: fyne.Do, Demo: writeDemo, DemoDir: demoDir(), StateDir: stateDir(), Version: appVersion, Trace: to, Closed: end})
	w.Show()
	if err := w.Open(args); err != nil {
		return err
	}
	a.Run()
	return nil
}

// endsWithin is how long the toolkit may take to end once the window is closed; it takes some milliseconds.
const endsWithin = 2 * time.Second

// end sees to it that the program ends. Now and then the toolkit does not: what it does last is handed to its drawing
// thread, and where that has just stopped looking, each waits for the other. Nothing of ours is left to be done then.
func end() { time.AfterFunc(endsWithin, func() { os.Exit(app.ExitDone) }) }

// demoDir is where the demo job is written: the user's own cache.
func demoDir() string {
	dir, err := os.UserCacheDir()
	if err != nil {
		dir = os.TempDir()
	}
	return filepath.Join(dir, "shutline", "demo")
}

// stateDir is where notes about unsaved changes go: the user's own folder of
// settings, which nobody clears away; "" where there is none.
func stateDir() string {
	dir, err := os.UserConfigDir()
	if err != nil {
		return ""
	}
	return filepath.Join(dir, "shutline", "unsaved")
}

// writeDemo writes the demo job into dir and returns its inspection file.
func writeDemo(ctx context.Context, dir string, report app.Progress) (string, error) {
	err := demo.Write(ctx, dir, demo.Options{Replace: true}, func(share float64) { report("making the demo job", share) })
	return filepath.Join(dir, demo.InspectionFile), err
}
