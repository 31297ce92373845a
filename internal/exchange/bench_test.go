package exchange

import (
	"bytes"
	"encoding/csv"
	"encoding/xml"
	"fmt"
	"io"
	"strings"
	"testing"
)

// What reading costs beside the parser underneath, which only takes the text
// apart: compare the two sub-benchmarks of one run.
func BenchmarkReadCSV(b *testing.B) {
	var text strings.Builder
	text.WriteString("Name;Datum;Uhrzeit;Modus;L*(D65);a*(D65);b*(D65)\n")
	for i := range 10000 {
		fmt.Fprintf(&text, "bar %d;%02d.01.2026;09:12;SCI;%d,%02d;18,22;-4,07\n", i, 1+i%28, 20+i%70, i%100)
	}
	data := []byte(text.String())
	b.Run("Read", func(b *testing.B) {
		b.SetBytes(int64(len(data)))
		for b.Loop() {
			if im, err := Read(data, "", Options{}); err != nil || len(im.Readings) != 10000 {
				b.Fatal(err)
			}
		}
	})
	b.Run("encoding-csv", func(b *testing.B) {
		b.SetBytes(int64(len(data)))
		for b.Loop() {
			r := csv.NewReader(bytes.NewReader(data))
			r.Comma = ';'
			if _, err := r.ReadAll(); err != nil {
				b.Fatal(err)
			}
		}
	})
}

func BenchmarkReadCxF(b *testing.B) {
	var objects strings.Builder
	list := ""
	for w := 400; w <= 700; w += 10 {
		list += fmt.Sprintf(" %.4f", smooth(1, float64(w)))
	}
	for i := range 1000 {
		objects.WriteString(cxfObjectOf(fmt.Sprint(i), `<ReflectanceSpectrum StartWL="400" ColorSpecification="s">`+list+`</ReflectanceSpectrum>`))
	}
	data := []byte(cxfFile("cc", objects.String(), cxfSpecOf("s", "D65", "10_Degree", "Spectrum_Reflectance", oneAngle, `<WavelengthRange Increment="10"/>`)))
	b.Run("Read", func(b *testing.B) {
		b.SetBytes(int64(len(data)))
		for b.Loop() {
			if im, err := Read(data, "", Options{}); err != nil || len(im.Readings) != 1000 {
				b.Fatal(err)
			}
		}
	})
	b.Run("encoding-xml", func(b *testing.B) {
		b.SetBytes(int64(len(data)))
		for b.Loop() {
			d := xml.NewDecoder(bytes.NewReader(data))
			for {
				if _, err := d.Token(); err == io.EOF {
					break
				} else if err != nil {
					b.Fatal(err)
				}
			}
		}
	})
}
