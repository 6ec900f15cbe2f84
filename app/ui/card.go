package ui

import (
	"fmt"
	"slices"
	"strconv"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/layout"
	"fyne.io/fyne/v2/theme"
	"fyne.io/fyne/v2/widget"

	"shutline/app"
	"shutline/app/bench"
	"shutline/app/inspection"
	"shutline/app/words"
	"shutline/deviation/verdict"
)

// card says the answer, what was found, and what to do next; settings are folded below the answer.
type card struct {
	w        *Window
	content  *fyne.Container
	notice   *fyne.Container // stays in sight above the rest
	scroll   *container.Scroll
	list     *fyne.Container // all of what follows
	answer   *fyne.Container // the headline; the settings follow, where the hand looks for them
	answers  int             // how many of what is said stand there
	found    *fyne.Container
	station  *fyne.Container // the marked one, at the foot of the card, where it stays in sight
	foot     *fyne.Container // that lies in
	settings *settings
	fold     *widget.Accordion
	open     bool
	foldAt   float32 // where the settings lie in the card; -1: not laid out yet
	heldAt   float32 // how far the card was scrolled when it was laid out last
	holding  bool    // a setting was changed and its results are not all there
	// budgetFold holds the uncertainty's parts of the marked station; budgetOpen: it was open.
	budgetFold *widget.AccordionItem
	budgetOpen bool
	seam       int        // the card is about, on the Seams stage
	lamp       bench.Lamp // of the stage, when the card was worded
	// headlineLamp is the lamp beside the headline.
	headlineLamp bench.Lamp
	about        about                  // what the settings were built for
	kept         said                   // of the surface
	working      bool                   // it says that the stage will be worked on
	seams        *chooser               // to choose from, nil for none
	filed        *inspection.Inspection // the job that fixed was found out for
	fixed        []string
}

// about is what decides which settings a card has.
type about struct {
	stage     bench.Stage
	seam      int
	seams     int
	reference bool
	methods   string // of placing that can be chosen
	results   bool
	busy      bool
	files     string // of the job
}

func (c *card) aboutNow() about {
	b := c.w.bench
	a := about{stage: b.Shown(), results: len(b.Results()) > 0, busy: c.w.busyHands()}
	if job := b.Job(); job != nil {
		a.reference, a.methods, a.files = job.Reference != nil, placeChoices(job), firstFile(job)
		if a.stage == bench.Seams {
			a.seam, _ = b.Selection()
			a.seams = len(job.Seams)
		}
	}
	return a
}

// follow shows a changed job; settings under the user's hands stay where they are.
func (c *card) follow() {
	if c.settings == nil || c.about != c.aboutNow() {
		c.renew()
		return
	}
	c.settings.refresh()
	c.named()
	c.refresh()
}

// said is what a stage said, and of what.
type said struct {
	of  spoken
	now words.Card
}

// spoken is what the sentences of the surface are made of, none of which is changed in place.
type spoken struct {
	compared *app.Compared
	placed   *app.Placed
	job      *inspection.Inspection
	seams    string
}

// surface words the surface; the sentences are kept, since millions of points are looked through for them.
func (c *card) surface(o *app.Outcome) words.Card {
	of := spoken{compared: o.Compared, placed: o.Placed, job: o.Inspection}
	for _, r := range o.Seams {
		of.seams += fmt.Sprintf("%p ", r)
	}
	if c.kept.of != of {
		c.kept = said{of, c.w.words.Surface(o)}
	}
	return c.kept.now
}

// writtenOut names the seams of the job's file that saving replaces by those that were laid of them.
func (c *card) writtenOut() []string {
	if job := c.w.bench.Job(); c.filed != job {
		c.filed = job
		_, c.fixed = app.AsFiled(job)
	}
	return c.fixed
}

