package main

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"time"
)

// trace is what of a line of the window's trace is of use here.
type trace struct {
	Event, Stage, State, Name, Text string
	At                              [4]float32
	Rates                           *rates
}

// rates are the window's own figures of a drag.
type rates struct {
	Painted                                     int
	Seconds, Follows, FollowsMost, Drawn, Still float64
}

// desk is a virtual screen with a window manager and the program on it.
type desk struct {
	work, program, display string
	homes                  string
	opened                 int
	running                []*exec.Cmd
	shutline               *exec.Cmd
	ended                  chan error
	read, watched          int // bytes of the trace and lines of the watch's file looked at
	lies                   map[string][4]float32
	states                 map[string]trace // of the stages, as told last
	window                 string
	begun                  time.Time
}

// patience bounds every wait.
const patience = 2 * time.Minute

// look is how often the trace is looked at.
const look = 4 * time.Millisecond

func newDesk(ctx context.Context, work, program string) (*desk, error) {
	homes, err := os.MkdirTemp(work, "homes")
	if err != nil {
		return nil, err
	}
	d := &desk{work: work, program: program, homes: homes}
	r, w, err := os.Pipe()
	if err != nil {
		return nil, err
	}
	screen := exec.CommandContext(ctx, "Xvfb", "-displayfd", "3", "-screen", "0", "1360x880x24", "-nolisten", "tcp", "-noreset")
	screen.ExtraFiles = []*os.File{w}
	if err := d.start(screen); err != nil {
		return nil, err
	}
	w.Close()
	number, err := bufio.NewReader(r).ReadString('\n')
	if err != nil {
		return d, errors.New("Xvfb names no display")
	}
	d.display = ":" + strings.TrimSpace(number)
	return d, d.start(d.command(ctx, "openbox", "--sm-disable"))
}

func (d *desk) start(c *exec.Cmd) error {
	if err := c.Start(); err != nil {
		return err
	}
	d.running = append(d.running, c)
	return nil
}

func (d *desk) close() {
	for i := len(d.running) - 1; i >= 0; i-- {
		_ = d.running[i].Process.Signal(syscall.SIGTERM)
		_ = d.running[i].Wait()
	}
	_ = os.RemoveAll(d.homes) // in a folder for what is thrown away
}

func (d *desk) command(ctx context.Context, name string, args ...string) *exec.Cmd {
	c := exec.CommandContext(ctx, name, args...)
	home := d.home()
	c.Env = append(os.Environ(), "DISPLAY="+d.display, "HOME="+home, "XDG_CONFIG_HOME="+home, "XDG_CACHE_HOME="+home, "LANG=en_US.UTF-8", "FYNE_SCALE=1")
	return c
}

func (d *desk) do(ctx context.Context, args ...string) error {
	out, err := d.command(ctx, "xdotool", args...).CombinedOutput()
	if err != nil {
		return fmt.Errorf("xdotool %s: %w: %s", strings.Join(args, " "), err, out)
	}
	return nil
}

// home is the program's home, another for every start.
func (d *desk) home() string { return filepath.Join(d.homes, strconv.Itoa(d.opened)) }

func (d *desk) traceFile() string { return filepath.Join(d.work, "trace.jsonl") }
func (d *desk) watchFile() string { return filepath.Join(d.work, "watch.jsonl") }

// open starts the program with a fresh trace and waits until its window is there. The watch slows the program down a
// little; it is asked for where it is what is measured.
func (d *desk) open(ctx context.Context, watched bool, args ...string) error {
	if watched {
		args = append([]string{"--watch", d.watchFile()}, args...)
	}
	// What was left behind by a program that was ended would be offered back, over the view.
	d.opened++
	if err := os.MkdirAll(d.home(), 0o755); err != nil {
		return err
	}
	for _, f := range []string{d.traceFile(), d.watchFile()} {
		if err := os.WriteFile(f, nil, 0o644); err != nil {
			return err
		}
	}
	d.read, d.watched, d.lies, d.states = 0, 0, map[string][4]float32{}, map[string]trace{}
	d.shutline = d.command(ctx, d.program, append([]string{"--trace", d.traceFile()}, args...)...)
	d.shutline.Stderr = os.Stderr
	d.ended = make(chan error, 1)
	d.begun = time.Now()
	if err := d.shutline.Start(); err != nil {
		return err
	}
	go func() { d.ended <- d.shutline.Wait() }()
	_, err := d.wait("the window", func(e trace) bool { return e.Event == "ready" })
	return err
}

