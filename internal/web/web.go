// Package web is the local page: the same questions as on the command line, asked
// with a browser on the same machine.
//
// Start at [Listen] and [Server.Serve]. A page calls one method of package app and
// shows its result; its JSON under /api is the same struct, written the same way, as
// the command's --json. Templates, style and scripts are part of the program; nothing
// is fetched from elsewhere, and the pages that only show work without scripts.
//
// It listens on the loopback address alone, and every request passes a guard: see
// guard.go for what it refuses and why.
package web

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/url"
	"strconv"
	"time"

	"lyefast/internal/app"
)

// Limits on time. A photograph from the same machine arrives at once; the rest is
// for a machine that is busy.
const (
	headerTime = 5 * time.Second
	bodyTime   = 60 * time.Second
	answerTime = 2 * time.Minute
	idleTime   = 2 * time.Minute
	// stopTime is how long work in hand may take to end once the page is to stop.
	stopTime = 15 * time.Second
)

// Server is the page of one session on one port.
type Server struct {
	session  *app.App
	listener net.Listener
	token    string
	handler  http.Handler
}

// Listen takes a port of the loopback address, a free one for 0. Nothing is answered
// before [Server.Serve].
func Listen(session *app.App, port int) (*Server, error) {
	if port < 0 || port > 65535 {
		return nil, &app.Error{Kind: app.ErrInvalid, Msg: fmt.Sprintf("there is no port %d", port), Tip: "ports are 1 to 65535; leave it out to take a free one"}
	}
	l, err := net.Listen("tcp4", net.JoinHostPort("127.0.0.1", strconv.Itoa(port)))
	if err != nil {
		var op *net.OpError
		if errors.As(err, &op) {
			err = op.Err
		}
		return nil, &app.Error{Msg: fmt.Sprintf("listen on port %d: %v", port, err), Tip: "leave --port out to take a free one", Err: err}
	}
	s := &Server{session: session, listener: l, token: rand.Text()}
	s.handler = newGuard(l.Addr().(*net.TCPAddr).Port, s.token, newPages(session).routes())
	return s, nil
}

// URL is the address to open once. Whoever knows it may use the page until it stops.
func (s *Server) URL() string {
	u := url.URL{Scheme: "http", Host: s.listener.Addr().String(), Path: "/", RawQuery: url.Values{"token": {s.token}}.Encode()}
	return u.String()
}

// Serve answers until ctx ends, then takes no more, lets work in hand end and returns.
func (s *Server) Serve(ctx context.Context) error {
	server := &http.Server{
		Handler:           s.handler,
		ReadHeaderTimeout: headerTime,
		ReadTimeout:       bodyTime,
		WriteTimeout:      answerTime,
		IdleTimeout:       idleTime,
		MaxHeaderBytes:    16 << 10,
	}
	failed := make(chan error, 1)
	go func() { failed <- server.Serve(s.listener) }()
	select {
	case err := <-failed:
		return fmt.Errorf("serve the page: %w", err)
	case <-ctx.Done():
	}
	ending, done := context.WithTimeout(context.WithoutCancel(ctx), stopTime)
	defer done()
	if err := server.Shutdown(ending); err != nil {
		_ = server.Close()
		return fmt.Errorf("stop the page: work in hand did not end within %s", stopTime)
	}
	return nil
}
