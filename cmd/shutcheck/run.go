package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"runtime/debug"
	"strings"
	"syscall"

	"shutline/app"
)

// run runs the command until it ends or is interrupted, and returns its exit
// status. A second interrupt ends the process at once.
func run(args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	// A closed pipe must be an error of the write, not the end of the process.
	signal.Ignore(syscall.SIGPIPE)
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	context.AfterFunc(ctx, stop)
	return runContext(ctx, args, stdin, stdout, stderr)
}

// runContext is run with the interruption given from outside.
func runContext(ctx context.Context, args []string, _ io.Reader, stdout, stderr io.Writer) int {
	out := &output{w: stdout}
	c := &command{ctx: ctx, out: out, stderr: stderr, progress: newProgress(stderr)}
	status, err := c.guarded(args)
	c.progress.clear()
	if err == nil {
		err = out.failure()
	}
	if err != nil {
		status = app.ExitStatus(err)
		fmt.Fprintln(stderr, message(err, status))
	}
	return status
}

// command is one run of the program.
type command struct {
	ctx      context.Context
	out      *output
	stderr   io.Writer
	progress *progress
}

// guarded turns a panic, a worker's too (mesh/parallel raises it again here), into a fault of our own.
func (c *command) guarded(args []string) (status int, err error) {
	defer func() {
		if r := recover(); r != nil {
			err = &app.FaultError{What: r, Stack: debug.Stack()}
		}
	}()
	return c.dispatch(args)
}

func (c *command) dispatch(args []string) (int, error) {
	a, err := parse(args)
	if err != nil {
		return 0, err
	}
	switch {
	case a.set["version"]:
		c.out.line("shutcheck %s", app.Version)
		return 0, nil
	case a.set["help"]:
		c.out.text(helpFor(a.command))
		return 0, nil
	}
	switch a.command {
	case "inspect":
		return c.inspect(a)
	case "compare":
		return c.compare(a)
	case "info":
		return 0, c.info(a)
	case "seams":
		return 0, c.seams(a)
	case "demo":
		return 0, c.demo(a)
	case "join":
		return 0, c.join(a)
	}
	return 0, &app.UsageError{Problem: "name a command: inspect, compare, info, seams, demo or join; `shutcheck --help` explains them"}
}

// message words an error in one or two lines.
func message(err error, status int) string {
	var fault *app.FaultError
	switch {
	case status == app.ExitInterrupted:
		return "shutcheck: interrupted; nothing was written"
	case errors.As(err, &fault):
		return fmt.Sprintf("shutcheck: %v%s\nPlease report this with the command, the files and the version (%s); no results were written.",
			oneLine(fault), culprit(fault.Stack), app.Version)
	case status == app.ExitFault:
		return fmt.Sprintf("shutcheck: unexpected: %s\nPlease report this with the command, the files and the version (%s).", oneLine(err), app.Version)
	case status == app.ExitUsage:
		return "shutcheck: " + err.Error()
	}
	return "shutcheck: " + oneLine(err)
}

func oneLine(err error) string {
	return strings.Join(strings.Fields(app.Sentence(err)), " ")
}

// culprit names the place in the program a panic came from, for the report.
func culprit(stack []byte) string {
	_, after, found := strings.Cut(string(stack), "panic(")
	if !found {
		return ""
	}
	lines := strings.Split(after, "\n")
	for k, line := range lines {
		if strings.HasPrefix(line, "shutline/") && k+1 < len(lines) {
			place := strings.Fields(strings.TrimSpace(lines[k+1]))
			if len(place) > 0 {
				return " at " + place[0][strings.LastIndexByte(place[0], '/')+1:]
			}
		}
	}
	return ""
}