func newCard(w *Window) *card {
	c := &card{w: w, answer: container.NewVBox(), found: container.NewVBox(), station: container.New(layout.NewCustomPaddedVBoxLayout(-3))}
	c.list = container.NewVBox()
	c.scroll = container.NewVScroll(container.NewVBox(c.list))
	c.notice = padded(12, 4, cardLeft, cardRight, container.NewVBox())
	c.notice.Hide()
	c.foot = container.New(&footing{c}, w.hairline(), container.NewVScroll(padded(2, 8, cardLeft, cardRight, c.station)))
	c.foot.Hide()
	c.content = around(c.notice, c.foot, nil, nil, c.scroll)
	return c
}

// footing lays out what stands at the foot of the card: as high as it needs to be, but never so high that it takes the card
// from what was found.
type footing struct{ c *card }

// mostFoot is the share of the card that its foot may take, which leaves roomAbove for the answer and what was found, unless
// it would be lower than leastFoot.
const mostFoot, roomAbove, leastFoot = 0.42, 290, 100

func (f *footing) MinSize(o []fyne.CanvasObject) fyne.Size {
	inside := o[1].(*container.Scroll).Content.MinSize()
	tall := f.c.content.Size().Height
	most := min(tall*mostFoot, max(leastFoot, tall-roomAbove))
	if most <= 0 {
		most = inside.Height
	}
	return fyne.NewSize(0, o[0].MinSize().Height+min(inside.Height, most))
}

func (f *footing) Layout(o []fyne.CanvasObject, s fyne.Size) {
	line := o[0].MinSize().Height
	o[0].Resize(fyne.NewSize(s.Width, line))
	o[1].Move(fyne.NewPos(0, line))
	o[1].Resize(fyne.NewSize(s.Width, max(0, s.Height-line)))
}

// renew builds the card anew for another stage or job.
func (c *card) renew() {
	if c.fold != nil {
		c.open = c.fold.Items[0].Open
	}
	old, open := c.settings, c.about
	c.settings = newSettings(c.w)
	c.seam, _ = c.w.bench.Selection()
	before := c.about
	c.about = c.aboutNow()
	c.fold, c.foldAt, c.holding, c.seams = nil, -1, false, nil
	var list []fyne.CanvasObject
	if c.w.bench.Shown() == bench.Seams && len(c.w.bench.Results()) > 0 && !c.w.busyHands() {
		list = append(list, c.picker())
	}
	list = append(list, c.answer)
	if form := c.settings.form(c.w.bench.Shown()); form != nil && !c.w.busyHands() {
		c.fold, _ = newFold(tr("card.settings", "Settings"), c.open, func() fyne.CanvasObject { return form })
		list = append(list, c.fold)
	}
	c.list = container.New(held{c}, append(list, c.found)...)
	c.scroll.Content = padded(12, 16, cardLeft, cardRight, c.list)
	if before.stage != c.about.stage || before.seam != c.about.seam {
		c.scroll.Offset = fyne.Position{}
	}
	c.refresh()
	c.hand(old, open)
}

// hand gives what is being typed in settings to those that have taken their place.
func (c *card) hand(old *settings, of about) {
	if old == nil {
		return
	}
	same := of.stage == c.about.stage && of.seam == c.about.seam && of.files == c.about.files
	for k, f := range old.fields {
		var twin *field
		if same && k < len(c.settings.fields) && len(old.fields) == len(c.settings.fields) {
			twin = c.settings.fields[k]
		}
		f.retire(twin, func(o fyne.Focusable) { c.w.win.Canvas().Focus(o) })
	}
}

// picker chooses among the job's seams.
func (c *card) picker() fyne.CanvasObject {
	b := c.w.bench
	s := newChooser(nil)
	c.seams = s
	c.named()
	s.OnChanged = func(string) {
		if k, _ := b.Selection(); s.SelectedIndex() != k {
			c.picked(s.SelectedIndex())
			if k, _ := b.Selection(); s.SelectedIndex() != k { // a text is in the way
				s.SetSelectedIndex(k)
			}
		}
	}
	return s
}

