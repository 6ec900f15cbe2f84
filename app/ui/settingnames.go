package ui

import (
	"strings"

	"fyne.io/fyne/v2/lang"
)

// What is said below the window names the keys of the inspection file, as the headless command's reader writes them. In the
// window the settings are named that stand for them.

// settingOfKey are the keys that sentences name in brackets, with the settings, or the command, that stand for them.
func settingOfKey() map[string]string {
	return map[string]string{
		"(face)":   tr("set.face", "Face zone, mm"),
		"(band)":   tr("set.band", "Band along, mm"),
		"(window)": tr("set.window", "Window across, mm"),
		"(radius)": tr("set.radius", "Hem radii A, B, mm"),
		"(every)":  tr("set.every", "Station every, mm"),
		"(path)":   tr("bar.path", "Move the path"),
	}
}

// namesKey reports whether an English text names a key in brackets.
func namesKey(english string) bool {
	for key := range settingOfKey() {
		if strings.Contains(english, key) {
			return true
		}
	}
	return false
}

// namedAsSettings names settings where a text has keys in brackets.
func namedAsSettings(s string) string {
	for key, setting := range settingOfKey() {
		s = strings.ReplaceAll(s, key, strings.Replace(tr("set.named", "(“#”)"), "#", strings.TrimSuffix(setting, ", mm"), 1))
	}
	return s
}

// toldInWindow words a saying that gives advice in keys of the file, for a reader of the window; ok is false for any other.
func toldInWindow(english string, data map[string]any) (s string, ok bool) {
	say := func(key, fallback string, data map[string]any) string { return lang.X(key, fallback, data) }
	switch english {
	case "Bring the points of the path to the middle of the gap (path), or write two of them and trace = true.":
		return say("window.centre", "Bring the points of the path to the middle of the gap (“Move the path”), or draw the seam anew (“New seam”): between two clicks it is traced.", nil), true
	case "its points run to and fro: of {{.A}} mm from point to point, only {{.B}} mm go along the seam, so that lengths along it and the taper would mean nothing; write fewer points, in order along the middle of the gap, or two of them and trace = true":
		return say("window.toandfro", "its points run to and fro: of {{.A}} mm from point to point, only {{.B}} mm go along the seam, so that lengths along it and the taper would mean nothing; draw it anew (“New seam”), between two clicks it is traced", data), true
	case "The path runs to and fro: of its {{.A}} mm, {{.B}} mm are not along the gap. Lengths along it, the spacing of stations and the taper are out by as much. Write fewer points, in order along the middle of the gap (path).":
		return say("window.wander", "The path runs to and fro: of its {{.A}} mm, {{.B}} mm are not along the gap. Lengths along it, the spacing of stations and the taper are out by as much. Take points out of it (“Move the path”), or draw the seam anew (“New seam”).", data), true
	case "the gap is hidden there; write more points along it, or the whole path and leave trace out":
		return say("window.hidden", "the gap is hidden there; click more points along it", nil), true
	case "neither point lies within {{.A}} mm of a shut line; put both on the same gap, or write the whole path and leave trace out":
		return say("window.neither", "neither point lies within {{.A}} mm of a shut line; click both on the same gap, or click more points along it", data), true
	case "no shut line was found on the {{.A}}, in its shape of {{.B}} faces{{.C}}; write the path of each seam, or two of its points and trace = true":
		return say("window.nofound", "no shut line was found on the {{.A}}, in its shape of {{.B}} faces{{.C}}; draw each seam (“New seam”)", data), true
	case "{{.A}} mm of path cut every {{.B}} mm make more than {{.C}} stations; write a larger every, or mend the path":
		return say("window.stations", "{{.A}} mm of path cut every {{.B}} mm make more than {{.C}} stations; give a larger distance (“Station every”), or mend the path", data), true
	case "; it is of the other side of the vehicle, so set mirror in [reference]":
		return say("window.mirror", "; it is of the other side of the vehicle: choose the plane under “Mirrored in” in the settings of Parts", nil), true
	case "the pairs fit a mirror image of the scan: mirrored they are left {{.A}} mm apart (RMS), as they are {{.B}} mm; the reference's points may be on the other side of the vehicle: name those of this side, or set mirror in [reference]: {{.C}}":
		return say("window.mirror.pairs", "the pairs fit a mirror image of the scan: mirrored they are left {{.A}} mm apart (RMS), as they are {{.B}} mm; the reference's points may be on the other side of the vehicle: pick those of this side, or choose “Mirrored in” in the settings of Parts: {{.C}}", data), true
	}
	return "", false
}
