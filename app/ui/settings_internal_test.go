package ui

import (
	"image"
	"strconv"
	"strings"
	"testing"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/container"
	"fyne.io/fyne/v2/driver/desktop"
	"fyne.io/fyne/v2/test"
	"github.com/stretchr/testify/require"

	"shutline/app/bench"
	"shutline/app/inspection"
	"shutline/deviation/gapflush"
	"shutline/deviation/verdict"
)

// setting returns the card's entry of a name, with the card's settings unfolded.
func (r *rig) setting(name string) *field {
	r.t.Helper()
	require.NotNil(r.t, r.card.fold)
	r.card.fold.Open(0)
	for _, i := range r.card.settings.items {
		if i.Text != name {
			continue
		}
		for _, f := range r.card.settings.fields {
			if i.Widget == f.content {
				return f
			}
		}
	}
	require.FailNow(r.t, "no setting "+name)
	return nil
}

// typeInto types a text in the place of a setting and presses return.
func (r *rig) typeInto(name, text string) *field {
	r.t.Helper()
	f := r.setting(name)
	f.SetText("")
	r.win.Canvas().Focus(f)
	test.Type(f, text)
	f.TypedKey(&fyne.KeyEvent{Name: fyne.KeyReturn})
	r.idle()
	return f
}

func TestSettingsAreStepsOfUndo(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Show(bench.Surface)
	r.typeInto("Tolerance, mm", "-0.3 to 0.4")
	require.Equal(t, verdict.Tolerance{Lo: -0.3, Hi: 0.4}, r.bench.Job().Surface.Tolerance)
	require.False(t, r.header.undo.Disabled())
	test.Tap(r.header.undo)
	r.idle()
	require.Equal(t, verdict.Tolerance{Lo: -0.5, Hi: 0.5}, r.bench.Job().Surface.Tolerance)
	require.Equal(t, "-0.5 … 0.5", r.setting("Tolerance, mm").Text, "the field follows")
	require.False(t, r.header.redo.Disabled())
}

func TestTolerancesAreTakenAsPeopleTypeThem(t *testing.T) {
	for text, want := range map[string]verdict.Tolerance{
		"-0.5 … 0.5": {Lo: -0.5, Hi: 0.5}, "-0.2 ... 0.2": {Lo: -0.2, Hi: 0.2}, "-0.2...0.2": {Lo: -0.2, Hi: 0.2}, "-0.2…0.3": {Lo: -0.2, Hi: 0.3},
		"0.7": {Lo: -0.7, Hi: 0.7}, "± 0.7": {Lo: -0.7, Hi: 0.7}, "±0,7": {Lo: -0.7, Hi: 0.7}, "+-1": {Lo: -1, Hi: 1}, "+/-1": {Lo: -1, Hi: 1}, "+ - .5": {Lo: -0.5, Hi: 0.5},
		"−1 to 2": {Lo: -1, Hi: 2}, "–1 to +2": {Lo: -1, Hi: 2}, "[-0,5; 0,25]": {Lo: -0.5, Hi: 0.25}, "-0,75 0,75": {Lo: -0.75, Hi: 0.75},
		"-0,75, 0,75": {Lo: -0.75, Hi: 0.75}, "-0.2 - 0.2": {Lo: -0.2, Hi: 0.2}, "-0.2 – 0.2 mm": {Lo: -0.2, Hi: 0.2}, "-0.2/0.2": {Lo: -0.2, Hi: 0.2}, "-.5 .5": {Lo: -0.5, Hi: 0.5},
	} {
		got, err := parseBand(text)
		require.NoError(t, err, text)
		require.Equal(t, want, got, text)
		again, err := parseBand(bandText(got))
		require.NoError(t, err)
		require.Equal(t, want, again, "what is shown can be typed")
	}
	for _, t0 := range []verdict.Tolerance{{Lo: -0.12345678, Hi: 1.0000001}, {Lo: -1e-9, Hi: 1234567.25}, {Lo: -1.0 / 3, Hi: 2.0 / 3}} {
		again, err := parseBand(bandText(t0))
		require.NoError(t, err)
		require.Equal(t, t0, again, "no digit is lost where one limit is typed anew")
	}
	for _, text := range []string{"", "a", "abc", "2 1", "1 1", "0 … 0", "1 2 3", "NaN", "-Inf 1", "-1", "1e400 2", "+-", "...", "0.5 …", "± -1", "1 x 2", "--1 2"} {
		_, err := parseBand(text)
		require.Error(t, err, text)
	}
}

