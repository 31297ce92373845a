package web

import (
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"lyefast/internal/app"
)

// dawn is when every test happens.
var dawn = time.Date(2026, 11, 20, 6, 45, 30, 0, time.UTC)

// running is a page on a free port with a book of its own.
type running struct {
	t       *testing.T
	session *app.App
	server  *Server
	base    string // http://127.0.0.1:port
	client  *http.Client
}

// serve starts a page, and a client that was let in unless stranger says not.
func serve(t *testing.T, stranger bool) *running {
	t.Helper()
	session := app.New(filepath.Join(t.TempDir(), "book.db"), func() time.Time { return dawn })
	s, err := Listen(session, 0)
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- s.Serve(ctx) }()
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	r := &running{t: t, session: session, server: s, base: "http://" + s.listener.Addr().String(), client: &http.Client{Jar: jar, Timeout: 30 * time.Second}}
	t.Cleanup(func() {
		r.client.CloseIdleConnections()
		stop()
		if err := <-ended; err != nil {
			t.Error(err)
		}
		if err := session.Close(); err != nil {
			t.Error(err)
		}
	})
	if !stranger {
		if status, _, _ := r.do("GET", s.URL(), nil, nil); status != 200 {
			t.Fatalf("the printed address answers %d", status)
		}
	}
	return r
}

// do asks and gives status, body and headers. A key "Host" changes the request's host.
func (r *running) do(method, address string, body io.Reader, header map[string]string) (int, string, http.Header) {
	r.t.Helper()
	if strings.HasPrefix(address, "/") {
		address = r.base + address
	}
	q, err := http.NewRequestWithContext(r.t.Context(), method, address, body)
	if err != nil {
		r.t.Fatal(err)
	}
	for k, v := range header {
		q.Header.Set(k, v)
		if k == "Host" {
			q.Host = v
		}
	}
	a, err := r.client.Do(q)
	if err != nil {
		r.t.Fatal(err)
	}
	defer a.Body.Close()
	text, err := io.ReadAll(a.Body)
	if err != nil {
		r.t.Fatal(err)
	}
	return a.StatusCode, string(text), a.Header
}

func TestListensOnLoopbackAlone(t *testing.T) {
	r := serve(t, true)
	host, _, err := net.SplitHostPort(r.server.listener.Addr().String())
	if err != nil || !net.ParseIP(host).IsLoopback() {
		t.Errorf("it listens on %s", r.server.listener.Addr())
	}
	_, port, _ := net.SplitHostPort(r.server.listener.Addr().String())
	if _, err := Listen(r.session, atoi(t, port)); err == nil || !strings.Contains(err.Error(), port) {
		t.Errorf("a port that is taken gives %v", err)
	}
	if _, err := Listen(r.session, 70000); err == nil {
		t.Error("port 70000 was taken")
	}
}

func atoi(t *testing.T, s string) (n int) {
	t.Helper()
	if _, err := fmt.Sscan(s, &n); err != nil {
		t.Fatal(err)
	}
	return n
}

// Whoever has neither token nor cookie gets nothing, whatever he asks for.
func TestStrangersAreRefused(t *testing.T) {
	r := serve(t, true)
	for _, p := range []string{"/", "/batches", "/plan", "/shelf", "/static/style.css", "/api/due", "/?token=", "/?token=AAAAAAAAAAAAAAAAAAAAAAAAAA", "/batches?" + strings.SplitN(r.server.URL(), "?", 2)[1]} {
		if status, text, _ := r.do("GET", p, nil, nil); status != http.StatusUnauthorized || strings.Contains(text, "<") {
			t.Errorf("GET %s gives %d %q", p, status, text)
		}
	}
	for _, cookie := range []string{"", "x", r.server.token} {
		name := "lyefast_" + r.base[strings.LastIndex(r.base, ":")+1:]
		if status, _, _ := r.do("GET", "/batches", nil, map[string]string{"Cookie": name + "=" + cookie}); status != http.StatusUnauthorized {
			t.Errorf("the cookie %q gives %d", cookie, status)
		}
	}
	if status, _, _ := r.do("POST", r.server.URL(), nil, nil); status != http.StatusUnauthorized {
		t.Errorf("a posted token gives %d", status)
	}
}

// Two tokens are never the same, and hold more than can be guessed: 26 letters of
// base 32 are 130 bits.
func TestTokensAreFresh(t *testing.T) {
	a, b := serve(t, true), serve(t, true)
	if a.server.token == b.server.token || len(a.server.token) < 26 {
		t.Errorf("tokens %q and %q", a.server.token, b.server.token)
	}
}

