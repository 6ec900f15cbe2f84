package ui

import (
	"context"
	"errors"
	"image"
	"math"
	"slices"
	"strconv"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/widget"

	"shutline/app"
	"shutline/app/bench"
	"shutline/app/inspection"
	"shutline/app/words"
	"shutline/deviation/chart"
	"shutline/deviation/gapflush"
	"shutline/deviation/seamfind"
	"shutline/deviation/shade"
	"shutline/mesh/geom"
)

// proposals are shut lines that were found, to be taken or left.
type proposals struct {
	placed *app.Placed
	list   []app.SeamPath
	take   []bool
}

// findSeams looks for shut lines, or gives the proposals up.
func (w *Window) findSeams() {
	if w.proposed != nil {
		w.endProposals()
		return
	}
	if !w.settle() {
		return
	}
	placed := w.bench.Outcome().Placed
	if w.bench.Job() == nil || placed == nil {
		return
	}
	w.dropSeam()
	w.bending = nil
	w.bench.Show(bench.Seams)
	w.bench.FindSeams(func(list []app.SeamPath, err error) {
		switch {
		case errors.Is(err, context.Canceled):
		case err != nil:
			w.failed(err)
		case w.bench.Outcome().Placed == placed:
			w.proposed = &proposals{placed: placed, list: list, take: make([]bool, len(list))}
			for k, p := range list {
				w.proposed.take[k] = p.Sure >= seamfind.LikelyFrom
			}
			w.trace.put(Trace{Event: "found", Station: len(list)})
			w.bench.Show(bench.Seams)
		}
	})
}

func (w *Window) endProposals() {
	w.proposed = nil
	w.bench.Show(bench.Seams)
}

// chosen counts the proposals that are taken.
func (p *proposals) chosen() (n int) {
	for _, t := range p.take {
		if t {
			n++
		}
	}
	return n
}

// takeProposals makes the chosen ones seams of the job, in one step of undo.
func (w *Window) takeProposals() {
	p := w.proposed
	if p.chosen() == 0 {
		return
	}
	change := func(i *inspection.Inspection) {
		for k, x := range p.list {
			if p.take[k] {
				i.Seams = append(i.Seams, gapflush.DefaultSeam(x.Seam, x.Path))
				i.SeamPictures = append(i.SeamPictures, inspection.DefaultPictures)
				i.SeamLaying = append(i.SeamLaying, inspection.Typed)
			}
		}
	}
	if err := w.checked(change); err != nil {
		w.failed(err)
		return
	}
	first := len(w.bench.Job().Seams)
	w.endProposals()
	w.bench.Edit(tr("edit.found", "found seams"), change)
	w.bench.SelectSeam(first)
}

// over draws the proposals: those taken heavy, the others thin, each with its number.
func (p *proposals) over() func(*image.RGBA, *shade.Picture, chart.Theme, float64) {
	list, take := p.list, slices.Clone(p.take)
	return func(img *image.RGBA, pic *shade.Picture, th chart.Theme, scale float64) {
		for _, taken := range []bool{false, true} {
			for k, x := range list {
				if take[k] != taken {
					continue
				}
				t := th
				if !taken {
					t.Accent = th.Faint
				}
				chart.Drawn(img, pic.Camera, nil, x.Path, t, scale)
				if n := len(x.Path); n > 0 {
					chart.Marks(img, pic, pic.Camera, []chart.Mark{{At: x.Path[n/2], Label: strconv.Itoa(k + 1)}}, t, scale)
				}
			}
		}
	}
}

// proposalClick takes or leaves the proposal under a click.
func (w *Window) proposalClick(pic *shade.Picture, x, y float64) {
	p := w.proposed
	pw, ph := pic.Size()
	best, at := pickWithin*w.view.scale()*float64(pw)/float64(max(1, w.view.w)), -1
	for k, s := range p.list {
		for i := 1; i < len(s.Path); i++ {
			ax, ay, _ := pic.Camera.Project(s.Path[i-1], pw, ph)
			bx, by, _ := pic.Camera.Project(s.Path[i], pw, ph)
			if d := distanceToLine(x, y, ax, ay, bx, by); d < best {
				best, at = d, k
			}
		}
	}
	if at >= 0 {
		w.takeProposal(at, !p.take[at])
	}
}

// takeProposal takes or leaves one.
func (w *Window) takeProposal(k int, take bool) {
	if w.proposed.take[k] == take {
		return
	}
	w.proposed.take[k] = take
	w.card.refresh()
	w.redrawBend()
}

// lookAtPath shows a path as a whole.
func (w *Window) lookAtPath(path []geom.Vec) {
	if box := geom.BoxOf(path); !box.Empty() {
		w.view.near(box.Center(), math.Max(lookHeight, 1.3*box.Diagonal()))
	}
}

// proposalsCard lists what was found.
func (c *card) proposalsCard() []fyne.CanvasObject {
	w, p := c.w, c.w.proposed
	data := map[string]any{"N": strconv.Itoa(len(p.list)), "Chosen": strconv.Itoa(p.chosen())}
	head := trf("found.head", "Shut lines found: {{.N}}", data)
	if len(p.list) == 0 {
		head = tr("found.none", "No further shut line was found")
	}
	objects := []fyne.CanvasObject{c.headline(bench.Working, head)}
	if len(p.list) > 0 {
		objects = append(objects, c.paragraph(tr("found.how", "Tick what is to be measured, here or by a click on its line. Seams that the job has already are left out. Side A and B, tolerances and names can be set afterwards.")))
	}
	for k, x := range p.list {
		tick := newTick("", func(on bool) { w.takeProposal(k, on) })
		tick.Checked = p.take[k]
		show := newSentence(c.proposalLine(k, x), func() { w.lookAtPath(x.Path) })
		objects = append(objects, container.NewBorder(nil, nil, tick, nil, show))
	}
	take := newButton(trf("found.take", "Take the ticked ones ({{.Chosen}})", data), w.takeProposals)
	take.Importance = widget.HighImportance
	enable(take, p.chosen() > 0)
	leave := newButton(tr("found.leave", "Leave them all"), w.endProposals)
	if len(p.list) == 0 {
		return append(objects, leave)
	}
	return append(objects, container.NewVBox(take, leave))
}

func (c *card) proposalLine(k int, x app.SeamPath) string {
	data := map[string]any{"K": strconv.Itoa(k + 1), "Name": x.Seam, "Long": strconv.Itoa(int(x.Length + 0.5)), "Sure": c.sureWord(x), "Wide": words.MM(x.Width)}
	if x.HasWidth {
		return trf("found.line.wide", "{{.K}}: {{.Name}}, {{.Long}} mm long, gap about {{.Wide}}, {{.Sure}}", data)
	}
	return trf("found.line", "{{.K}}: {{.Name}}, {{.Long}} mm long, {{.Sure}}", data)
}

func (c *card) sureWord(x app.SeamPath) string {
	switch {
	case x.Sure >= seamfind.SurelyFrom:
		return tr("found.sure", "sure")
	case x.Sure >= seamfind.LikelyFrom:
		return tr("found.likely", "likely")
	}
	return tr("found.doubtful", "doubtful")
}
