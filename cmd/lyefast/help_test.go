package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/spf13/cobra"

	"lyefast/internal/term"
)

// walk calls f for every command of the program that is ours.
func walk(cmd *cobra.Command, f func(*cobra.Command)) {
	f(cmd)
	for _, sub := range cmd.Commands() {
		if sub.Name() != "help" && sub.Name() != "completion" && !sub.Hidden {
			walk(sub, f)
		}
	}
}

func tree() *cobra.Command {
	var out bytes.Buffer
	return newRoot(&program{in: &out, out: term.New(&out, nil), err: term.New(&out, nil)})
}

// exampleLines are a command's examples as they would be typed.
func exampleLines(cmd *cobra.Command) []string {
	var lines []string
	for line := range strings.Lines(cmd.Example) {
		if line = strings.TrimSpace(line); line != "" {
			lines = append(lines, line)
		}
	}
	return lines
}

// words parts a line as a shell would: blanks, and quotes of both kinds. What
// follows "<" is dropped.
func words(line string) (list []string) {
	var b strings.Builder
	var quote rune
	open := false
	for _, r := range line {
		switch {
		case quote != 0 && r == quote:
			quote = 0
		case quote != 0:
			b.WriteRune(r)
		case r == '"' || r == '\'':
			quote, open = r, true
		case r == ' ':
			if open || b.Len() > 0 {
				list = append(list, b.String())
			}
			b.Reset()
			open = false
		case r == '<' || r == '|' || r == '>':
			return list
		default:
			b.WriteRune(r)
		}
	}
	if open || b.Len() > 0 {
		list = append(list, b.String())
	}
	return list
}

// Every command says in a line what it is for and opens with at least two examples,
// each of which is a call that the program understands.
func TestEveryCommandHasRealExamples(t *testing.T) {
	walk(tree(), func(cmd *cobra.Command) {
		name := cmd.CommandPath()
		if cmd.Short == "" || strings.HasSuffix(cmd.Short, ".") {
			t.Errorf("%s: the short help is %q", name, cmd.Short)
		}
		lines := exampleLines(cmd)
		if len(lines) < 2 {
			t.Errorf("%s has %d examples, want two", name, len(lines))
		}
		for _, line := range lines {
			args := words(line)
			if args[0] != "lyefast" {
				continue // a shell's own command, such as cat, in front of it
			}
			root := tree()
			found, rest, err := root.Find(args[1:])
			if err != nil {
				t.Errorf("%s: %s: %v", name, line, err)
				continue
			}
			if !strings.HasPrefix(found.CommandPath(), name) {
				t.Errorf("%s: its example is one of %s: %s", name, found.CommandPath(), line)
			}
			if err := found.ParseFlags(rest); err != nil {
				t.Errorf("%s: %s: %v", name, line, err)
				continue
			}
			if err := found.ValidateArgs(found.Flags().Args()); err != nil {
				t.Errorf("%s: %s: %v", name, line, err)
			}
		}
	})
}

// The examples of the shelf do what they say, one after the other on one book.
func TestShelfExamplesRun(t *testing.T) {
	t.Setenv("LYEFAST_BOOK", filepath.Join(t.TempDir(), "book.db"))
	t.Setenv("LANG", "C.UTF-8")
	root := tree()
	ran := 0
	for _, noun := range []string{"stabilizer", "oil", "fragrance", "card", "colorant", "colour", "version"} {
		cmd, _, err := root.Find([]string{noun})
		if err != nil {
			t.Fatal(err)
		}
		verbs := map[string]*cobra.Command{}
		for _, sub := range cmd.Commands() {
			verbs[sub.Name()] = sub
		}
		order := []string{"add", "list", "show", "edit", "dose", "read-label", "diff", "convert", "name", "retire"}
		if len(verbs) == 0 {
			order, verbs = []string{noun}, map[string]*cobra.Command{noun: cmd}
		}
		for _, verb := range order {
			if verbs[verb] == nil {
				continue
			}
			for _, line := range exampleLines(verbs[verb]) {
				var stdout, stderr bytes.Buffer
				if status := run(words(line)[1:], strings.NewReader("Mica, CI 77491"), &stdout, &stderr); status != 0 || stdout.Len() == 0 {
					t.Errorf("%s: exit status %d\n%s%s", line, status, stdout.Bytes(), stderr.Bytes())
				}
				ran++
			}
		}
	}
	if ran < 40 {
		t.Errorf("only %d examples were run", ran)
	}
}

func readFile(t *testing.T, path string) []byte {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func writeFile(t *testing.T, path string, data []byte) {
	t.Helper()
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
}

// A damaged book is reported with what to do, by every command and by the check.
func TestDamagedBook(t *testing.T) {
	book := filepath.Join(t.TempDir(), "book.db")
	t.Setenv("LYEFAST_BOOK", book)
	t.Setenv("LANG", "C.UTF-8")
	call := func(args ...string) (int, string) {
		var stdout, stderr bytes.Buffer
		status := run(args, strings.NewReader(""), &stdout, &stderr)
		return status, stdout.String() + stderr.String()
	}
	if status, out := call("fragrance", "add", "Amber Tonka", "--vanillin", "4 %"); status != 0 {
		t.Fatal(out)
	}
	if status, out := call("book", "check"); status != 0 || !strings.Contains(out, "sound: 1 changes") {
		t.Fatalf("exit status %d\n%s", status, out)
	}
	data := readFile(t, book)
	for name, spoiled := range map[string][]byte{
		"cut off": data[:len(data)-4096],
		"smashed": append(append([]byte{}, data[:200]...), bytes.Repeat([]byte("salt "), (len(data)-200)/5)...),
	} {
		writeFile(t, book, spoiled)
		for _, args := range [][]string{{"fragrance", "list"}, {"fragrance", "add", "Sea Fret"}, {"undo"}} {
			status, out := call(args...)
			if status != exitFailure || !strings.Contains(out, "it is damaged") || !strings.Contains(out, "hint: it was left as it is") {
				t.Errorf("%s: %v: exit status %d\n%s", name, args, status, out)
			}
		}
		status, out := call("book", "check")
		if status != exitFailure || !strings.Contains(out, "problem") || !strings.Contains(out, "try") {
			t.Errorf("%s: check: exit status %d\n%s", name, status, out)
		}
		if !bytes.Equal(readFile(t, book), spoiled) {
			t.Errorf("%s: the file was altered", name)
		}
	}
}