// named shows the seams under the names they have now. The settings stay as they are: a click that took the new name over
// is on its way to one of them.
func (c *card) named() {
	if c.seams == nil {
		return
	}
	var names []string
	for _, s := range c.w.bench.Job().Seams {
		names = append(names, s.Name)
	}
	k, _ := c.w.bench.Selection()
	if slices.Equal(c.seams.Options, names) || k >= len(names) {
		return
	}
	c.seams.Options, c.seams.Selected = names, names[k]
	c.seams.Refresh()
}

// picked shows another seam.
func (c *card) picked(seam int) {
	if !c.w.settle() {
		return
	}
	c.w.bench.SelectSeam(seam)
	c.w.lookAtSeam()
}

// refresh words the results anew.
func (c *card) refresh() {
	c.lamp, c.working = c.w.bench.Lamp(c.w.bench.Shown()), false
	c.notify()
	if c.settings != nil {
		c.settings.measured()
	}
	c.answers = 1
	said := c.sentences()
	n := min(c.answers, len(said))
	c.answer.Objects, c.found.Objects = said[:n], said[n:]
	c.selected()
}

// held lays out the card's list. While a setting is worked on, the settings stay
// where they are on the screen, however much there is to say above them.
type held struct{ c *card }

var cardList = layout.NewCustomPaddedVBoxLayout(6)

func (held) MinSize(o []fyne.CanvasObject) fyne.Size { return cardList.MinSize(o) }
func (h held) Layout(o []fyne.CanvasObject, s fyne.Size) {
	cardList.Layout(o, s)
	c := h.c
	if c.fold == nil {
		return
	}
	at := c.fold.Position().Y
	if c.foldAt >= 0 && (c.holding || c.settings.busy()) {
		from := c.scroll.Offset.Y
		if lost := c.heldAt - from; at < c.foldAt && lost > 0 && from >= c.scroll.Content.Size().Height-c.scroll.Size().Height-1 {
			from += min(lost, c.foldAt-at) // at its end the scroll has followed what went by itself
		}
		c.scroll.Offset.Y = max(0, from+at-c.foldAt)
	}
	c.foldAt, c.heldAt = at, c.scroll.Offset.Y
}

// reveal scrolls so that an object of the settings is seen with the sentence under it.
func (c *card) reveal(o fyne.CanvasObject) {
	d := fyne.CurrentApp().Driver()
	end := d.AbsolutePositionForObject(o).Y + o.MinSize().Height
	if below := end - d.AbsolutePositionForObject(c.scroll).Y - c.scroll.Size().Height; below > 0 {
		c.scroll.Offset.Y += below + theme.Padding()
		c.scroll.Refresh()
	}
}

// worked words the results anew when the stage's lamp has changed with the work under way.
func (c *card) worked() {
	_, _, running := c.w.bench.Running()
	if c.lamp != c.w.bench.Lamp(c.w.bench.Shown()) || c.notice.Visible() != (c.waits() != "") || c.working && !running {
		c.refresh()
	}
	if !running && c.holding {
		c.w.opt.Post(func() { c.holding = false }) // after what the results changed was laid out
	}
}

// selected words the marked station anew.
func (c *card) selected() {
	w := c.w
	if c.budgetFold != nil {
		c.budgetOpen, c.budgetFold = c.budgetFold.Open, nil
	}
	var said []fyne.CanvasObject
	r, st := w.bench.Result(), w.bench.Station()
	if w.bench.Shown() == bench.Seams && st != nil && !w.busyHands() {
		data := map[string]any{"K": st.Index, "N": r.Seam.Before + len(r.Stations), "Along": along(st.Along)}
		said = append(said, c.caption(trf("card.station", "STATION {{.K}} OF {{.N}}, AT {{.Along}}", data)))
		for _, line := range w.words.Station(r, st) {
			said = append(said, c.paragraph(line))
		}
		if fold := c.budgets(st); fold != nil {
			said = append(said, fold)
		}
	}
	c.station.Objects = said
	if c.foot.Hidden = len(said) == 0; !c.foot.Hidden {
		c.foot.Refresh()
	}
	c.lay()
}

