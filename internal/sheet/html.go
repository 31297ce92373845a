package sheet

import (
	"bytes"
	_ "embed"
	"html/template"
	"strings"
)

//go:embed bench.html
var benchPage string

//go:embed report.html
var reportPage string

// worded is a colour with what it is the colour of.
type worded struct {
	Word   string
	Colour *Colour
}

var helpers = template.FuncMap{
	"mass": Mass,
	"pair": func(w string, c *Colour) worded { return worded{w, c} },
	"css":  cssColour,
}

// cssColour lets nothing but a hex colour into a style.
func cssColour(hex string) template.CSS {
	if len(hex) != 7 || hex[0] != '#' || strings.Trim(hex[1:], "0123456789abcdef") != "" {
		return "#ffffff"
	}
	return template.CSS(hex)
}

// HTML writes the sheet as one page that loads nothing and prints on A4 or Letter.
func (b *Bench) HTML() ([]byte, error) { return fill(benchPage, b) }

// HTML writes the report as one page that loads nothing.
func (r *Report) HTML() ([]byte, error) { return fill(reportPage, r) }

func fill(page string, data any) ([]byte, error) {
	t, err := template.New("page").Funcs(helpers).Parse(page)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	if err := t.Execute(&b, data); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}