func TestATypedToleranceIsKeptOrRefusedInWords(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Show(bench.Seams)
	for _, c := range []struct {
		name, text string
		target     func(gapflush.Seam) gapflush.Target
		want       verdict.Tolerance
	}{
		{"Taper, mm/100 mm", "-0.2 … 0.2", func(s gapflush.Seam) gapflush.Target { return s.Taper }, verdict.Tolerance{Lo: -0.2, Hi: 0.2}},
		{"Gap off by, mm", "+-1,5", func(s gapflush.Seam) gapflush.Target { return s.Gap }, verdict.Tolerance{Lo: -1.5, Hi: 1.5}},
		{"Flush off by, mm", "± 0.4", func(s gapflush.Seam) gapflush.Target { return s.Flush }, verdict.Tolerance{Lo: -0.4, Hi: 0.4}},
	} {
		f := r.typeInto(c.name, c.text)
		got := c.target(r.bench.Job().Seams[0])
		require.Equal(t, c.want, got.Tolerance, c.name)
		require.True(t, got.Judged)
		require.Equal(t, bandText(c.want), f.Text, "shown as it is shown elsewhere")

		f = r.typeInto(c.name, "abc")
		require.Equal(t, c.want, c.target(r.bench.Job().Seams[0]).Tolerance, "what was, is kept")
		require.Equal(t, "abc", f.Text, "the text stays to be mended")
		require.True(t, f.said.Visible(), "the field is marked")
		require.Contains(t, r.texts(r.card.content), "This is no tolerance. Write the two limits")
		f.TypedKey(&fyne.KeyEvent{Name: fyne.KeyEscape})
		require.Equal(t, bandText(c.want), f.Text)
		require.NotContains(t, r.texts(r.card.content), "This is no tolerance")

		f = r.typeInto(c.name, "")
		require.False(t, c.target(r.bench.Job().Seams[0]).Judged, "an empty field is not judged")
		require.Equal(t, "", f.Text)
		require.Equal(t, "not judged", f.PlaceHolder)
	}
}

func TestNumbersAreTakenOrRefusedInWords(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Show(bench.Seams)
	r.typeInto("Station every, mm", "12,5 mm")
	require.Equal(t, 12.5, r.bench.Job().Seams[0].Every)
	for _, text := range []string{"", "0", "-3", "much", "0.00001"} {
		f := r.typeInto("Station every, mm", text)
		require.Equal(t, 12.5, r.bench.Job().Seams[0].Every)
		require.True(t, f.said.Visible(), text)
		f.restore()
	}
	r.typeInto("Gap wanted, mm", "")
	require.False(t, r.bench.Job().Seams[0].Gap.HasNominal)
	require.Equal(t, "from the reference", r.setting("Gap wanted, mm").PlaceHolder)
	r.typeInto("Hem radii A, B, mm", "1,5 1.2")
	require.Equal(t, [2]float64{1.5, 1.2}, r.bench.Job().Seams[0].Radius)
	r.typeInto("Hem radii A, B, mm", "1.4")
	require.Equal(t, [2]float64{1.4, 1.4}, r.bench.Job().Seams[0].Radius)
	require.True(t, r.typeInto("Hem radii A, B, mm", "-1 2").said.Visible())
	r.setting("Hem radii A, B, mm").restore()
	r.typeInto("Hem radii A, B, mm", "")
	require.Zero(t, r.bench.Job().Seams[0].Radius)
	r.bench.Show(bench.Surface)
	for _, text := range []string{"0", "101", "-1", "all"} {
		f := r.typeInto("Wanted inside, %", text)
		require.True(t, f.said.Visible(), text)
		f.restore()
	}
	r.typeInto("Wanted inside, %", "95")
	require.True(t, r.bench.Job().Surface.HasShare)
	require.InDelta(t, 0.95, r.bench.Job().Surface.Share, 1e-12)
	for tenth := 1; tenth <= 1000; tenth++ {
		text := strconv.FormatFloat(float64(tenth)/10, 'f', -1, 64)
		share, err := strconv.ParseFloat(text+"e-2", 64)
		require.NoError(t, err)
		require.Equal(t, share, ofPercent(float64(tenth)/10), "%s %% is what an inspection file would say", text)
		require.Equal(t, text, number(percent(share)))
	}
	require.Equal(t, "94.9", r.typeInto("Wanted inside, %", "94,9").Text)
	require.Equal(t, 0.949, r.bench.Job().Surface.Share)
	require.True(t, r.typeInto("Tolerance, mm", "").said.Visible(), "the colours need one")
	require.Equal(t, verdict.Tolerance{Lo: -0.5, Hi: 0.5}, r.bench.Job().Surface.Tolerance)
}