// lay lays out what the card says anew.
func (c *card) lay() {
	at := c.scroll.Offset
	c.scroll.Offset.Y-- // so that the scroll looks at its content again
	c.scroll.ScrollToOffset(at)
	laidOut(c.scroll.Content.(*fyne.Container), c.list, c.answer, c.found)
	laidOut(c.content, c.foot, c.station)
	if c.foot.Visible() && c.foot.MinSize().Height != c.foot.Size().Height { // lines were broken for its width
		laidOut(c.content, c.foot, c.station)
	}
}

// along writes a place on a seam as the strip does.
func along(mm float64) string { return figures(strconv.FormatFloat(mm, 'f', 1, 64)) + " mm" }

func (c *card) caption(s string) fyne.CanvasObject {
	p := currentPalette()
	return padded(8, 0, 7, 0, text(s, sizeCaption, p.Faint, true))
}

func (c *card) paragraph(s string) fyne.CanvasObject {
	return container.New(layout.NewCustomPaddedLayout(-4, -4, 0, 0), newProse(s, sizeText, false, proseWide))
}

// sentences returns the objects of what the stage has to say.
func (c *card) sentences() []fyne.CanvasObject {
	w, b := c.w, c.w.bench
	stage := b.Shown()
	if b.Job() == nil {
		return nil
	}
	if own := c.handwork(); own != nil {
		return own
	}
	if err := b.Err(stage); err != nil {
		return []fyne.CanvasObject{c.headline(bench.Failed, tr("card.failed", "This could not be done")), c.paragraph(sentenceOf(err)),
			newButton(tr("card.again", "Try again"), w.again)}
	}
	said, ok := c.words(stage)
	if !ok {
		return c.nothing(stage)
	}
	lamp := b.Lamp(stage)
	switch {
	case stage == bench.Evidence:
		lamp = lampOfVerdict(said.Verdict)
	case stage == bench.Seams && lamp != bench.Stale && lamp != bench.Working:
		lamp = lampOfVerdict(said.Verdict)
	}
	objects := []fyne.CanvasObject{c.headline(lamp, said.Headline)}
	switch {
	case !b.IsStale(stage):
	case stage == bench.Evidence: // its figures are those of the job as it is; what was written is not
		objects = append(objects, c.paragraph(trf("card.stale.evidence", "What lies in {{.Folder}} is of the job as it was before it changed: write it again.", map[string]any{"Folder": b.Wrote})))
	case stage == bench.Seams && b.SeamHolds(c.seam):
	case !c.notice.Visible():
		objects = append(objects, c.paragraph(stale()))
		c.answers = len(objects)
	}
	// What to do stands before the list of what was found, which is long as soon as there is much to do.
	if len(said.Next) > 0 {
		objects = append(objects, c.caption(tr("card.next", "WHAT TO DO NEXT")))
	}
	for _, s := range said.Next {
		objects = append(objects, c.paragraph(s))
	}
	if len(said.Found) > 0 {
		objects = append(objects, c.caption(tr("card.found", "WHAT WAS FOUND")))
	}
	for _, s := range said.Found {
		show := func() {
			w.mark(s.Where.Seam, s.Where.Station)
			w.lookAt()
		}
		switch {
		case s.Where == nil && s.At == nil:
			objects = append(objects, c.paragraph(s.Text))
			continue
		case s.Where == nil:
			show = func() { w.lookAtSpot(*s.At) }
		}
		objects = append(objects, container.New(layout.NewCustomPaddedLayout(-3, -3, sentenceLeft, 0), newSentence(s.Text, show)))
	}
	if stage == bench.Seams {
		for _, name := range c.writtenOut() {
			objects = append(objects, c.paragraph(trf("seam.fixed", "Saving writes the seams of “{{.Name}}” out with their paths: what the file says of them together no longer gives what is measured here.", map[string]any{"Name": name})))
		}
	}
	if stage == bench.Parts && b.Job().Reference == nil {
		objects = append(objects, newButton(tr("menu.reference", "Add a reference …"), w.addReference))
	}
	if o := b.Outcome(); stage == bench.Parts && o.Parts.Exchanged() != "" && len(b.Job().Pieces) == 0 {
		objects = append(objects, newButton(tr("card.swap", "Swap scan and reference"), w.swap))
	}
	switch {
	case stage == bench.Evidence:
		objects = append(objects, c.evidence()...)
	case stage == bench.Trust && len(b.Outcome().Lengths) == 0:
		objects = append(objects, c.lengthObjects()...)
	}
	return objects
}

