package tongue

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestALanguageIsChosenOnlyWhereThereIsNone(t *testing.T) {
	for _, c := range []struct {
		env  map[string]string
		want string
	}{
		{map[string]string{"LANG": "C.UTF-8"}, "en"},
		{map[string]string{"LANG": "de_DE.UTF-8", "LC_ALL": "C.UTF-8"}, "en"},
		{map[string]string{"LANG": "POSIX.UTF-8"}, "en"},
		{map[string]string{"LANG": "C.UTF-8", "LC_ALL": "de_DE.UTF-8"}, ""},
		{map[string]string{"LANG": "C.UTF-8", "LANGUAGE": "fr"}, "fr"},
		{map[string]string{"LANG": "en_GB.UTF-8"}, ""},
		{map[string]string{}, ""},
	} {
		choose(func(k string) string { return c.env[k] }, func(k, v string) error { c.env[k] = v; return nil })
		require.Equal(t, c.want, c.env["LANGUAGE"], "%v", c.env)
	}
}
