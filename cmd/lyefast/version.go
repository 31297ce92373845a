package main

import (
	"runtime"
	"runtime/debug"

	"github.com/spf13/cobra"
)

// versionInfo is what the program knows of its own making.
type versionInfo struct {
	Version  string `json:"version"`
	Commit   string `json:"commit"`
	Modified bool   `json:"modified"`
	Go       string `json:"go"`
	Platform string `json:"platform"`
}

func versionCmd(p *program) *cobra.Command {
	return &cobra.Command{
		Use:     "version",
		Short:   "Say which lyefast this is",
		Example: examples("lyefast version", "lyefast version --json"),
		Args:    takes(),
		RunE: func(*cobra.Command, []string) error {
			v := version()
			return p.show(v, func() error {
				p.out.Printf("lyefast %s", v.Version)
				if v.Commit != "" {
					p.out.Printf(" (%.12s", v.Commit)
					if v.Modified {
						p.out.Printf(", modified")
					}
					p.out.Printf(")")
				}
				p.out.Printf(" %s %s\n", v.Go, v.Platform)
				return nil
			})
		},
	}
}

// version reads what the compiler wrote into the program.
func version() versionInfo {
	v := versionInfo{Version: "unknown", Go: runtime.Version(), Platform: runtime.GOOS + "/" + runtime.GOARCH}
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return v
	}
	v.Version = info.Main.Version
	for _, s := range info.Settings {
		switch s.Key {
		case "vcs.revision":
			v.Commit = s.Value
		case "vcs.modified":
			v.Modified = s.Value == "true"
		}
	}
	return v
}