// waits says that what the card shows is not, or not all, of the job as it is, while nothing is done about it; "" where that
// is not so or the card says it itself.
func (c *card) waits() string {
	b := c.w.bench
	stage := b.Shown()
	if _, _, running := b.Running(); running || b.Job() == nil || c.w.busyHands() || b.Err(stage) != nil || !b.Waits(stage) {
		return ""
	}
	_, says := c.words(stage)
	switch {
	case !says:
		return ""
	case stage == bench.Evidence:
		return tr("card.waits.evidence", "Some results are missing or out of date.")
	case b.IsStale(stage):
		return stale()
	}
	return tr("card.waits", "The work was stopped before all of this was done.")
}

func stale() string {
	return tr("card.stale", "The job has changed since: these are the figures from before.")
}

// notify says above everything else that the card is out of date, and offers to go on.
func (c *card) notify() {
	said := c.waits()
	if said == "" {
		c.notice.Hide()
	} else {
		again := newButton(tr("card.goon", "Go on"), c.w.again)
		again.Importance = widget.HighImportance
		c.notice.Objects = []fyne.CanvasObject{container.NewVBox(newProse(said, sizeText, true, proseWide), again)}
		c.notice.Show()
	}
	c.notice.Refresh()
	laidOut(c.content)
}

// words returns what a stage says, when it has something to say.
func (c *card) words(stage bench.Stage) (words.Card, bool) {
	w, b, o := c.w, c.w.bench, c.w.bench.Outcome()
	switch stage {
	case bench.Parts:
		if o.Parts != nil {
			return w.words.Parts(o.Parts), true
		}
	case bench.Place:
		if o.Placed != nil && b.Applies(bench.Place) {
			return w.words.For(o).Place(o.Placed), true
		}
	case bench.Surface:
		if o.Compared != nil && b.Applies(bench.Surface) {
			return w.withSections(c.surface(o), o), true
		}
	case bench.Trust:
		if o.Growth != nil {
			return w.trustCard(o), true
		}
	case bench.Seams:
		if r := b.Result(); r != nil {
			k, _ := b.Selection()
			return w.words.For(o).Seam(k, r), true
		}
	case bench.Evidence:
		if o.Placed != nil {
			return w.words.Evidence(o, b.Written), true
		}
	}
	return words.Card{}, false
}

// handwork returns what the card says while something is drawn or picked, nil while nothing is.
func (c *card) handwork() []fyne.CanvasObject {
	switch w := c.w; {
	case w.drawing != nil:
		return c.drawingCard()
	case w.pairing != nil:
		return c.pairingCard()
	case w.bending != nil:
		return c.bendingCard()
	case w.proposed != nil:
		return c.proposalsCard()
	case w.compared != nil:
		return c.compareCard()
	}
	return nil
}

