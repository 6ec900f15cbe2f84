// Package tongue gives the toolkit a language where the system names none. The
// toolkit looks for it while it is initialised, before main, and complains on
// standard error about the locale C.UTF-8, which containers and services run in.
//
// It works because packages are initialised in the order of their import paths
// as soon as all they import is (Go specification, package initialization): this
// one needs os alone, while the toolkit's package of languages needs text/template,
// which comes after it. A test holds it to that.
package tongue

import (
	"os"
	"strings"
)

var _ = choose(os.Getenv, os.Setenv)

// choose sets LANGUAGE, which only texts follow, where the locale is C or POSIX
// with a character set and no language is chosen.
func choose(get func(string) string, set func(string, string) error) bool {
	if get("LANGUAGE") != "" {
		return false
	}
	for _, name := range []string{"LC_ALL", "LC_MESSAGES", "LANG"} {
		locale := get(name)
		if locale == "" {
			continue
		}
		base, _, _ := strings.Cut(locale, ".")
		return (base == "C" || base == "POSIX") && set("LANGUAGE", "en") == nil
	}
	return false
}