// A text that is wider than its field moves along while it is typed, and is cut at the field's edge else; the field is as high as ever,
// and the wheel is the card's over fields that nobody is in.
func TestLongTextsMoveAlongInTheirField(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Show(bench.Parts)
	f := r.setting("Title")
	r.win.Canvas().Focus(f)
	r.paint()
	high := f.MinSize().Height
	require.Equal(t, fyne.ScrollNone, f.Scroll)
	test.Type(f, strings.Repeat("a long title ", 12))
	require.Equal(t, fyne.ScrollHorizontalOnly, f.Scroll)
	require.Equal(t, high, f.MinSize().Height, "nothing jumps")
	r.paint()
	d := fyne.CurrentApp().Driver()
	scroll := func() (found *container.Scroll, beyond bool) {
		for _, o := range test.WidgetRenderer(f).Objects() {
			if s, is := o.(*container.Scroll); is {
				return s, d.AbsolutePositionForObject(s).X+s.Size().Width > d.AbsolutePositionForObject(f).X+f.Size().Width
			}
		}
		return nil, false
	}
	s, beyond := scroll()
	require.NotNil(t, s)
	require.False(t, beyond)
	require.Positive(t, s.Offset.X, "the end of the text is seen")
	f.TypedKey(&fyne.KeyEvent{Name: fyne.KeyReturn})
	r.idle()
	r.win.Canvas().Unfocus()
	require.Equal(t, fyne.ScrollNone, f.Scroll)
	require.Equal(t, high, f.MinSize().Height)
	require.True(t, strings.HasPrefix(r.bench.Job().Title, "a long title a long"))
	r.paint()
	f.MouseDown(&desktop.MouseEvent{PointEvent: fyne.PointEvent{Position: fyne.NewPos(60, 15)}, Button: desktop.MouseButtonPrimary})
	require.Equal(t, fyne.ScrollHorizontalOnly, f.Scroll)
	require.Less(t, f.CursorColumn, 12, "the letter under the pointer, not one that came there by moving the text")
	s, _ = scroll()
	require.Zero(t, s.Offset.X)
	require.Empty(t, f.SelectedText())
}

// A field that leaves the screen while it has the focus loses it: its cursor would go on blinking, and the window be painted for it.
func TestAFieldThatIsGoneHasNoFocus(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Show(bench.Parts)
	f := r.setting("Title")
	r.win.Canvas().Focus(f)
	require.True(t, f.focused)
	r.bench.Show(bench.Seams)
	require.False(t, f.focused)
	f.FocusGained()
	require.False(t, f.focused)
}

func TestSeamsAreRenamedAndDeleted(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Show(bench.Seams)
	r.typeInto("Name", "hood to wing")
	require.Equal(t, "hood to wing", r.bench.Job().Seams[0].Name)
	require.Contains(t, r.texts(r.card.content), "The hood", "its sides have new names")
	require.Equal(t, "hood to wing", r.bench.Result().Seam.Name)
	require.True(t, r.typeInto("Name", "door to quarter").said.Visible(), "names are not given twice")
	r.setting("Name").restore()
	require.True(t, r.typeInto("Name", "  ").said.Visible())
	r.setting("Name").restore()

	tapText(t, r.card.content, "Delete this seam")
	r.idle()
	require.Len(t, r.bench.Job().Seams, 1)
	require.Equal(t, "door to quarter", r.bench.Job().Seams[0].Name)
	require.Len(t, r.bench.Job().SeamPictures, 1)
	require.Equal(t, "door to quarter", r.bench.Result().Seam.Name)
	tapText(t, r.card.content, "Delete this seam")
	r.idle()
	require.Empty(t, r.bench.Job().Seams)
	require.Contains(t, r.texts(r.card.content), "no seams yet")
	r.bench.Undo()
	r.bench.Undo()
	r.bench.Undo()
	r.idle()
	require.Equal(t, "wing to door", r.bench.Job().Seams[0].Name)
}

func TestTheCardStaysWhereItIs(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Show(bench.Seams)
	f := r.setting("Flush off by, mm")
	r.paint()
	r.card.scroll.Refresh()
	r.card.scroll.ScrollToBottom()
	d := fyne.CurrentApp().Driver()
	lies := d.AbsolutePositionForObject(f).Y
	require.Positive(t, r.card.scroll.Offset.Y)
	for _, text := range []string{"0.6", "0.1", "1"} { // each changes what there is to say above
		said := len(r.card.found.Objects)
		r.typeInto("Flush off by, mm", text)
		r.drain()
		r.paint()
		require.Same(t, f, r.setting("Flush off by, mm"), "the field under the hands is not exchanged")
		require.InDelta(t, lies, d.AbsolutePositionForObject(f).Y, 1, "and does not run away (%s, %d lines before)", text, said)
	}
	r.win.Canvas().Unfocus()
	r.card.picked(1)
	r.idle()
	require.Zero(t, r.card.scroll.Offset.Y, "another seam begins at the top")
}