func TestTokenIsTradedForACookie(t *testing.T) {
	r := serve(t, true)
	r.client.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	status, _, head := r.do("GET", r.server.URL(), nil, nil)
	cookie := head.Get("Set-Cookie")
	if status != http.StatusSeeOther || head.Get("Location") != "/" {
		t.Errorf("the token is not taken out of the address: %d to %q", status, head.Get("Location"))
	}
	for _, want := range []string{"HttpOnly", "SameSite=Strict", "Path=/"} {
		if !strings.Contains(cookie, want) {
			t.Errorf("the cookie %q lacks %s", cookie, want)
		}
	}
	if strings.Contains(cookie, r.server.token) {
		t.Error("the cookie holds the token of the address")
	}
}

// The attack list: each would be a way into the maker's book from another site or
// another name; each is refused although the browser holds the cookie.
func TestForeignersAreRefused(t *testing.T) {
	r := serve(t, false)
	port := r.base[strings.LastIndex(r.base, ":"):]
	tests := []struct {
		name         string
		method, path string
		header       map[string]string
		want         int
	}{
		{"a name that points here", "GET", "/batches", map[string]string{"Host": "evil.example" + port}, 421},
		{"our name on another port", "GET", "/batches", map[string]string{"Host": "127.0.0.1:1"}, 421},
		{"our name without its port", "GET", "/batches", map[string]string{"Host": "localhost"}, 421},
		{"a name that begins like ours", "GET", "/batches", map[string]string{"Host": "localhost.evil.example" + port}, 421},
		{"another loopback address", "GET", "/batches", map[string]string{"Host": "127.0.0.2" + port}, 421},
		{"a foreign origin", "POST", "/api/plan/check", map[string]string{"Origin": "http://evil.example"}, 403},
		{"a foreign origin that reads", "GET", "/api/due", map[string]string{"Origin": "http://evil.example"}, 403},
		{"another port's origin", "POST", "/api/plan/check", map[string]string{"Origin": "http://127.0.0.1:1"}, 403},
		{"our origin by another scheme", "POST", "/api/plan/check", map[string]string{"Origin": "https://127.0.0.1" + port}, 403},
		{"no origin to tell", "POST", "/api/plan/check", map[string]string{"Origin": "null"}, 403},
		{"no origin, sent by another site", "POST", "/api/plan/check", map[string]string{"Origin": "null", "Sec-Fetch-Site": "cross-site"}, 403},
		{"a form of another site", "POST", "/plan", map[string]string{"Sec-Fetch-Site": "cross-site"}, 403},
		{"a neighbour's form", "POST", "/plan", map[string]string{"Sec-Fetch-Site": "same-site"}, 403},
	}
	for _, test := range tests {
		if status, text, _ := r.do(test.method, test.path, nil, test.header); status != test.want || strings.Contains(text, "<") {
			t.Errorf("%s: %s %s gives %d, want %d", test.name, test.method, test.path, status, test.want)
		}
	}
	for _, host := range []string{"localhost" + port, "LOCALHOST" + port, "[::1]" + port} {
		name := "lyefast_" + port[1:]
		u, _ := url.Parse(r.base)
		ticket := r.client.Jar.Cookies(u)[0].Value
		if status, _, _ := r.do("GET", "/batches", nil, map[string]string{"Host": host, "Cookie": name + "=" + ticket}); status != 200 {
			t.Errorf("the host %s gives %d", host, status)
		}
	}
	own := map[string]string{"Origin": r.base, "Sec-Fetch-Site": "same-origin"}
	if status, _, _ := r.do("POST", "/api/plan/check", strings.NewReader("title = 1"), own); status != http.StatusUnprocessableEntity {
		t.Errorf("our own page's request gives %d", status)
	}
	own["Origin"] = "null" // what a browser sends with a form of a page that tells no referrer
	if status, _, _ := r.do("POST", "/api/plan/check", strings.NewReader("title = 1"), own); status != http.StatusUnprocessableEntity {
		t.Errorf("our own form gives %d", status)
	}
}

// Paths are sent as they stand, which a client of its own would tidy up.
func TestPathTricksAreRefused(t *testing.T) {
	r := serve(t, false)
	u, err := url.Parse(r.base)
	if err != nil {
		t.Fatal(err)
	}
	cookie := r.client.Jar.Cookies(u)[0]
	for _, p := range []string{
		"/static/../../../../etc/passwd", "/static/%2e%2e/%2e%2e/etc/passwd", "/static/..%2f..%2fetc%2fpasswd", "/static/..%5c..%5cwindows",
		"//evil.example/", "/static//style.css", "/batches/..", "/batches/%2e%2e", "/batches/HD%2f01", "/batches/%00", "/batches/a%0d%0aSet-Cookie:x=1",
		"/static/", "/static/templates/base.html", "/templates/base.html", "/batches/", "/api/batches/", "/book.db", "/.git/config",
		"/batches/" + strings.Repeat("a", 4000),
	} {
		c, err := net.Dial("tcp", u.Host)
		if err != nil {
			t.Fatal(err)
		}
		_ = c.SetDeadline(time.Now().Add(10 * time.Second))
		fmt.Fprintf(c, "GET %s HTTP/1.1\r\nHost: %s\r\nCookie: %s=%s\r\nConnection: close\r\n\r\n", p, u.Host, cookie.Name, cookie.Value)
		answer, err := io.ReadAll(c)
		_ = c.Close()
		if err != nil {
			t.Fatalf("%s: %v", p, err)
		}
		line, _, _ := strings.Cut(string(answer), "\r\n")
		if !strings.Contains(line, " 404 ") && !strings.Contains(line, " 400 ") || strings.Contains(string(answer), "root:") {
			t.Errorf("%.60s gives %s", p, line)
		}
	}
}

