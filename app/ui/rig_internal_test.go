package ui

import (
	"context"
	"fmt"
	"math"
	"strings"
	"sync"
	"testing"
	"time"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/canvas"
	"fyne.io/fyne/v2/test"
	"fyne.io/fyne/v2/widget"
	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/bench"
	"shutline/app/inspection"
	"shutline/deviation"
	"shutline/deviation/align"
	"shutline/deviation/evidence"
	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/meshio"
)

// rig is a window on the toolkit's test driver, over fake services. Functions
// posted by workers run when the test pumps them, as on the drawing thread.
type rig struct {
	*Window
	t     testing.TB
	queue chan func()
	// patience is how long pump waits for anything at all; 0: 20 s.
	patience time.Duration

	mu      sync.Mutex
	loadErr error
	slow    chan struct{} // Place waits for it, or for its context
	wrote   []string
	// occupied is a folder into which only replacing writes.
	occupied string
	scan     *mesh.Mesh  // nil: sheet
	moved    *geom.Rigid // where Place says the scan goes; nil: nowhere
	found    []app.SeamPath
	trust    *app.Trust
	loaded   func(*inspection.Inspection, *app.Parts)                         // changes what is read; nil: nothing
	layer    func(*inspection.Inspection, *app.Placed) *inspection.Inspection // lays seams
	change   func([2]*inspection.Inspection) (*app.Change, error)
}

func (r *rig) motion() geom.Rigid {
	if r.moved != nil {
		return *r.moved
	}
	return geom.Identity()
}

func newRig(t testing.TB) *rig {
	r := &rig{t: t, queue: make(chan func(), 10000), trust: &app.Trust{}}
	return r.over(r.services())
}

// newRigOver is a rig over services of the test's own.
func newRigOver(t testing.TB, s bench.Services) *rig {
	return (&rig{t: t, queue: make(chan func(), 10000), patience: 5 * time.Minute}).over(s)
}

func (r *rig) over(s bench.Services) *rig {
	t := r.t
	a := test.NewTempApp(t)
	r.Window = New(a, Options{Services: s, Post: func(f func()) { r.queue <- f }, Version: "test",
		Demo: func(context.Context, string, app.Progress) (string, error) { return "demo.toml", nil }})
	r.win.Resize(fyne.NewSize(1280, 800))
	t.Cleanup(func() {
		r.bench.Stop()
		r.view.painter.close()
		r.other.painter.close()
		r.drain()
	})
	return r
}

// pump runs what is posted until a condition holds.
func (r *rig) pump(what string, holds func() bool) {
	r.t.Helper()
	for !holds() {
		select {
		case f := <-r.queue:
			f()
		case <-time.After(max(r.patience, 20*time.Second)):
			require.FailNow(r.t, "waited in vain for "+what)
		}
	}
}

func (r *rig) drain() {
	for {
		select {
		case f := <-r.queue:
			f()
		default:
			return
		}
	}
}

// idle waits until no work is under way and the scene is made.
func (r *rig) idle() {
	r.t.Helper()
	r.pump("the work to end", func() bool {
		_, _, running := r.bench.Running()
		return !running && !r.scene.building
	})
}

func (r *rig) open() {
	r.t.Helper()
	r.bench.Open("van.toml")
	r.idle()
}

// paint lets the software driver ask every raster for its picture.
func (r *rig) paint() { r.win.Canvas().Capture() }

// texts returns every text on the screen that is visible.
func (r *rig) texts(o fyne.CanvasObject) string {
	var b strings.Builder
	var walk func(fyne.CanvasObject)
	walk = func(o fyne.CanvasObject) {
		if o == nil || !o.Visible() {
			return
		}
		switch x := o.(type) {
		case *canvas.Text:
			fmt.Fprintln(&b, x.Text)
		case *prose:
			fmt.Fprintln(&b, x.text)
		case *widget.Label:
			fmt.Fprintln(&b, x.Text)
		case *pushButton:
			fmt.Fprintln(&b, x.Text)
		case *widget.Button:
			fmt.Fprintln(&b, x.Text)
		case *fyne.Container:
			for _, c := range x.Objects {
				walk(c)
			}
		case fyne.Widget:
			for _, c := range test.WidgetRenderer(x).Objects() {
				walk(c)
			}
		}
	}
	walk(o)
	return b.String()
}

