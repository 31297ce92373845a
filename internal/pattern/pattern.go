// Package pattern holds regular expressions that are compiled when first used.
// A command lives for milliseconds and uses few of them; compiling them all while
// the program starts would cost more than most commands.
package pattern

import (
	"regexp"
	"sync"
)

// Lazy is a regular expression that is compiled on first use. It is safe for use
// by several goroutines.
type Lazy struct{ get func() *regexp.Regexp }

// New gives a lazy expression. A faulty one panics when first used, as
// [regexp.MustCompile] does: expressions are constants of the program.
func New(expr string) *Lazy {
	return &Lazy{sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(expr) })}
}

// MatchString is [regexp.Regexp.MatchString].
func (l *Lazy) MatchString(s string) bool { return l.get().MatchString(s) }

// FindStringSubmatch is [regexp.Regexp.FindStringSubmatch].
func (l *Lazy) FindStringSubmatch(s string) []string { return l.get().FindStringSubmatch(s) }

// FindAllStringSubmatch is [regexp.Regexp.FindAllStringSubmatch].
func (l *Lazy) FindAllStringSubmatch(s string, n int) [][]string {
	return l.get().FindAllStringSubmatch(s, n)
}

// ReplaceAllString is [regexp.Regexp.ReplaceAllString].
func (l *Lazy) ReplaceAllString(s, repl string) string { return l.get().ReplaceAllString(s, repl) }

// FindSubmatch is [regexp.Regexp.FindSubmatch].
func (l *Lazy) FindSubmatch(b []byte) [][]byte { return l.get().FindSubmatch(b) }

// Find is [regexp.Regexp.Find].
func (l *Lazy) Find(b []byte) []byte { return l.get().Find(b) }