// nothing says why a stage has nothing to say.
func (c *card) nothing(stage bench.Stage) []fyne.CanvasObject {
	w, b := c.w, c.w.bench
	_, _, running := b.Running()
	switch {
	case stage == bench.Seams && !b.Applies(stage):
		return []fyne.CanvasObject{c.headline(bench.NotDone, tr("card.noseams", "This job has no seams yet")), c.paragraph(tr("card.noseams.how", "Let the shut lines be found, or draw one: click New seam, then on one end of a shut line and on the other. The path follows the gap.")),
			container.NewVBox(newIconButton(tr("bar.find", "Find seams"), theme.SearchIcon(), w.findSeams),
				newIconButton(tr("bar.newseam", "New seam"), theme.ContentAddIcon(), w.beginSeam))}
	case stage == bench.Place && !b.Applies(stage):
		return []fyne.CanvasObject{c.headline(bench.NotDone, tr("card.noreference.place", "No reference: nothing to place")), c.paragraph(tr("card.noreference.place.how", "The scan stays as it lies in its file, and seams are given in its own coordinates. Gaps, flushes and lengths need no placement."))}
	case !b.Applies(stage):
		return []fyne.CanvasObject{c.headline(bench.NotDone, tr("card.noreference", "No reference: nothing to compare with")), c.paragraph(tr("card.noreference.how", "Open scan and reference together to compare the surface. Seams are measured in the scan alone."))}
	case running:
		c.working = true
		return []fyne.CanvasObject{c.headline(bench.Working, tr("card.running", "Working on it …"))}
	}
	return []fyne.CanvasObject{c.headline(bench.NotDone, tr("card.notdone", "Not done")), c.paragraph(tr("card.notdone.how", "The work was stopped before this stage.")),
		newButton(tr("card.goon", "Go on"), w.again)}
}

// again goes on with what was stopped or failed.
func (w *Window) again() {
	if w.settle() {
		w.bench.Retry()
	}
}

func lampOfVerdict(v verdict.Verdict) bench.Lamp {
	switch v {
	case verdict.Conforms:
		return bench.Good
	case verdict.DoesNotConform:
		return bench.Bad
	case verdict.Undecided:
		return bench.Open
	}
	return bench.Done
}

// headLines is how many lines of an answer are set in large type; a longer one takes less room for what follows.
const headLines = 2

// headline is the answer in large type beside its lamp.
func (c *card) headline(lamp bench.Lamp, s string) fyne.CanvasObject {
	c.headlineLamp = lamp
	const lampWide, left, right = 24, 2, 4
	icon := container.NewVBox(padded(6, 0, left, right, lampImage(lamp, lampWide)))
	const wide = proseWide - lampWide - left - right
	said := newProse(s, sizeHead, true, wide-theme.Padding())
	if len(said.lines) > headLines {
		said = newProse(s, sizeLongHead, true, wide-theme.Padding())
	}
	return container.NewBorder(nil, nil, icon, nil, said)
}

// evidence is the button, and the cautions no result may go without.
func (c *card) evidence() []fyne.CanvasObject {
	w := c.w
	write := newButton(tr("header.write", "Write evidence"), w.writeEvidence)
	write.Importance = widget.HighImportance
	var objects []fyne.CanvasObject
	if w.unsaved() {
		objects = append(objects,
			c.paragraph(tr("evidence.unsaved", "The job is not saved. Pictures and results.json name its inspection file by a hash: without that file nobody can check them. Save it first.")),
			newButton(tr("evidence.save", "Save the job first"), func() { w.save(nil) }))
	}
	objects = append(objects, write)
	if dir := w.bench.Written; dir != "" {
		objects = append(objects, newIconButton(tr("strip.evidence.folder", "Open folder"), theme.FolderOpenIcon(), func() { w.openPath(dir) }))
	}
	objects = append(objects, c.caption(tr("card.cautions", "WHAT THIS DOES NOT SAY")))
	for _, s := range w.words.Cautions() {
		objects = append(objects, c.paragraph(s))
	}
	return objects
}
