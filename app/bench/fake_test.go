package bench_test

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/bench"
	"shutline/app/inspection"
	"shutline/deviation"
	"shutline/deviation/align"
	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
	"shutline/deviation/worth"
	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/meshio"
)

// rig is a bench on fake services that count their calls.
type rig struct {
	t     *testing.T
	bench *bench.Bench
	queue chan func()
	job   *inspection.Inspection

	mu     sync.Mutex
	calls  []string
	errs   map[string]error
	once   bool                     // an error is returned once
	hold   map[string]chan struct{} // a call of this name waits here and ignores its context
	stuck  map[string]bool          // a call of this name waits for its context
	ended  chan string              // names of stuck calls whose context ended
	shown  []bench.Change
	faults []error

	growth     worth.Growth
	unexamined *inspection.Inspection // whose parts are read, without being examined; nil: parts are made up
	unitSource string                 // of meshes whose unit the job leaves open
}

func newRig(t *testing.T) *rig {
	r := &rig{t: t, queue: make(chan func(), 1000), job: vanJob(), errs: map[string]error{}, hold: map[string]chan struct{}{}, stuck: map[string]bool{}, ended: make(chan string, 10)}
	r.bench = bench.New(r.services(), func(f func()) { r.queue <- f })
	r.bench.Listen = func(c bench.Change) { r.shown = append(r.shown, c) }
	r.bench.Report = func(err error) { r.faults = append(r.faults, err) }
	return r
}

func vanJob() *inspection.Inspection {
	line := []geom.Vec{{}, {Z: 100}}
	seam := func(name string) gapflush.Seam {
		s := gapflush.DefaultSeam(name, line)
		s.Gap = gapflush.Target{Nominal: 4, HasNominal: true, Tolerance: verdict.Tolerance{Lo: -1, Hi: 1}, Judged: true}
		return s
	}
	return &inspection.Inspection{
		Title: "van", Path: "van.toml", Scan: inspection.Scan{File: "scan.stl"}, Reference: &inspection.Reference{File: "ref.stl"},
		Place: inspection.Place{Method: "best-fit"}, Surface: inspection.Surface{Reach: 10, Tolerance: verdict.Tolerance{Lo: -0.5, Hi: 0.5}},
		Seams: []gapflush.Seam{seam("wing to door"), seam("door to quarter")}, SeamPictures: []string{"worst", "worst"},
	}
}

// call notes a call and does what the test wants of it.
func (r *rig) call(ctx context.Context, name string) error {
	r.mu.Lock()
	r.calls = append(r.calls, name)
	err, hold, stuck := r.errs[name], r.hold[name], r.stuck[name]
	if r.once {
		delete(r.errs, name)
	}
	r.mu.Unlock()
	if hold != nil {
		<-hold
	}
	if stuck {
		<-ctx.Done()
		r.ended <- name
		return ctx.Err()
	}
	return err
}

