package ui

import (
	"slices"

	"shutline/app"
	"shutline/app/words"
	"shutline/deviation/crosscut"
)

// withSections adds to what is said of the surface what each section of the job shows; a click on its sentences shows where it lies.
func (w *Window) withSections(c words.Card, o *app.Outcome) words.Card {
	if len(o.Sections) == 0 {
		return c
	}
	c.Found = append(slices.Clone(c.Found), words.Sentence{Text: trf("surface.sections", "Sections: {{.Cut}}.", map[string]any{"Cut": w.words.Sections(o.Sections).Headline})})
	for _, s := range o.Sections {
		at := s.Spec.Point
		for _, said := range w.words.Sections([]*crosscut.Section{s}).Found {
			if said.At == nil && s.Missing == "" {
				said.At = &at
			}
			c.Found = append(c.Found, said)
		}
	}
	return c
}
