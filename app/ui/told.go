package ui

import (
	"encoding/json"
	"regexp"
	"slices"
	"strings"
	"sync"
	"unicode"
	"unicode/utf8"

	"fyne.io/fyne/v2/lang"

	"shutline/assets"
)

// What goes wrong or is to be noted below the window is said in English there, since the headless command says it too. The
// window says it in the user's language: texts under keys that begin with toldKey are those sentences with fields for what
// is filled in. A sentence is known again by them, whole or piece by piece; what is not known stays English.

// toldKey begins the keys of texts that are made below the window; the English text follows.
const toldKey = "told."

// saying is an English sentence, or a piece of one, with fields.
type saying struct {
	key, text string
	anchor    string // its longest piece between fields: what does not hold it is another one
	letters   int    // outside fields
	pattern   *regexp.Regexp
	fields    []string // of each group; "" what stands before or after a piece
}

var sayingField = regexp.MustCompile(`\{\{\.(\w+)\}\}`)

func newSaying(text string) saying {
	s := saying{key: toldKey + text, text: text}
	b, at := strings.Builder{}, 0
	b.WriteString(`(?s)^`)
	literal := func(l string) {
		if len(l) > len(s.anchor) {
			s.anchor = l
		}
		s.letters += len(l)
		b.WriteString(regexp.QuoteMeta(l))
	}
	if strings.ContainsAny(text[:1], " ,;") { // it follows something
		b.WriteString(`(.+?)`)
		s.fields = append(s.fields, "")
	}
	for _, m := range sayingField.FindAllStringSubmatchIndex(text, -1) {
		literal(text[at:m[0]])
		if m[1] == len(text) { // a hint, which may be missing
			b.WriteString(`(.*)`)
		} else {
			b.WriteString(`(.+?)`)
		}
		s.fields = append(s.fields, text[m[2]:m[3]])
		at = m[1]
	}
	literal(text[at:])
	if strings.HasSuffix(text, " ") { // something follows
		b.WriteString(`(.+)`)
		s.fields = append(s.fields, "")
	}
	b.WriteString(`$`)
	s.pattern = regexp.MustCompile(b.String())
	return s
}

// toldTexts returns all sayings, those with most letters first, and what says one in the user's language; where that is
// English, only those the window words in its own way.
var toldTexts = sync.OnceValues(func() ([]saying, func(s *saying, data map[string]any) string) {
	english, err := assets.Languages.ReadFile("lang/en.json")
	if err != nil {
		return nil, nil
	}
	list := sayingsOf(english)
	if decimalPoint() == "." {
		list = slices.DeleteFunc(list, func(x saying) bool {
			_, own := toldInWindow(x.text, map[string]any{})
			return !own && !namesKey(x.text)
		})
	}
	return list, wordedInWindow
})

// wordedInWindow says a saying in the user's language, as the window says it.
func wordedInWindow(s *saying, data map[string]any) string {
	if said, own := toldInWindow(s.text, data); own {
		return said
	}
	said := lang.X(s.key, s.text, data)
	if namesKey(s.text) {
		said = namedAsSettings(said)
	}
	return said
}

func sayingsOf(english []byte) []saying {
	var texts map[string]string
	if json.Unmarshal(english, &texts) != nil {
		return nil
	}
	var list []saying
	for key, text := range texts {
		if strings.HasPrefix(key, toldKey) && text != "" {
			list = append(list, newSaying(text))
		}
	}
	slices.SortFunc(list, func(a, b saying) int {
		if a.letters != b.letters {
			return b.letters - a.letters
		}
		return strings.Compare(a.text, b.text)
	})
	return list
}

// toldBefore remembers, since cards are made again with every step; it is forgotten when there are mostTold.
var (
	toldBefore = map[string]string{}
	toldGuard  sync.Mutex
)

const (
	mostTold = 5000
	// deepestTold bounds how often a piece is looked for in a piece.
	deepestTold = 8
	// fewWords may be English without any of the words that nearly every sentence has.
	fewWords = 5
)

// told says in the user's language what was said in English below the window.
func told(s string) string {
	if list, _ := toldTexts(); len(list) == 0 || s == "" {
		return s
	}
	if strings.Count(s, " ") >= fewWords && !englishWord.MatchString(s) {
		return s // said in the user's language already
	}
	toldGuard.Lock()
	defer toldGuard.Unlock()
	if known, ok := toldBefore[s]; ok {
		return known
	}
	out, _ := tell(s, 0)
	if len(toldBefore) >= mostTold {
		toldBefore = map[string]string{}
	}
	toldBefore[s] = out
	return out
}

