package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"image"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"shutline/app/ui"
)

// asProgram makes the test binary run as the program itself.
const asProgram = "SHUTLINE_TEST_AS_PROGRAM"

// asStuck makes it run as the program whose window is closed and whose toolkit does not end.
const asStuck = "SHUTLINE_TEST_AS_STUCK"

func TestMain(m *testing.M) {
	if os.Getenv(asProgram) != "" {
		main()
	}
	if os.Getenv(asStuck) != "" {
		end()
		select {}
	}
	os.Exit(m.Run())
}

// patience is how long anything may take on a busy machine; nothing waits that long when it works.
const patience = 40 * time.Second

// look is how often a file or the screen is looked at while waiting.
const look = 50 * time.Millisecond

// tool returns the path of a program of the desk.
func tool(t *testing.T, name, pkg string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	require.NoError(t, err, "this test drives the real window and needs %s: apt-get install %s", name, pkg)
	return path
}

// desk is a display of its own with a window manager and the program on it.
type desk struct {
	t        *testing.T
	display  string
	program  *exec.Cmd
	ended    chan error
	said     bytes.Buffer
	trace    string
	read     int        // lines of the trace looked at
	all      []ui.Trace // and what they said
	window   string
	layout   map[string][4]float32
	language string // of the system
	scale    int    // of the screen
	home     string // of the program; "": another one for each start

	preferences string // of the program, as the toolkit keeps them; "": the look alone
}

// newDesk starts a virtual screen a little larger than the window.
func newDesk(t *testing.T) *desk { return newDeskOf(t, 1360, 880) }

// newDeskOf starts a virtual screen of a size.
func newDeskOf(t *testing.T, wide, high int) *desk {
	t.Helper()
	d := &desk{t: t, language: "en_US.UTF-8", scale: 1, layout: map[string][4]float32{}, trace: filepath.Join(t.TempDir(), "trace.jsonl")}
	xvfb, openbox := tool(t, "Xvfb", "xvfb"), tool(t, "openbox", "openbox")
	tool(t, "xdotool", "xdotool")
	tool(t, "import", "imagemagick")
	r, w, err := os.Pipe()
	require.NoError(t, err)
	screen := exec.Command(xvfb, "-displayfd", "3", "-screen", "0", fmt.Sprintf("%dx%dx24", wide, high), "-nolisten", "tcp", "-noreset")
	screen.ExtraFiles = []*os.File{w}
	d.start(screen)
	require.NoError(t, w.Close())
	number, err := bufio.NewReader(r).ReadString('\n')
	require.NoError(t, err, "Xvfb names no display")
	d.display = ":" + strings.TrimSpace(number)
	manager := exec.Command(openbox, "--sm-disable")
	manager.Env = append(os.Environ(), "DISPLAY="+d.display, "XDG_CONFIG_HOME="+t.TempDir(), "XDG_CACHE_HOME="+t.TempDir())
	d.start(manager)
	return d
}

// start runs a command until the test ends.
func (d *desk) start(c *exec.Cmd) {
	d.t.Helper()
	require.NoError(d.t, c.Start())
	d.t.Cleanup(func() {
		_ = c.Process.Signal(syscall.SIGTERM) // so that it takes its lock and socket away
		_ = c.Wait()
	})
}

// open starts the program and waits for its window.
func (d *desk) open(look string, args ...string) {
	d.t.Helper()
	home := d.home
	if home == "" {
		home = d.t.TempDir()
	}
	settings := filepath.Join(home, "fyne", appID)
	require.NoError(d.t, os.MkdirAll(settings, 0o755))
	remembered := d.preferences
	if remembered == "" {
		remembered = `{"look":"` + look + `"}`
	}
	require.NoError(d.t, os.WriteFile(filepath.Join(settings, "preferences.json"), []byte(remembered), 0o644))
	self, err := os.Executable()
	require.NoError(d.t, err)
	d.program = exec.Command(self, append([]string{"--trace", d.trace}, args...)...)
	d.program.Env = append(os.Environ(), asProgram+"=1", "DISPLAY="+d.display, "HOME="+home, "XDG_CONFIG_HOME="+home, "XDG_CACHE_HOME="+home, "LANG="+d.language, "LANGUAGE=", "LC_ALL=", "FYNE_SCALE="+fmt.Sprint(d.scale))
	d.program.Stdout, d.program.Stderr = &d.said, &d.said
	require.NoError(d.t, d.program.Start())
	d.ended = make(chan error, 1)
	go func() { d.ended <- d.program.Wait() }()
	d.t.Cleanup(func() { _ = d.program.Process.Kill() })
	d.until("the window", func() bool {
		out, err := d.command("xdotool", "search", "--onlyvisible", "--name", "Shutline").Output()
		d.window = strings.TrimSpace(string(out))
		return err == nil && d.window != "" && !strings.Contains(d.window, "\n")
	})
	d.do("xdotool", "windowactivate", "--sync", d.window)
}