// Every answer, refusals among them, carries the policy that lets nothing foreign run.
func TestEveryAnswerIsPoliced(t *testing.T) {
	r := serve(t, false)
	for _, p := range []string{"/batches", "/plan", "/shelf", "/static/style.css", "/api/due", "/nothing"} {
		_, text, head := r.do("GET", p, nil, nil)
		if got := head.Get("Content-Security-Policy"); got != policy || strings.Contains(got, "unsafe") {
			t.Errorf("%s: policy %q", p, got)
		}
		for name, want := range map[string]string{"X-Content-Type-Options": "nosniff", "Referrer-Policy": "no-referrer", "Cache-Control": "no-store"} {
			if head.Get(name) != want {
				t.Errorf("%s: %s is %q, want %q", p, name, head.Get(name), want)
			}
		}
		for _, foreign := range []string{"style=", "onclick=", "<script>", "https://", "//cdn"} {
			if strings.Contains(text, foreign) {
				t.Errorf("%s holds %q", p, foreign)
			}
		}
	}
}

// 200 MB are refused by what they announce, or where they announce nothing at the
// limit at the latest; they are never all read.
func TestLargeUploadsAreRefused(t *testing.T) {
	r := serve(t, false)
	for _, p := range []string{"/api/plan/check", "/plan"} {
		for _, announced := range []bool{true, false} {
			n := &counted{left: 200 << 20}
			q, err := http.NewRequestWithContext(t.Context(), "POST", r.base+p, n)
			if err != nil {
				t.Fatal(err)
			}
			q.Header.Set("Content-Type", "multipart/form-data; boundary=b")
			if announced {
				q.ContentLength = 200 << 20
			}
			a, err := r.client.Do(q)
			if err != nil {
				// The connection was closed while more was being sent: a refusal too.
				if n.sent.Load() > 16<<20 {
					t.Errorf("%s: %d MB were taken before %v", p, n.sent.Load()>>20, err)
				}
				continue
			}
			_ = a.Body.Close()
			if a.StatusCode < 400 || a.StatusCode >= 500 || n.sent.Load() > 16<<20 {
				t.Errorf("%s announced %v: %d after %d MB", p, announced, a.StatusCode, n.sent.Load()>>20)
			}
		}
	}
	if status, _, _ := r.do("GET", "/batches", nil, nil); status != 200 {
		t.Errorf("afterwards the page answers %d", status)
	}
}

// counted is a body of spaces that counts what was read of it.
type counted struct {
	left int
	sent atomic.Int64
}

func (c *counted) Read(p []byte) (int, error) {
	if c.left == 0 {
		return 0, io.EOF
	}
	n := min(len(p), c.left)
	for i := range p[:n] {
		p[i] = ' '
	}
	c.left -= n
	c.sent.Add(int64(n))
	return n, nil
}

// Asked to stop, it lets what is in hand end and takes nothing more.
func TestStopsWhenAsked(t *testing.T) {
	s, err := Listen(app.New(filepath.Join(t.TempDir(), "book.db"), time.Now), 0)
	if err != nil {
		t.Fatal(err)
	}
	began, end := make(chan struct{}), make(chan struct{})
	s.handler = http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		close(began)
		<-end
		_, _ = io.WriteString(w, "saved")
	})
	ctx, stop := context.WithCancel(t.Context())
	stopped := make(chan error, 1)
	go func() { stopped <- s.Serve(ctx) }()
	answer := make(chan string, 1)
	go func() {
		a, err := http.Get("http://" + s.listener.Addr().String())
		if err != nil {
			answer <- err.Error()
			return
		}
		defer a.Body.Close()
		text, _ := io.ReadAll(a.Body)
		answer <- string(text)
	}()
	<-began
	stop()
	select {
	case err := <-stopped:
		t.Fatalf("it stopped under a request in hand: %v", err)
	case <-time.After(50 * time.Millisecond):
	}
	close(end)
	if got := <-answer; got != "saved" {
		t.Errorf("the request in hand got %q", got)
	}
	if err := <-stopped; err != nil {
		t.Error(err)
	}
	if _, err := net.Dial("tcp", s.listener.Addr().String()); err == nil {
		t.Error("it still listens")
	}
}