// tell is told; ok is false where nothing of the text is known.
func tell(s string, depth int) (string, bool) {
	if out, ok := tellWhole(s, depth); ok {
		return out, true
	}
	if depth >= deepestTold || depth == 0 && !englishWord.MatchString(s) {
		return s, false
	}
	// Pieces: what is known of the end first, since names of files and places stand before what is said of them.
	cuts := toldCuts.FindAllStringIndex(s, -1)
	for _, c := range cuts {
		if out, ok := tellWhole(s[c[1]:], depth+1); ok {
			return tellBefore(s, c[0], depth+1) + s[c[0]:c[1]] + out, true
		}
	}
	for _, c := range slices.Backward(cuts) {
		if out, ok := tellWhole(s[:c[0]], depth+1); ok {
			after, _ := tell(s[c[1]:], depth+1)
			return out + s[c[0]:c[1]] + after, true
		}
	}
	return s, false
}

// tellBefore says what stands before a cut; a sentence there is known with its full stop, too.
func tellBefore(s string, cut, depth int) string {
	before, ok := tell(s[:cut], depth)
	if !ok && s[cut] == '.' {
		if whole, ok := tellWhole(s[:cut+1], depth); ok {
			return strings.TrimSuffix(whole, ".")
		}
	}
	return before
}

// englishWord is in nearly every English sentence: what has none is not looked through piece by piece, as what is said already is not.
var englishWord = regexp.MustCompile(`\b(the|is|of|it|to|has|have|no|not|with|and|by|there|lie|lies|a|than|that|one|which|at|this|too|write|only|more|every|name|leave|its|or|from|each|within|beside|must|where|are|be|about|along|through|between|out|off|can|cannot|stands|but|them|need|needed|as|for)\b`)

// thousands is a count as English writes it; its commas would be read as decimal points elsewhere.
var thousands = regexp.MustCompile(`^\d{1,3}(,\d{3})+$`)

// toldCuts stand between pieces.
var toldCuts = regexp.MustCompile(`[:;,.] |\n`)

// tellWhole says a text that is one saying, with or without a capital and a full stop.
func tellWhole(s string, depth int) (string, bool) {
	if out, ok := tellAs(s, depth); ok {
		return out, true
	}
	if bare, ok := strings.CutSuffix(s, "."); ok {
		if out, ok := tellWhole(bare, depth); ok {
			return strings.TrimSuffix(out, ".") + ".", true
		}
	}
	first, size := utf8.DecodeRuneInString(s)
	if unicode.IsUpper(first) {
		if out, ok := tellAs(string(unicode.ToLower(first))+s[size:], depth); ok {
			return upperFirst(out), true
		}
	} else if out, ok := tellAs(upperFirst(s), depth); ok { // a sentence after a colon
		if english := decimalPoint() == "."; english {
			out = string(first) + out[size:]
		}
		return out, true
	}
	return s, false
}

func upperFirst(s string) string {
	first, size := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(first)) + s[size:]
}

func tellAs(s string, depth int) (string, bool) {
	if depth > deepestTold {
		return s, false
	}
	list, worded := toldTexts()
	for i := range list {
		x := &list[i]
		if !strings.Contains(s, x.anchor) {
			continue
		}
		m := x.pattern.FindStringSubmatch(s)
		if m == nil {
			continue
		}
		data, before, after := map[string]any{}, "", ""
		for k, name := range x.fields {
			part := m[k+1]
			switch {
			case thousands.MatchString(part):
				part = strings.ReplaceAll(part, ",", "\u202f")
			case onlyFigures(part):
				part = figures(part)
			case part != "":
				part, _ = tell(part, depth+1)
			}
			switch {
			case name != "":
				data[name] = part
			case k == 0 && strings.ContainsAny(x.text[:1], " ,;"):
				before = part
			default:
				after = part
			}
		}
		return before + worded(x, data) + after, true
	}
	return s, false
}

var _ = aroundTold // its texts are gathered from the source

// aroundTold are words around sayings that are too short to be gathered from the source, and what the system says of files.
func aroundTold() []string {
	return []string{
		tr("told.line {{.A}}", "line {{.A}}"),
		tr("told.key {{.A}}", "key {{.A}}"),
		tr("told.seam {{.A}}", "seam {{.A}}"),
		tr("told.closure {{.A}}", "closure {{.A}}"),
		tr("told.temperature", "temperature"),
		tr("told.nothing", "nothing"),
		tr("told.outside", "outside"),
		tr("told.inside", "inside"),
		tr("told.one", "one"),
		tr("told.this machine", "this machine"),
		tr("told.the memory limit of this session or container", "the memory limit of this session or container"),
		tr("told.no space left on device", "no space left on device"),
		tr("told.permission denied", "permission denied"),
		tr("told.read-only file system", "read-only file system"),
		tr("told.no such file or directory", "no such file or directory"),
		tr("told.is a directory", "is a directory"),
		tr("told.not a directory", "not a directory"),
		tr("told.file name too long", "file name too long"),
		tr("told.input/output error", "input/output error"),
		tr("told.too many open files", "too many open files"),
		tr("told.file too large", "file too large"),
		tr("told.open {{.A}}", "open {{.A}}"),
		tr("told.write {{.A}}", "write {{.A}}"),
	}
}
