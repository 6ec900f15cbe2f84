package ui

import (
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app/words"
	"shutline/assets"
	"shutline/mesh/meshio"
)

// german sets what told needs to the German texts for a test, whatever the language of the process.
func german(t *testing.T) {
	data, err := assets.Languages.ReadFile("lang/de.json")
	require.NoError(t, err)
	var texts map[string]string
	require.NoError(t, json.Unmarshal(data, &texts))
	english, err := assets.Languages.ReadFile("lang/en.json")
	require.NoError(t, err)
	before, point := toldTexts, decimalPoint
	decimalPoint = func() string { return "," }
	list := sayingsOf(english)
	toldTexts = func() ([]saying, func(s *saying, data map[string]any) string) {
		return list, func(s *saying, data map[string]any) string { return words.Fill(texts[s.key], data) }
	}
	toldBefore = map[string]string{}
	t.Cleanup(func() { toldTexts, decimalPoint, toldBefore = before, point, map[string]string{} })
}

// Sentences as they are made below the window, whole, wrapped in one another and with names before them.
func TestToldInGerman(t *testing.T) {
	german(t)
	for _, c := range []struct{ english, german string }{
		{"scan.stl: line 4: \"0,5\" is not a number: decimals need a point, not a comma; export it again", "scan.stl: Zeile 4: \"0,5\" ist keine Zahl: Dezimalzahlen brauchen einen Punkt, kein Komma; neu ausgeben"},
		{"job.toml: line 5: scan.file: there is no file /a/nowhere.stl; mend the name (it counts from the inspection file's folder)",
			"job.toml: Zeile 5: scan.file: eine Datei /a/nowhere.stl gibt es nicht; den Namen richtigstellen (er zählt vom Ordner der Prüfdatei aus)"},
		{"scan.stl: byte 80: the header says 59,924 triangles, but the file's 1,498,142 bytes hold 29,961; it was cut short: export or copy it again",
			"scan.stl: byte 80: der Kopf sagt 59\u202f924 Dreiecke, aber die 1\u202f498\u202f142 Bytes der Datei enthalten 29\u202f961; sie wurde abgeschnitten: neu ausgeben oder kopieren"},
		{"there is no such file", "diese Datei gibt es nicht"},
		{"scan.stl: line 12: decimals need a point, not a comma: export it again", "scan.stl: Zeile 12: Dezimalzahlen brauchen einen Punkt, kein Komma: neu ausgeben"},
		{"/a b/wing.stl: cannot be opened: there is no such file; check the path; it is taken relative to where it is written",
			"/a b/wing.stl: lässt sich nicht öffnen: diese Datei gibt es nicht; den Pfad prüfen; er gilt von dort aus, wo er geschrieben steht"},
		{"Points lie 1.2 mm apart; a face zone 10.0 mm wide (face) in a band of ±8 mm (band) needs them within 0.80 mm of one another. Scan finer, or give a wider zone (face) or band (band).", "Punkte liegen 1,2 mm auseinander; eine 10,0 mm breite Flächenzone (face) in einem Band von ±8 mm (band) braucht sie höchstens 0,80 mm voneinander. Feiner scannen, oder eine breitere Zone (face) oder ein breiteres Band (band) geben."},
		{"Side B has no surface beside the gap. Scan that panel, or end the path where it ends.", "Seite B hat neben dem Spalt keine Fläche. Dieses Teil scannen, oder den Verlauf enden lassen, wo es endet."},
		{"Kein Spaltmaß, Messstelle 3: ein Teil fehlt dort im Scan. Side B has no surface beside the gap.", "Kein Spaltmaß, Messstelle 3: ein Teil fehlt dort im Scan. Seite B hat neben dem Spalt keine Fläche."},
		{"The gap lies more than 12 mm aside of the path.", "Der Spalt liegt mehr als 12 mm neben dem Verlauf."},
		{"job.toml: cannot be written: no space left on device. Nothing is lost: the job stays on the bench, and the file is as it was. Make room or change its permissions and save again, or save elsewhere",
			"job.toml: kein Platz"},
		{"4 of 12 stations have no number, more than a tenth: the seam is undecided at best.", "4 von 12 Messstellen haben keine Zahl, mehr als ein Zehntel: die Fuge ist bestenfalls unentschieden."},
		{"The surface does not hold the scan against sliding along x: its position that way is free.", "Die Fläche hält den Scan nicht gegen Gleiten längs x: seine Lage in dieser Richtung ist frei."},
		// What is not known stays as it is.
		{"wing to door", "wing to door"},
		{"a sentence that nobody wrote, 1.5 mm long", "a sentence that nobody wrote, 1.5 mm long"},
	} {
		if c.german == "job.toml: kein Platz" {
			require.Contains(t, told(strings.Replace(c.english, "job.toml: cannot", "job.toml cannot", 1)), "job.toml lässt sich nicht schreiben: kein Platz mehr auf dem Datenträger. Nichts ist verloren")
			continue
		}
		require.Equal(t, c.german, told(c.english))
	}
}

// Every sentence with its fields filled in is known again as itself, and none is taken for a longer one.
func TestEverySayingIsKnownAgain(t *testing.T) {
	german(t)
	list, _ := toldTexts()
	require.Greater(t, len(list), 500)
	for _, s := range list {
		data := map[string]any{}
		for k, f := range s.fields {
			if f != "" {
				data[f] = fmt.Sprintf("%d.5", 10+k)
			}
		}
		english := words.Fill(s.text, data)
		if strings.HasPrefix(s.text, " ") || strings.HasPrefix(s.text, ";") || strings.HasPrefix(s.text, ",") {
			english = "wing" + english
		}
		if strings.HasSuffix(s.text, " ") {
			english += "wing"
		}
		if !strings.ContainsAny(sayingField.ReplaceAllString(s.text, ""), "abcdefghijklmnopqrstuvwxyz") {
			continue
		}
		said := told(english)
		for f, v := range data {
			require.Contains(t, said, strings.ReplaceAll(v.(string), ".", ","), "field %s of %q: %q", f, s.text, said)
		}
		_, whole := tellWhole(english, 0)
		require.True(t, whole, "%q", english)
	}
}

// What a reader refuses is said in the window's language, the file's name left as it is.
func TestReadersErrorsAreTold(t *testing.T) {
	german(t)
	_, err := meshio.Read(t.Context(), t.TempDir()+"/no such.stl", meshio.Options{})
	var open *meshio.OpenError
	require.True(t, errors.As(err, &open))
	require.Contains(t, sentenceOf(err), "/no such.stl: lässt sich nicht öffnen: diese Datei gibt es nicht; den Pfad prüfen")
}

// BenchmarkTold says what was said already, which is what most paragraphs of a card are.
func BenchmarkTold(b *testing.B) {
	data, _ := assets.Languages.ReadFile("lang/en.json")
	list := sayingsOf(data)
	before := toldTexts
	toldTexts = func() ([]saying, func(s *saying, data map[string]any) string) {
		return list, func(s *saying, data map[string]any) string { return s.text }
	}
	defer func() { toldTexts = before }()
	for b.Loop() {
		told("Die Messstellen 4 bis 9 haben kein Spaltmaß: der Scan reicht nicht um eine Kante, also ist nur die Bündigkeit bekannt.")
	}
}