// sheet is a square of 400 mm in the plane y = 0, seen from the left side.
func sheet() *mesh.Mesh {
	m := &mesh.Mesh{}
	const n = 8
	for i := range n + 1 {
		for k := range n + 1 {
			m.Vertices = append(m.Vertices, geom.Vec{X: 50 * float64(i), Z: 50 * float64(k)})
		}
	}
	for i := range uint32(n) {
		for k := range uint32(n) {
			a, b := i*(n+1)+k, (i+1)*(n+1)+k
			m.Faces = append(m.Faces, [3]uint32{a, b, b + 1}, [3]uint32{a, b + 1, a + 1})
		}
	}
	return m
}

func vanJob() *inspection.Inspection {
	seam := gapflush.DefaultSeam("wing to door", []geom.Vec{{X: 200}, {X: 200, Z: 400}})
	seam.Master = gapflush.B
	seam.Gap = gapflush.Target{Nominal: 4, HasNominal: true, Tolerance: verdict.Tolerance{Lo: -1, Hi: 1}, Judged: true}
	seam.Flush = gapflush.Target{HasNominal: true, Tolerance: verdict.Tolerance{Lo: -0.75, Hi: 0.75}, Judged: true}
	second := seam
	second.Name = "door to quarter"
	return &inspection.Inspection{
		Title: "Left side", Path: "van.toml", Scan: inspection.Scan{File: "/jobs/scan.stl", Units: "mm"}, Reference: &inspection.Reference{File: "/jobs/ref.stl", Units: "mm", Mirror: inspection.None},
		Place: inspection.Place{Method: "best-fit"}, Surface: inspection.Surface{Reach: 10, Tolerance: verdict.Tolerance{Lo: -0.5, Hi: 0.5}},
		Seams: []gapflush.Seam{seam, second}, SeamPictures: []string{"worst", "worst"},
	}
}

// measured has 16 stations along z; the flush leaves its tolerance over the last four.
func measured(s gapflush.Seam) *gapflush.Result {
	r := &gapflush.Result{Seam: s, Measured: 16}
	for i := range 16 {
		z := 12.5 + 25*float64(i)
		flush := math.Max(0, 0.4*float64(i-11))
		st := gapflush.Station{Index: i + 1, Along: z, P: geom.Vec{X: 200, Z: z}, F: geom.Vec{Z: 1}, A: geom.Vec{X: 1}, U: geom.Vec{Y: -1}, State: gapflush.Measured,
			Gap: verdict.Value{V: 4, U: 0.1, OK: true}, Flush: verdict.Value{V: flush, U: 0.05, OK: true},
			GapNominal: verdict.Value{V: 4, OK: true}, FlushNominal: verdict.Value{OK: true}, GapVerdict: verdict.Conforms}
		st.FlushVerdict = verdict.Decide(st.Flush, s.Flush.Tolerance)
		// 2 √(0.04² + 0.03² + 0.0004² + 0.0004²) = 0.10, 2 √(0.02² + 0.015²) = 0.05
		st.GapBudget = []gapflush.BudgetLine{{Source: "scatter of the fits", U: 0.03}, {Source: "radius assumed", U: 0.04}, {Source: "temperature", U: 0.0004}, {Source: "scale of the scan", U: 0.0004}}
		st.FlushBudget = []gapflush.BudgetLine{{Source: "height of face A", U: 0.02}, {Source: "direction of face A", U: 0.015}}
		r.Verdict = verdict.Worst(r.Verdict, st.FlushVerdict)
		r.Stations = append(r.Stations, st)
	}
	return r
}

