package exchange

import (
	"bytes"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
)

// decode turns a file into UTF-8 with plain line feeds. It goes by the byte
// order mark, else by validity: text that is not UTF-8 is taken for
// Windows-1252, which holds Latin-1's degree sign at the same place.
func decode(data []byte) ([]byte, string, *Declined) {
	name := "UTF-8"
	switch {
	case bytes.HasPrefix(data, []byte{0xFF, 0xFE, 0, 0}), bytes.HasPrefix(data, []byte{0, 0, 0xFE, 0xFF}):
		return nil, "UTF-32", decline(0, "save it as UTF-8", "it is UTF-32 text, which is not read")
	case bytes.HasPrefix(data, []byte{0xEF, 0xBB, 0xBF}):
		data = data[3:]
		if !utf8.Valid(data) {
			return nil, name, decline(lineOfInvalid(data), "save it as UTF-8 again", "it claims to be UTF-8 and is not")
		}
	case bytes.HasPrefix(data, []byte{0xFF, 0xFE}):
		return fromUTF16(data[2:], unicode.LittleEndian, "UTF-16LE")
	case bytes.HasPrefix(data, []byte{0xFE, 0xFF}):
		return fromUTF16(data[2:], unicode.BigEndian, "UTF-16BE")
	case zeros(data, 1):
		return fromUTF16(data, unicode.LittleEndian, "UTF-16LE")
	case zeros(data, 0):
		return fromUTF16(data, unicode.BigEndian, "UTF-16BE")
	case !utf8.Valid(data):
		name = "Windows-1252"
		out, err := charmap.Windows1252.NewDecoder().Bytes(data)
		if err != nil {
			return nil, name, decline(0, "save it as UTF-8", "it is neither UTF-8 nor Windows-1252 text")
		}
		data = out
	}
	return textOnly(data, name)
}

// zeros reports whether data is UTF-16 without a mark: nearly every byte at one
// parity is zero, and none at the other.
func zeros(data []byte, parity int) bool {
	n := min(len(data), 512) &^ 1
	if n < 4 {
		return false
	}
	var here, there int
	for i := 0; i < n; i++ {
		if data[i] != 0 {
			continue
		}
		if i&1 == parity {
			here++
		} else {
			there++
		}
	}
	return there == 0 && 10*here >= 9*(n/2)
}

func fromUTF16(data []byte, order unicode.Endianness, name string) ([]byte, string, *Declined) {
	if len(data)%2 != 0 {
		return nil, name, decline(0, "copy it again from the instrument", "it is %s text cut in the middle of a character", name)
	}
	out, err := unicode.UTF16(order, unicode.IgnoreBOM).NewDecoder().Bytes(data)
	if err != nil {
		return nil, name, decline(0, "save it as UTF-8", "it claims to be %s text and is not", name)
	}
	return textOnly(out, name)
}

// textOnly refuses bytes that no text holds and makes all line ends line feeds.
func textOnly(data []byte, name string) ([]byte, string, *Declined) {
	if i := bytes.IndexByte(data, 0); i >= 0 {
		return nil, name, decline(1+bytes.Count(data[:i], []byte("\n")), "export the readings as CSV, CGATS.17 text or CxF3", "it is not text")
	}
	if bytes.IndexByte(data, '\r') >= 0 {
		data = bytes.ReplaceAll(data, []byte("\r\n"), []byte("\n"))
		data = bytes.ReplaceAll(data, []byte("\r"), []byte("\n"))
	}
	return data, name, nil
}

func lineOfInvalid(data []byte) int {
	line := 1
	for len(data) > 0 {
		r, n := utf8.DecodeRune(data)
		if r == utf8.RuneError && n == 1 {
			break
		}
		if r == '\n' {
			line++
		}
		data = data[n:]
	}
	return line
}
