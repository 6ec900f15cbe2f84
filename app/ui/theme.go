package ui

import (
	"image/color"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/theme"

	"shutline/deviation/chart"
	"shutline/deviation/shade"
)

// palette holds the colours of one variant: those of the charts, so that the
// window and its drawings are of one piece, and those of the room around them.
type palette struct {
	chart.Theme
	bench, rail, hover, chosen, field, edge color.RGBA
	primary, onPrimary                      color.RGBA
	view                                    shade.Theme
}

func hex(v uint32) color.RGBA {
	return color.RGBA{R: uint8(v >> 16), G: uint8(v >> 8), B: uint8(v), A: 255}
}

func light() palette {
	return palette{
		Theme: chart.Light(),
		bench: hex(0xf3f5f7), rail: hex(0xe9edf0), hover: hex(0xe1e7ec), chosen: hex(0xffffff), field: hex(0xffffff), edge: hex(0xd5dce2),
		primary: hex(0x1f4e79), onPrimary: hex(0xffffff),
		view: shade.LightTheme(),
	}
}

func dark() palette {
	return palette{
		Theme: chart.Dark(),
		bench: hex(0x15181c), rail: hex(0x1b1f24), hover: hex(0x272d34), chosen: hex(0x2b323a), field: hex(0x22272d), edge: hex(0x353c44),
		primary: hex(0x7db4e6), onPrimary: hex(0x10151a),
		view: shade.DarkTheme(),
	}
}

func paletteOf(v fyne.ThemeVariant) palette {
	p := light()
	if v == theme.VariantDark {
		p = dark()
	}
	p.Say = chartSay
	return p
}

// Look is the window's theme. Mode is "light", "dark" or "" for the system's choice.
type Look struct{ Mode string }

var _ fyne.Theme = (*Look)(nil)

// variant returns the variant to draw in, given the system's.
func (l *Look) variant(system fyne.ThemeVariant) fyne.ThemeVariant {
	switch l.Mode {
	case "light":
		return theme.VariantLight
	case "dark":
		return theme.VariantDark
	}
	return system
}

func clear(c color.RGBA, alpha uint8) color.NRGBA {
	return color.NRGBA{R: c.R, G: c.G, B: c.B, A: alpha}
}

// ink is the colour of texts. The toolkit draws the keys in its menus in this
// colour with 0.95 of its alpha, of which it keeps the wrong byte (v2.7.1,
// widget/menu_item.go): of a fully opaque ink a fifth is left. inkAlpha is the
// value nearest to opaque of which nearly all is left.
type ink color.RGBA

const inkAlpha = 0xffc9 // 0.95 * 0xffc9 = 0xf2fe

// RGBA is part of color.Color.
func (c ink) RGBA() (r, g, b, a uint32) {
	r, g, b, _ = color.RGBA(c).RGBA()
	return min(r, inkAlpha), min(g, inkAlpha), min(b, inkAlpha), inkAlpha
}

// Color returns the colour of a name.
func (l *Look) Color(n fyne.ThemeColorName, system fyne.ThemeVariant) color.Color {
	v := l.variant(system)
	p := paletteOf(v)
	switch n {
	case theme.ColorNameBackground:
		return p.bench
	case theme.ColorNameForeground:
		return ink(p.Ink)
	case theme.ColorNamePrimary, theme.ColorNameHyperlink:
		return p.primary
	case theme.ColorNameForegroundOnPrimary:
		return p.onPrimary
	case theme.ColorNameFocus:
		return clear(p.primary, 0x70)
	case theme.ColorNameSelection:
		return clear(p.primary, 0x40)
	case theme.ColorNameButton:
		return p.hover
	case theme.ColorNameDisabledButton:
		return p.rail
	case theme.ColorNameDisabled, theme.ColorNamePlaceHolder:
		return p.Faint
	case theme.ColorNameInputBackground:
		return p.field
	case theme.ColorNameInputBorder, theme.ColorNameSeparator:
		return p.edge
	case theme.ColorNameHeaderBackground:
		return p.rail
	case theme.ColorNameMenuBackground, theme.ColorNameOverlayBackground:
		return p.Panel
	case theme.ColorNameHover:
		return clear(p.Ink, 0x12)
	case theme.ColorNamePressed:
		return clear(p.Ink, 0x26)
	case theme.ColorNameScrollBar:
		return clear(p.Faint, 0x90)
	case theme.ColorNameSuccess:
		return p.Good
	case theme.ColorNameError:
		return p.Bad
	case theme.ColorNameWarning:
		return p.Open
	}
	return theme.DefaultTheme().Color(n, v)
}

// Font returns the font of a style.
func (l *Look) Font(s fyne.TextStyle) fyne.Resource { return theme.DefaultTheme().Font(s) }

// Icon returns the icon of a name.
func (l *Look) Icon(n fyne.ThemeIconName) fyne.Resource { return theme.DefaultTheme().Icon(n) }

// The window's own type sizes, in layout units.
const (
	sizeTitle = 17
	sizeHead  = 16
	sizeText  = 13
	// sizeLongHead is of an answer that is long.
	sizeLongHead = 14
	sizeCaption  = 11
)

// Size returns the size of a name.
func (l *Look) Size(n fyne.ThemeSizeName) float32 {
	switch n {
	case theme.SizeNameText:
		return sizeText
	case theme.SizeNameHeadingText:
		return sizeTitle
	case theme.SizeNameSubHeadingText:
		return sizeHead
	case theme.SizeNameCaptionText:
		return sizeCaption
	case theme.SizeNamePadding:
		return 4
	case theme.SizeNameInnerPadding:
		return 7
	case theme.SizeNameLineSpacing:
		return 3
	case theme.SizeNameInlineIcon:
		return 17
	case theme.SizeNameInputRadius, theme.SizeNameSelectionRadius:
		return 3
	case theme.SizeNameScrollBarSmall:
		return 4
	case theme.SizeNameScrollBar:
		return 10
	}
	return theme.DefaultTheme().Size(n)
}

// currentPalette returns the colours the running app draws with.
func currentPalette() palette {
	settings := fyne.CurrentApp().Settings()
	v := settings.ThemeVariant()
	if l, ok := settings.Theme().(*Look); ok {
		v = l.variant(v)
	}
	return paletteOf(v)
}
