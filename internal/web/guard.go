package web

import (
	"crypto/rand"
	"crypto/subtle"
	"net"
	"net/http"
	"path"
	"slices"
	"strconv"
	"strings"
)

// policy lets a page load only what this program serves. There is no inline script
// and no inline style, so text that slips through as markup still cannot run.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// guard stands before every page. The page can read and write the maker's book, so
// it answers only the browser that was given its address, and only when that
// browser asks on behalf of the page itself:
//
//   - the Host must be loopback with our port, or a name that an attacker points at
//     127.0.0.1 would make his page ours;
//   - an Origin must be ours, and [http.CrossOriginProtection] agrees;
//   - the token of the address is taken once and exchanged for a cookie that no
//     script can read and no other site can send. Its name holds the port, because
//     cookies do not tell ports apart;
//   - a path that is not plain is refused before anything looks at it.
type guard struct {
	hosts   []string
	token   string // of the address
	ticket  string // of the cookie
	cookie  string
	foreign *http.CrossOriginProtection
	next    http.Handler
}

func newGuard(port int, token string, next http.Handler) *guard {
	p := strconv.Itoa(port)
	return &guard{
		hosts:   []string{net.JoinHostPort("127.0.0.1", p), net.JoinHostPort("localhost", p), net.JoinHostPort("::1", p)},
		token:   token,
		ticket:  rand.Text(),
		cookie:  "lyefast_" + p,
		foreign: http.NewCrossOriginProtection(),
		next:    next,
	}
}

func (g *guard) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	h := w.Header()
	h.Set("Content-Security-Policy", policy)
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "no-referrer")
	h.Set("Cross-Origin-Resource-Policy", "same-origin")
	h.Set("Cross-Origin-Opener-Policy", "same-origin")
	h.Set("Cache-Control", "no-store")
	switch {
	case !slices.Contains(g.hosts, strings.ToLower(r.Host)):
		refuse(w, http.StatusMisdirectedRequest, "this page answers only to the address that lyefast serve printed")
	case !plainPath(r):
		refuse(w, http.StatusNotFound, "there is no such page")
	case !g.ownOrigin(r) || g.foreign.Check(r) != nil:
		refuse(w, http.StatusForbidden, "another site may not use this page")
	case r.URL.Query().Has("token"):
		g.admit(w, r)
	case !g.known(r):
		refuse(w, http.StatusUnauthorized, "open the whole address that lyefast serve printed; it holds the token")
	default:
		g.next.ServeHTTP(w, r)
	}
}

// admit exchanges the token for the cookie and takes it out of the address bar.
func (g *guard) admit(w http.ResponseWriter, r *http.Request) {
	if r.Method != http.MethodGet || r.URL.Path != "/" || !same(r.URL.Query().Get("token"), g.token) {
		refuse(w, http.StatusUnauthorized, "this token is not the one that lyefast serve printed")
		return
	}
	http.SetCookie(w, &http.Cookie{Name: g.cookie, Value: g.ticket, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode})
	http.Redirect(w, r, "/", http.StatusSeeOther)
}

func (g *guard) known(r *http.Request) bool {
	c, err := r.Cookie(g.cookie)
	return err == nil && same(c.Value, g.ticket)
}

// ownOrigin tells that the request comes of a page of ours. Browsers send "null" with
// the form of a page whose policy is to tell no referrer; they then say in a header
// that no page can set itself that it was the same origin.
func (g *guard) ownOrigin(r *http.Request) bool {
	switch origin := r.Header.Get("Origin"); origin {
	case "":
		return true
	case "null":
		return r.Header.Get("Sec-Fetch-Site") == "same-origin"
	default:
		host, plain := strings.CutPrefix(strings.ToLower(origin), "http://")
		return plain && host == strings.ToLower(r.Host)
	}
}

// plainPath refuses whatever means another path to someone further in: steps up,
// doubled or encoded slashes, backslashes, control signs.
func plainPath(r *http.Request) bool {
	p := r.URL.Path
	if !strings.HasPrefix(p, "/") || p != path.Clean(p) || strings.ContainsAny(p, "\\") ||
		strings.ContainsFunc(p, func(c rune) bool { return c < ' ' || c == 0x7f }) {
		return false
	}
	return strings.Count(r.URL.EscapedPath(), "/") == strings.Count(p, "/")
}

func same(a, b string) bool { return subtle.ConstantTimeCompare([]byte(a), []byte(b)) == 1 }

// refuse answers in plain text, which no browser takes for a page.
func refuse(w http.ResponseWriter, status int, why string) {
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	w.WriteHeader(status)
	_, _ = w.Write([]byte(why + "\n"))
}
