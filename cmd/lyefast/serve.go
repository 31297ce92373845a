package main

import (
	"context"
	"os/exec"
	"os/signal"
	"runtime"
	"syscall"

	"github.com/spf13/cobra"

	"lyefast/internal/web"
)

func serveCmd(p *program) *cobra.Command {
	var port int
	var noOpen bool
	cmd := &cobra.Command{
		Use: "serve", Short: "Open the local page: batches, readings off photographs, plan check, shelf",
		Long: wrapHelp(`Shows the book in a browser on this machine, and on no other: it listens on the loopback address alone and answers only the browser that opens the printed address, whose token is made anew each time. Nothing is fetched from elsewhere.

It runs until Ctrl-C; work in hand is ended first, and everything saved stays saved.`),
		Example: examples("lyefast serve", "lyefast serve --port 8321 --no-open"),
		Args:    takes(),
		RunE: func(cmd *cobra.Command, _ []string) error {
			ctx, stop := signal.NotifyContext(cmd.Context(), syscall.SIGTERM)
			defer stop()
			s, err := web.Listen(p.session, port)
			if err != nil {
				return err
			}
			if p.json {
				err = p.out.JSON(struct {
					URL string `json:"url"`
				}{s.URL()})
			} else {
				p.out.Printf("%s\n", s.URL())
			}
			if err != nil {
				return err
			}
			p.err.Printf("open this address; Ctrl-C stops\n")
			if !noOpen && p.out.Terminal() {
				openBrowser(ctx, s.URL())
			}
			return s.Serve(ctx)
		},
	}
	cmd.Flags().IntVar(&port, "port", 0, "listen on this port `NUMBER` (default: a free one)")
	cmd.Flags().BoolVar(&noOpen, "no-open", false, "open no browser")
	return cmd
}

// openBrowser asks the system to show an address. Where it cannot, the address is on
// the screen.
func openBrowser(ctx context.Context, address string) {
	name, args := "xdg-open", []string{address}
	switch runtime.GOOS {
	case "windows":
		name, args = "rundll32", []string{"url.dll,FileProtocolHandler", address}
	case "darwin":
		name = "open"
	}
	c := exec.CommandContext(ctx, name, args...)
	if c.Start() == nil {
		go func() { _ = c.Wait() }() // takes its end in
	}
}