func TestAnAnswerToATypedTextIsSeen(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Show(bench.Seams)
	f := r.setting("Taper, mm/100 mm")
	r.paint()
	d := fyne.CurrentApp().Driver()
	r.card.scroll.Refresh()
	r.card.scroll.ScrollToBottom()
	r.card.scroll.Offset.Y -= r.card.settings.below[0].Size().Height + 10 // the field is the last thing seen
	r.card.scroll.Refresh()
	r.typeInto("Taper, mm/100 mm", "abc")
	r.drain()
	r.paint()
	r.drain()
	end := d.AbsolutePositionForObject(f.said).Y + f.said.MinSize().Height
	require.LessOrEqual(t, end, d.AbsolutePositionForObject(r.card.scroll).Y+r.card.scroll.Size().Height+1)
}

func TestTheWheelReachesTheCardOverItsFields(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Show(bench.Seams)
	r.setting("Name")
	r.paint()
	for _, f := range r.card.settings.fields {
		name := f.Text
		var walk func(o fyne.CanvasObject)
		walk = func(o fyne.CanvasObject) {
			if !o.Visible() {
				return
			}
			_, scrolls := o.(fyne.Scrollable)
			require.False(t, scrolls, "%T in the field %q takes the wheel", o, name)
			switch x := o.(type) {
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
		walk(f)
	}
}

func TestTheHeadlinesIconAgreesWithTheList(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Show(bench.Seams)
	r.typeInto("Flush off by, mm", "0.3")
	require.Equal(t, bench.Bad, r.bench.Lamp(bench.Seams))
	require.Equal(t, bench.Bad, r.card.headlineLamp)
	r.bench.Edit("all is well", func(i *inspection.Inspection) {
		for k := range i.Seams {
			i.Seams[k].Flush.Tolerance = verdict.Tolerance{Lo: -9, Hi: 9}
		}
	})
	r.idle()
	require.Equal(t, r.bench.Lamp(bench.Seams), r.card.headlineLamp)
	require.Contains(t, strings.ToLower(r.texts(r.card.content)), "inside their tolerances")
}

// The sentences are those with which the file would be refused.
func TestFieldsKnowTheBoundsOfTheFile(t *testing.T) {
	r := newRig(t)
	r.open()
	_, err := bench.Production().Encode(r.bench.Job(), "/jobs", nil, "")
	require.NoError(t, err, "the job itself can be written")
	for _, c := range []struct {
		stage             bench.Stage
		name, text, wrong string
	}{
		{bench.Surface, "Reach, mm", "2000000000", "at most"},
		{bench.Surface, "Tolerance, mm", "-5000 … 5000", "at least -1000 mm"},
		{bench.Seams, "Gap wanted, mm", "99999", "at most"},
		{bench.Seams, "Gap off by, mm", "-9999 … 9999", "at least"},
		{bench.Seams, "Taper, mm/100 mm", "± 123456", "at least"},
	} {
		r.bench.Show(c.stage)
		before := r.bench.Job()
		f := r.typeInto(c.name, c.text)
		require.Contains(t, f.said.Text, c.wrong, c.name)
		require.Regexp(t, `^[A-Z].*\.$`, f.said.Text)
		require.Same(t, before, r.bench.Job(), c.name)
		f.TypedKey(&fyne.KeyEvent{Name: fyne.KeyEscape})
	}
}

// The stations of the rig's seam run up at x = 200, A pointing along +x: side A lies toward −x.
func TestTheSidesAreToldApart(t *testing.T) {
	r := newRig(t)
	r.open()
	r.bench.Show(bench.Seams)
	var stays *chooser
	for _, i := range r.card.settings.items {
		if i.Text == "Side that stays" {
			stays = i.Widget.(*chooser)
		}
	}
	require.Equal(t, []string{"A, wing (toward −x)", "B, door (toward +x)"}, stays.Options)
	require.Equal(t, "B, door (toward +x)", stays.Selected)
	stays.SetSelected("A, wing (toward −x)")
	r.idle()
	require.Equal(t, gapflush.A, r.bench.Job().Seams[0].Master)

	// The view has their letters, and at rest the stations' numbers.
	r.view.fit("left")
	r.seen()
	picture := func(draw func(*image.RGBA)) *image.RGBA {
		img := image.NewRGBA(r.view.picture.Image.Rect)
		draw(img)
		return img
	}
	over := r.overlay(bench.Seams)
	moving := picture(func(img *image.RGBA) { over(img, r.view.picture, 1, false) })
	still := picture(func(img *image.RGBA) { over(img, r.view.picture, 1, true) })
	require.NotEqual(t, moving.Pix, still.Pix)
}
