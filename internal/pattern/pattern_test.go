package pattern

import (
	"regexp"
	"testing"
)

func TestLazyIsTheExpression(t *testing.T) {
	const expr = `(\d+) ?(g|kg)`
	l, re := New(expr), regexp.MustCompile(expr)
	for _, s := range []string{"", "10 g and 2kg", "no mass"} {
		if l.MatchString(s) != re.MatchString(s) || string(l.Find([]byte(s))) != string(re.Find([]byte(s))) || l.ReplaceAllString(s, "$1") != re.ReplaceAllString(s, "$1") {
			t.Errorf("%q: the lazy expression differs", s)
		}
	}
}

func TestNothingIsCompiledBeforeUse(t *testing.T) {
	l := New(`(`) // would panic if it were compiled here
	defer func() {
		if recover() == nil {
			t.Error("a faulty expression passed")
		}
	}()
	l.MatchString("x")
}
