package main

import (
	"bytes"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"lyefast/internal/testkit"
)

// shown is a command in the README and the block behind it that shows its output.
var shown = regexp.MustCompile("(?ms)^<!-- run: (lyefast [^\\n]+) -->\\n```\\n(.*?)```\\n")

// The README shows real output: each block is what its command prints, to standard
// output and standard error, with an empty home. "go test ./cmd/lyefast -run Readme
// -update" writes it anew.
func TestReadmeShowsRealOutput(t *testing.T) {
	const path = "../../README.md"
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	home := t.TempDir()
	for _, kv := range []string{"HOME", "XDG_DATA_HOME", "XDG_CONFIG_HOME"} {
		t.Setenv(kv, home)
	}
	t.Setenv("LYEFAST_BOOK", filepath.Join(home, "book.db"))
	t.Setenv("NO_COLOR", "1")
	t.Setenv("LC_ALL", "C.UTF-8")
	t.Chdir("../..")
	now, zone := clock, time.Local
	clock, time.Local = func() time.Time { return dawn }, time.UTC
	t.Cleanup(func() { clock, time.Local = now, zone })
	n := 0
	fresh := shown.ReplaceAllFunc(text, func(block []byte) []byte {
		n++
		command := string(shown.FindSubmatch(block)[1])
		var out bytes.Buffer
		run(words(strings.TrimPrefix(command, "lyefast ")), strings.NewReader(""), &out, &out)
		return []byte("<!-- run: " + command + " -->\n```\n" + out.String() + "```\n")
	})
	if n < 5 {
		t.Fatalf("only %d commands found in the README", n)
	}
	if testkit.Updating() {
		if err := os.WriteFile("README.md", fresh, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if !bytes.Equal(text, fresh) {
		t.Error("the README shows other output than the program gives; run: go test ./cmd/lyefast -run Readme -update")
	}
}