func (d *desk) command(name string, args ...string) *exec.Cmd {
	c := exec.Command(name, args...)
	c.Env = append(os.Environ(), "DISPLAY="+d.display)
	return c
}

// do runs a tool of the desk.
func (d *desk) do(name string, args ...string) {
	d.t.Helper()
	out, err := d.command(name, args...).CombinedOutput()
	require.NoError(d.t, err, "%s %v: %s", name, args, out)
}

// until looks again and again until a condition holds.
func (d *desk) until(what string, holds func() bool) {
	d.t.Helper()
	for end := time.Now().Add(patience); !holds(); time.Sleep(look) {
		select {
		case err := <-d.ended:
			require.FailNow(d.t, "the program ended while waiting for "+what, "%v\n%s", err, d.said.String())
		default:
		}
		require.True(d.t, time.Now().Before(end), "waited in vain for %s; the trace ends with\n%s", what, d.tail())
	}
}

// events returns the whole lines of the trace that were not looked at yet.
func (d *desk) events() []ui.Trace {
	data, _ := os.ReadFile(d.trace)
	lines := strings.SplitAfter(string(data), "\n")
	var list []ui.Trace
	for _, line := range lines[min(d.read, len(lines)):] {
		if !strings.HasSuffix(line, "\n") {
			break
		}
		d.read++
		var e ui.Trace
		require.NoError(d.t, json.Unmarshal([]byte(line), &e), line)
		if e.Event == "layout" {
			d.layout[e.Name] = e.At
		}
		list = append(list, e)
	}
	d.all = append(d.all, list...)
	return list
}

func (d *desk) tail() string {
	data, _ := os.ReadFile(d.trace)
	return string(data[max(0, len(data)-1500):])
}

// wait reads the trace up to the end and returns the first event for which want holds.
func (d *desk) wait(what string, want func(ui.Trace) bool) ui.Trace {
	d.t.Helper()
	var found *ui.Trace
	d.until(what, func() bool {
		for _, e := range d.events() {
			if found == nil && want(e) {
				found = &e
			}
		}
		return found != nil
	})
	return *found
}

// click presses the left button at a share of the width and height of a named part of the window.
func (d *desk) click(name string, x, y float32) {
	d.t.Helper()
	d.until("where "+name+" lies", func() bool {
		d.events()
		return d.layout[name][2] > 0
	})
	at := d.layout[name]
	d.do("xdotool", "mousemove", "--sync", "--window", d.window, fmt.Sprint(int(at[0]+x*at[2])), fmt.Sprint(int(at[1]+y*at[3])))
	d.do("xdotool", "click", "1")
}

// drag moves the pointer from one share of a named part to another with the left button held.
func (d *desk) drag(name string, x0, y0, x1, y1 float32) {
	d.t.Helper()
	at := d.layout[name]
	const steps = 8
	for i := range steps + 1 {
		s := float32(i) / steps
		d.do("xdotool", "mousemove", "--sync", "--window", d.window, fmt.Sprint(int(at[0]+(x0+s*(x1-x0))*at[2])), fmt.Sprint(int(at[1]+(y0+s*(y1-y0))*at[3])))
		if i == 0 {
			d.do("xdotool", "mousedown", "1")
		}
	}
	d.do("xdotool", "mouseup", "1")
}

func (d *desk) key(k string) {
	d.t.Helper()
	d.do("xdotool", "key", k)
}

// picture returns what the window shows once it has come to rest.
func (d *desk) picture() image.Image {
	d.t.Helper()
	var last []byte
	same := 0
	d.until("the picture to rest", func() bool {
		out, err := d.command("import", "-window", d.window, "-depth", "8", "png:-").Output()
		require.NoError(d.t, err)
		img, err := png.Decode(bytes.NewReader(out))
		require.NoError(d.t, err)
		now := pixels(img)
		if bytes.Equal(now, last) {
			same++
		} else {
			same = 0
		}
		last = now
		time.Sleep(3 * look)
		return same >= 3
	})
	out, err := d.command("import", "-window", d.window, "-depth", "8", "png:-").Output()
	require.NoError(d.t, err)
	img, err := png.Decode(bytes.NewReader(out))
	require.NoError(d.t, err)
	return img
}

func pixels(img image.Image) []byte {
	b := img.Bounds()
	list := make([]byte, 0, 3*b.Dx()*b.Dy())
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			r, g, bl, _ := img.At(x, y).RGBA()
			list = append(list, byte(r>>8), byte(g>>8), byte(bl>>8))
		}
	}
	return list
}

// shot keeps the picture under a name in the folder of SHUTLINE_PICTURES, or in the test's own.
func (d *desk) shot(name string) image.Image {
	d.t.Helper()
	img := d.picture()
	dir := os.Getenv("SHUTLINE_PICTURES")
	if dir == "" {
		dir = d.t.TempDir()
	}
	f, err := os.Create(filepath.Join(dir, name+".png"))
	require.NoError(d.t, err)
	defer f.Close()
	require.NoError(d.t, (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(f, img))
	return img
}