func (r *rig) services() bench.Services {
	return bench.Services{
		Read: func(string) (*inspection.Inspection, error) { return vanJob(), nil },
		Default: func(scan, reference string) *inspection.Inspection {
			j := vanJob()
			j.Path, j.Title, j.Scan = "", "", inspection.Scan{File: scan}
			if j.Reference.File = reference; reference == "" {
				j.Reference = nil
			}
			return j
		},
		Encode: bench.Production().Encode,
		LoadParts: func(_ context.Context, i *inspection.Inspection, _ app.Settings, p app.Progress) (*app.Parts, error) {
			p("reading the scan", 0.5)
			r.mu.Lock()
			defer r.mu.Unlock()
			if r.loadErr != nil && i.Scan.Units == "" {
				return nil, r.loadErr
			}
			m := r.scan
			if m == nil {
				m = sheet()
			}
			scan := m
			if r.moved != nil { // so that it is placed on the reference
				scan = m.Moved(r.moved.Inverse())
			}
			parts := &app.Parts{Scan: &meshio.Loaded{Mesh: scan, Path: i.Scan.File, Format: "STL binary", Unit: "mm", UnitSource: "stated"}, ScanAreas: make([]float64, len(m.Vertices))}
			for k := range parts.ScanAreas {
				parts.ScanAreas[k] = 1
			}
			if i.Reference != nil {
				parts.Reference, parts.Mirrored = &meshio.Loaded{Mesh: m, Path: i.Reference.File, Unit: "mm", UnitSource: "stated"}, m
			}
			if r.loaded != nil {
				r.loaded(i, parts)
			}
			return parts, nil
		},
		Place: func(ctx context.Context, i *inspection.Inspection, parts *app.Parts, _ app.Settings, p app.Progress) (*app.Placed, error) {
			p("laying the scan on the reference", 0.2)
			if r.slow != nil {
				select {
				case <-r.slow:
				case <-ctx.Done():
					return nil, ctx.Err()
				}
			}
			return &app.Placed{Placement: align.Placement{Method: i.Place.Method, ReferenceFromScan: r.motion(), RMSKnown: true, RMS: 0.1, PointsUsed: 81, ShareUsed: 1, Sigma: [6]float64{0.01, 0.01, 0.01, 1e-5, 1e-5, 1e-5}}, Mesh: parts.Scan.Mesh.Moved(r.motion())}, nil
		},
		Compare: func(_ context.Context, _ *inspection.Inspection, parts *app.Parts, _ *app.Placed, _ app.Settings, _ app.Progress) (*app.Compared, error) {
			n := len(parts.Scan.Mesh.Vertices)
			c := &app.Compared{Field: &deviation.Field{Deviation: make([]float64, n), State: make([]deviation.State, n)}, Verdict: verdict.Conforms}
			for i := range n {
				c.Field.Deviation[i] = 0.8
			}
			c.Summary.Count[0] = n
			c.Summary.AreaWeighted = deviation.Figures{OK: true, Mean: 0.8, RMS: 0.8, Min: 0.8, Max: 0.8, ShareInTolerance: 0.25}
			return c, nil
		},
		MeasureSeam: func(_ context.Context, i *inspection.Inspection, s gapflush.Seam, _ *app.Parts, _ *app.Placed, _ app.Settings, _ app.Progress) (*gapflush.Result, error) {
			if i.Laid != nil {
				for m, made := range i.Laid.Made.Seams {
					if why := i.Laid.Paths[m].Why; why != "" && made.Name == s.Name {
						return gapflush.NotMeasured(s, why), nil
					}
				}
			}
			return measured(s), nil
		},
		LaySeams: func(_ context.Context, i *inspection.Inspection, _ *app.Parts, placed *app.Placed, _ app.Settings, _ app.Progress) (*inspection.Inspection, []app.SeamPath, error) {
			laid := r.layer(i, placed)
			return laid, laid.Laid.Paths, nil
		},
		FindSeams: func(ctx context.Context, _ *inspection.Inspection, _ *app.Parts, _ *app.Placed, _ app.Settings, p app.Progress) ([]app.SeamPath, error) {
			p("looking for seams", 0.5)
			return r.found, ctx.Err()
		},
		Trust: func(context.Context, *inspection.Inspection, *app.Parts, *app.Placed, *app.Compared, app.Settings, app.Progress) (*app.Trust, error) {
			return r.trust, nil
		},
		Change: func(_ context.Context, pair [2]*inspection.Inspection, _ app.Settings, _ app.Progress) (*app.Change, error) {
			return r.change(pair)
		},
		WriteChange: func(_ context.Context, _ *app.Change, dir string, _ app.WriteOptions, _ app.Progress) error {
			r.mu.Lock()
			defer r.mu.Unlock()
			r.wrote = append(r.wrote, dir)
			return nil
		},
		Write: func(_ context.Context, _ *app.Outcome, dir string, o app.WriteOptions, _ app.Progress) error {
			r.mu.Lock()
			defer r.mu.Unlock()
			if dir == r.occupied && !o.Replace {
				return &evidence.WriteError{Path: dir, Problem: "is not to be written into"}
			}
			r.wrote = append(r.wrote, dir)
			return nil
		},
	}
}
