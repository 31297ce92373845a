//go:build unix

package main

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"lyefast/internal/app"
	"lyefast/internal/testkit"
)

// The clickable log in a real browser, opened as a file: two presses, a temperature,
// save; the saved file is then imported. The title would break out of the page if it
// were not escaped.
func TestPotLogInABrowser(t *testing.T) {
	browser := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome", "chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			browser = path
			break
		}
	}
	if browser == "" {
		testkit.Need(t, "no Chromium is installed")
	}
	lyefast, err := built()
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	plan, err := os.ReadFile("../../testdata/plans/harbour-dawn.toml")
	if err != nil {
		t.Fatal(err)
	}
	const title = `Harbour </script><script>document.title="broken"</script> Dawn`
	file := filepath.Join(dir, "harbour.toml")
	if err := os.WriteFile(file, []byte(strings.Replace(string(plan), `"Harbour Dawn"`, `'`+title+`'`, 1)), 0o644); err != nil {
		t.Fatal(err)
	}
	run := func(args ...string) string {
		cmd := exec.Command(lyefast, args...)
		cmd.Env = append(os.Environ(), "LYEFAST_BOOK="+filepath.Join(dir, "book.db"), "TZ=UTC")
		out, err := cmd.CombinedOutput()
		if err != nil {
			t.Fatalf("%v: %v\n%s", args, err, out)
		}
		return string(out)
	}
	page := filepath.Join(dir, "pot.html")
	run("batch", "potlog", file, "--html", page)

	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(browser), chromedp.NoSandbox)
	ctx, stop := chromedp.NewExecAllocator(context.Background(), options...)
	defer stop()
	ctx, stop = chromedp.NewContext(ctx)
	defer stop()
	do := func(a chromedp.Action[chromedp.Void]) {
		t.Helper()
		if _, err := chromedp.Run(ctx, a); err != nil {
			t.Fatal(err)
		}
	}
	do(chromedp.Navigate("file://" + page))
	ctx, stop = context.WithTimeout(ctx, time.Minute)
	defer stop()
	head, err := chromedp.Run(ctx, chromedp.Title())
	if err != nil {
		t.Fatal(err)
	}
	do(chromedp.Evaluate[chromedp.Void](`window.saved = ""; URL.createObjectURL = b => { b.text().then(t => { window.saved = t }); return "#" }; 0`))
	do(chromedp.Click(`button[data-batter="slab"][data-kind="fragrance in"]`))
	do(chromedp.Click(`button[data-batter="slab"][data-kind="ricing"]`))
	do(chromedp.SendKeys(`#list li:first-child input[aria-label^="°C"]`, "33"))
	do(chromedp.Click("#save"))
	saved, err := chromedp.Run(ctx, chromedp.Poll[string]("window.saved"))
	if err != nil {
		t.Fatal(err)
	}
	if !strings.HasPrefix(head, title) {
		t.Errorf("the title is %q", head)
	}
	log := filepath.Join(dir, "pot-log.json")
	if err := os.WriteFile(log, []byte(saved), 0o644); err != nil {
		t.Fatal(err)
	}
	run("batch", "pour", file, "--code", "HD-01")
	var r app.LogImported
	ask(t, filepath.Join(dir, "book.db"), &r, "batch", "import-log", log, "--batch", "HD-01")
	if len(r.Added) != 2 || r.Added[0].Kind != "fragrance in" || r.Added[0].Value == nil || *r.Added[0].Value != 33 || r.Added[1].Kind != "ricing" || !r.Added[0].Clock {
		t.Errorf("of %s the book has %+v", saved, r.Added)
	}
}