func (r *rig) services() bench.Services {
	triangle := &mesh.Mesh{Vertices: []geom.Vec{{}, {X: 1}, {Y: 1}}, Faces: [][3]uint32{{0, 1, 2}}}
	return bench.Services{
		Read: func(path string) (*inspection.Inspection, error) {
			return r.job, r.call(context.Background(), "read")
		},
		Default: func(scan, reference string) *inspection.Inspection {
			return &inspection.Inspection{Scan: inspection.Scan{File: scan}, Reference: &inspection.Reference{File: reference}}
		},
		Encode: func(i *inspection.Inspection, dir string, _ []byte, _ string) ([]byte, error) {
			out := "title = " + i.Title + "\n"
			if i.Scan.Units != meshio.UnitUnknown {
				out += "units = " + string(i.Scan.Units) + " " + string(i.Reference.Units) + "\n"
			}
			return []byte(out), nil
		},
		LoadParts: func(ctx context.Context, i *inspection.Inspection, _ app.Settings, p app.Progress) (*app.Parts, error) {
			p("reading", 0.5)
			if r.unexamined != nil {
				parts, err := app.ReadParts(ctx, r.unexamined, app.Settings{}, nil)
				require.NoError(r.t, err)
				return parts, r.call(ctx, "load")
			}
			loaded := func(path string, u meshio.Unit) *meshio.Loaded {
				l := &meshio.Loaded{Mesh: triangle, Path: path, Unit: u, UnitSource: "stated"}
				if u == meshio.UnitUnknown {
					l.Unit, l.UnitSource = meshio.Millimetre, r.unitSource
				}
				return l
			}
			parts := &app.Parts{Scan: loaded(i.Scan.File, i.Scan.Units)}
			if i.Reference != nil {
				parts.Reference, parts.Mirrored = loaded(i.Reference.File, i.Reference.Units), triangle
			}
			return parts, r.call(ctx, "load")
		},
		Examine: func(ctx context.Context, parts *app.Parts, s app.Settings, p app.Progress) (app.Examined, error) {
			e, err := parts.Examine(ctx, s, p)
			require.NoError(r.t, err)
			return e, r.call(ctx, "examine")
		},
		Place: func(ctx context.Context, i *inspection.Inspection, _ *app.Parts, _ app.Settings, _ app.Progress) (*app.Placed, error) {
			return &app.Placed{Placement: align.Placement{Method: i.Place.Method, RMSKnown: true, RMS: 0.1}, Mesh: triangle}, r.call(ctx, "place")
		},
		Compare: func(ctx context.Context, i *inspection.Inspection, _ *app.Parts, _ *app.Placed, s app.Settings, _ app.Progress) (*app.Compared, error) {
			field := &deviation.Field{}
			s.Measured(field)
			return &app.Compared{Field: field, Verdict: verdict.Conforms}, r.call(ctx, "compare")
		},
		MeasureSeam: func(ctx context.Context, i *inspection.Inspection, s gapflush.Seam, _ *app.Parts, _ *app.Placed, _ app.Settings, _ app.Progress) (*gapflush.Result, error) {
			return seamResult(s), r.call(ctx, s.Name)
		},
		Trust: func(context.Context, *inspection.Inspection, *app.Parts, *app.Placed, *app.Compared, app.Settings, app.Progress) (*app.Trust, error) {
			return r.trust(), nil
		},
		Write: func(ctx context.Context, o *app.Outcome, dir string, w app.WriteOptions, _ app.Progress) error {
			return r.call(ctx, fmt.Sprint("write ", dir, " ", w.Replace, " ", len(o.Seams)))
		},
	}
}

// trust is what the fake service finds.
func (r *rig) trust() *app.Trust {
	r.mu.Lock()
	defer r.mu.Unlock()
	return &app.Trust{Growth: r.growth}
}

// seamResult has four stations; the third is 2 mm wide of its nominal, which does not conform.
func seamResult(s gapflush.Seam) *gapflush.Result {
	r := &gapflush.Result{Seam: s, Measured: 4, Verdict: verdict.DoesNotConform}
	for i, gap := range []float64{4, 4.2, 6, 5.1} {
		x := verdict.Value{V: gap, U: 0.1, OK: true}
		v := verdict.Decide(verdict.Value{V: gap - 4, U: 0.1, OK: true}, s.Gap.Tolerance)
		r.Stations = append(r.Stations, gapflush.Station{Index: i + 1, Along: 25 * float64(i), State: gapflush.Measured,
			Gap: x, GapNominal: verdict.Value{V: 4, OK: true}, GapVerdict: v})
	}
	return r
}

// settle runs what is posted until no work is under way.
func (r *rig) settle() {
	r.t.Helper()
	for {
		r.drain()
		if _, _, running := r.bench.Running(); !running {
			return
		}
		r.next()
	}
}

// next runs the next function that is posted.
func (r *rig) next() {
	r.t.Helper()
	select {
	case f := <-r.queue:
		f()
	case <-time.After(20 * time.Second):
		require.FailNow(r.t, "nothing was posted")
	}
}

// drain runs what is posted already.
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

// until runs what is posted until a condition holds.
func (r *rig) until(holds func() bool) {
	r.t.Helper()
	for !holds() {
		r.next()
	}
}

func (r *rig) taken() []string {
	r.mu.Lock()
	defer r.mu.Unlock()
	calls := slices.Clone(r.calls)
	r.calls = nil
	return calls
}

func (r *rig) open() {
	r.t.Helper()
	r.bench.Open("van.toml")
	r.settle()
	require.Empty(r.t, r.faults)
}

var errBroken = errors.New("meshio: scan.stl: broken at byte 84")
