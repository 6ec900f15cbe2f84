package main

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"shutline/app"
	"shutline/mesh/meshio"
)

// option is an option of a command; value names what follows it, "" for a switch.
type option struct{ name, value string }

var (
	everywhere = []option{{"help", ""}, {"version", ""}}
	commands   = map[string][]option{
		"":        {},
		"inspect": {{"out", "DIR"}, {"json", ""}, {"threads", "N"}, {"replace", ""}},
		"compare": {{"out", "DIR"}, {"limit", "MM"}, {"json", ""}, {"threads", "N"}, {"replace", ""}},
		"info":    {{"units", "UNIT"}, {"json", ""}, {"threads", "N"}},
		"seams":   {{"units", "UNIT"}, {"json", ""}, {"threads", "N"}, {"drawing", ""}},
		"demo":    {{"out", "DIR"}, {"json", ""}, {"threads", "N"}, {"replace", ""}, {"size", "N"}, {"seed", "N"}, {"scans", ""}},
		"join":    {{"out", "MESH"}, {"reference", "MESH"}, {"markers", "FILE"}, {"units", "UNIT"}, {"json", ""}, {"threads", "N"}, {"replace", ""}},
	}
	commandNames = []string{"inspect", "compare", "info", "seams", "demo", "join"}
)

// arguments are a parsed command line.
type arguments struct {
	command string
	files   []string
	set     map[string]bool
	values  map[string]string
}

// parse reads a command line. Options may stand anywhere, before the command
// too; "--" ends them. The error is an [app.UsageError].
func parse(args []string) (*arguments, error) {
	a := &arguments{set: map[string]bool{}, values: map[string]string{}}
	if len(args) > 0 && args[0] == "help" { // as people type it
		args = append(append([]string{}, args[1:]...), "--help")
	}
	a.command = commandOf(args)
	if a.command != "" && commands[a.command] == nil {
		if near, alike := closest(a.command, commandNames); alike >= 0.4 {
			return nil, usage("there is no command %q; did you mean %q? `shutcheck --help` lists them", a.command, near)
		}
		return nil, usage("there is no command %q; there are %s. `shutcheck --help` says what each does", a.command, strings.Join(commandNames, ", "))
	}
	known := append(append([]option{}, commands[a.command]...), everywhere...)
	seenCommand := false
	for k := 0; k < len(args); k++ {
		arg := args[k]
		switch {
		case arg == "--":
			a.files = append(a.files, args[k+1:]...)
			return a, nil
		case len(arg) > 1 && arg[0] == '-':
			took, err := a.option(arg, args[k+1:], known)
			if err != nil {
				return nil, err
			}
			k += took
		case !seenCommand && arg == a.command:
			seenCommand = true
		default:
			a.files = append(a.files, arg)
		}
	}
	return a, nil
}

// commandOf returns the first word that is no option and no option's value.
func commandOf(args []string) string {
	for k := 0; k < len(args); k++ {
		arg := args[k]
		if arg == "--" {
			return ""
		}
		if len(arg) < 2 || arg[0] != '-' {
			return arg
		}
		if name := strings.TrimLeft(arg, "-"); !strings.Contains(name, "=") && takesValue(name) {
			k++
		}
	}
	return ""
}

func takesValue(name string) bool {
	for _, c := range commandNames {
		for _, o := range commands[c] {
			if o.name == name && o.value != "" {
				return true
			}
		}
	}
	return false
}

// option notes one option and returns how many further words it took.
func (a *arguments) option(arg string, rest []string, known []option) (int, error) {
	name, value, inline := strings.Cut(strings.TrimPrefix(strings.TrimPrefix(arg, "-"), "-"), "=")
	if name == "h" {
		name = "help"
	}
	var names []string
	for _, o := range known {
		names = append(names, "--"+o.name)
		if o.name != name {
			continue
		}
		if a.set[name] {
			return 0, usage("--%s is given twice; give it once", name)
		}
		a.set[name] = true
		switch {
		case o.value == "" && inline:
			return 0, usage("--%s takes no value", name)
		case o.value == "":
			return 0, nil
		case inline:
			a.values[name] = value
		case len(rest) == 0 || rest[0] == "--":
			return 0, usage("--%s needs a value: --%s %s", name, name, o.value)
		default:
			a.values[name] = rest[0]
			if strings.HasPrefix(rest[0], "--") {
				return 0, usage("--%s needs a value before %s: --%s %s", name, rest[0], name, o.value)
			}
			return 1, a.notEmpty(name, o)
		}
		return 0, a.notEmpty(name, o)
	}
	of := "shutcheck"
	if a.command != "" {
		of = a.command
	}
	if near, alike := closest("--"+name, names); alike >= 0.5 {
		return 0, usage("%s has no option %s; the nearest one is %s", of, arg, near)
	}
	return 0, usage("%s has no option %s; it has %s. What is measured, against which reference and tolerance, stands in an inspection file: shutcheck inspect FILE.toml", of, arg, strings.Join(names, ", "))
}

func (a *arguments) notEmpty(name string, o option) error {
	if a.values[name] == "" {
		return usage("--%s needs a value: --%s %s", name, name, o.value)
	}
	return nil
}

// whole returns an option's whole number within lo to hi.
func (a *arguments) whole(name string, byDefault, lo, hi int) (int, error) {
	s, given := a.values[name]
	if !given {
		return byDefault, nil
	}
	n, err := strconv.Atoi(s)
	if err != nil || n < lo || n > hi {
		return 0, usage("--%s must be a whole number from %d to %d, not %q", name, lo, hi, s)
	}
	return n, nil
}

// mostThreads is more than any machine this runs on has.
const mostThreads = 4096

func (a *arguments) threads() (int, error) { return a.whole("threads", 0, 1, mostThreads) }

// units is the unit that the numbers of a mesh file are said to be in, none where nothing is said.
func (a *arguments) units() (meshio.Unit, error) {
	unit := meshio.Unit(a.values["units"])
	if a.set["units"] && !slices.Contains(meshio.Units(), unit) {
		return "", usage("--units is %q; write mm, cm, m or in", a.values["units"])
	}
	return unit, nil
}

func usage(format string, args ...any) error {
	return &app.UsageError{Problem: fmt.Sprintf(format, args...)}
}

// closest returns the word that shares the most pairs of letters with the given one (Dice 1945), and how much of
// both is shared, 0 to 1 for words that differ in length little.
func closest(word string, words []string) (best string, most float64) {
	most = -1
	for _, w := range words {
		shared := 0
		for k := 0; k+1 < len(w); k++ {
			if strings.Contains(word, w[k:k+2]) {
				shared++
			}
		}
		if s := 2 * float64(shared) / float64(len(w)+len(word)); s > most {
			best, most = w, s
		}
	}
	return best, most
}