// focus brings the window to the front; from then on keys reach it.
func (d *desk) focus(ctx context.Context) error {
	out, err := d.command(ctx, "xdotool", "search", "--sync", "--onlyvisible", "--name", "Shutline").Output()
	if err != nil {
		return err
	}
	d.window, _, _ = strings.Cut(strings.TrimSpace(string(out)), "\n")
	return d.do(ctx, "windowactivate", "--sync", d.window)
}

// quit ends the program.
func (d *desk) quit() {
	_ = d.shutline.Process.Kill() // nothing of its work is to be kept
	<-d.ended
}

// wait reads the trace on to the first line that want holds of.
func (d *desk) wait(what string, want func(trace) bool) (trace, error) {
	for end := time.Now().Add(patience); time.Now().Before(end); time.Sleep(look) {
		data, err := d.written()
		if err != nil {
			return trace{}, err
		}
		for d.read < len(data) {
			n := strings.IndexByte(string(data[d.read:]), '\n')
			if n < 0 {
				break
			}
			var e trace
			if err := json.Unmarshal(data[d.read:d.read+n], &e); err != nil {
				return e, err
			}
			d.read += n + 1
			switch e.Event {
			case "layout":
				d.lies[e.Name] = e.At
			case "stage":
				d.states[e.Stage] = e
			case "error":
				return e, fmt.Errorf("the window said: %s", e.Text)
			}
			if want(e) {
				return e, nil
			}
		}
		select {
		case err := <-d.ended:
			d.ended <- err
			return trace{}, fmt.Errorf("the program ended (%v) before %s", err, what)
		default:
		}
	}
	return trace{}, fmt.Errorf("waited in vain for %s", what)
}

// written returns the trace where it has grown, nil where it has not: reading all of it again would slow the program down.
func (d *desk) written() ([]byte, error) {
	s, err := os.Stat(d.traceFile())
	if err != nil || s.Size() <= int64(d.read) {
		return nil, err
	}
	return os.ReadFile(d.traceFile())
}

// at returns the place of a share of a named part's width and height.
func (d *desk) at(name string, x, y float32) (string, string, error) {
	if _, known := d.lies[name]; !known {
		if _, err := d.wait("where "+name+" lies", func(e trace) bool { return e.Event == "layout" && e.Name == name }); err != nil {
			return "", "", err
		}
	}
	at := d.lies[name]
	return fmt.Sprint(int(at[0] + x*at[2])), fmt.Sprint(int(at[1] + y*at[3])), nil
}

func (d *desk) click(ctx context.Context, name string, x, y float32) error {
	px, py, err := d.at(name, x, y)
	if err != nil {
		return err
	}
	// A pointer that is there already would be waited for in vain.
	if err := d.do(ctx, "mousemove", "0", "0"); err != nil {
		return err
	}
	return d.do(ctx, "mousemove", "--sync", "--window", d.window, px, py, "click", "1")
}

// drag turns the part for some seconds as a hand does, with 125 events a second, and returns the window's figures.
func (d *desk) drag(ctx context.Context, seconds float64) (*rates, error) {
	px, py, err := d.at("view", 0.5, 0.5)
	if err != nil {
		return nil, err
	}
	args := []string{"mousemove", "--sync", "--window", d.window, px, py, "mousedown", "1"}
	for i := range int(seconds * 125) {
		dx := "2"
		if i/60%2 == 1 {
			dx = "-2"
		}
		args = append(args, "mousemove_relative", "--", dx, []string{"1", "-1"}[i/30%2], "sleep", "0.008")
	}
	if err := d.do(ctx, append(args, "mouseup", "1")...); err != nil {
		return nil, err
	}
	e, err := d.wait("the drag's figures", func(e trace) bool { return e.Event == "dragged" })
	return e.Rates, err
}
