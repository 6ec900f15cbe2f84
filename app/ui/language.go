package ui

import (
	"os"

	"fyne.io/fyne/v2"
	"fyne.io/fyne/v2/lang"

	"shutline/assets"
)

// prefLanguage is the language of the window, "" for the system's.
const prefLanguage = "language"

// languages are what can be chosen, by the names of their texts, in their own words and by their keys.
var languages = []struct {
	code, name string
	key        fyne.KeyName
}{{"en", "English", fyne.KeyE}, {"de", "Deutsch", fyne.KeyG}}

// Speak loads the texts of the window, in the language that was chosen there.
func Speak(a fyne.App) error {
	code := a.Preferences().String(prefLanguage)
	if code != "" {
		_ = os.Setenv("LANGUAGE", code) // which is what the toolkit looks at where systems have it
	}
	if err := lang.AddTranslationsFS(assets.Languages, "lang"); err != nil {
		return err
	}
	if code == "" || lang.SystemLocale().LanguageString() == code {
		return nil
	}
	// Elsewhere the system's own language cannot be told another: its texts are the chosen ones.
	texts, err := assets.Languages.ReadFile("lang/" + code + ".json")
	if err != nil {
		return nil // a language of another version of the program
	}
	return lang.AddTranslationsForLocale(texts, lang.SystemLocale())
}

// languageMenu lets the user choose the language.
func (w *Window) languageMenu() *fyne.MenuItem {
	m := fyne.NewMenuItem(tr("menu.language", "Language"), nil)
	now := w.app.Preferences().String(prefLanguage)
	add := func(title, code string, key fyne.KeyName) {
		i := item(title, ctrlShift(key), w.looks(func() { w.chooseLanguage(code) }))
		i.Checked = now == code
		m.ChildMenu.Items = append(m.ChildMenu.Items, i)
	}
	m.ChildMenu = fyne.NewMenu("")
	add(tr("menu.system", "As the system"), "", fyne.KeyU)
	for _, l := range languages {
		add(l.name, l.code, l.key)
	}
	return m
}

// chooseLanguage keeps the language for the next start.
func (w *Window) chooseLanguage(code string) {
	if w.app.Preferences().String(prefLanguage) == code {
		return
	}
	w.app.Preferences().SetString(prefLanguage, code)
	w.win.SetMainMenu(w.menu())
	w.tell(tr("menu.language", "Language"), tr("language.next", "The window speaks the language you have chosen when it is started the next time."))
}
