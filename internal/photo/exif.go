package photo

import (
	"bytes"
	"encoding/binary"
	"errors"
	"strings"
	"time"
	"unicode/utf8"
)

// exif is the little of a camera's notes that a reading needs.
type exif struct {
	orient       int // 1–8
	make, model  string
	taken        time.Time
	zoned        bool
	uncalibrated bool // the camera says that its colours are not sRGB
}

// Tags of TIFF 6.0 and EXIF (CIPA DC-008).
const (
	tagMake           = 0x010f
	tagModel          = 0x0110
	tagOrientation    = 0x0112
	tagDateTime       = 0x0132
	tagExifIFD        = 0x8769
	tagDateOriginal   = 0x9003
	tagOffset         = 0x9010
	tagOffsetOriginal = 0x9011
	tagColorSpace     = 0xa001
)

// maxEntries bounds a directory; cameras write fewer than a hundred.
const maxEntries = 512

var errEXIF = errors.New("the camera's notes are damaged")

// readEXIF reads a TIFF block. No block is no error; of a damaged one it gives what
// could be read.
func readEXIF(data []byte) (exif, error) {
	e := exif{orient: 1}
	if len(data) == 0 {
		return e, nil
	}
	if len(data) < 8 {
		return e, errEXIF
	}
	var order binary.ByteOrder
	switch string(data[:4]) {
	case "II*\x00":
		order = binary.LittleEndian
	case "MM\x00*":
		order = binary.BigEndian
	default:
		return e, errEXIF
	}
	var date, original, offset, offsetOriginal string
	var inner uint32
	take := func(tag uint16, value []byte, number uint32) {
		switch tag {
		case tagMake:
			e.make = exifText(value)
		case tagModel:
			e.model = exifText(value)
		case tagOrientation:
			if number >= 1 && number <= 8 {
				e.orient = int(number)
			}
		case tagDateTime:
			date = exifText(value)
		case tagDateOriginal:
			original = exifText(value)
		case tagOffset:
			offset = exifText(value)
		case tagOffsetOriginal:
			offsetOriginal = exifText(value)
		case tagExifIFD:
			inner = number
		case tagColorSpace:
			e.uncalibrated = number == 0xffff
		}
	}
	err := readIFD(data, order, order.Uint32(data[4:]), take)
	if inner != 0 {
		err = errors.Join(err, readIFD(data, order, inner, take))
	}
	if err != nil {
		err = errEXIF
	}
	if original == "" {
		original, offsetOriginal = date, offset
	}
	if offsetOriginal == "" {
		offsetOriginal = offset
	}
	const layout = "2006:01:02 15:04:05"
	if t, bad := time.Parse(layout+"-07:00", original+offsetOriginal); bad == nil && t.Year() > 1970 {
		e.taken, e.zoned = t, true
	} else if t, bad := time.Parse(layout, original); bad == nil && t.Year() > 1970 {
		e.taken = t
	}
	return e, err
}

// readIFD hands over the entries of one directory: the bytes of a text, or the first
// number of a SHORT or LONG.
func readIFD(data []byte, order binary.ByteOrder, at uint32, take func(tag uint16, value []byte, number uint32)) error {
	if uint64(at)+2 > uint64(len(data)) {
		return errEXIF
	}
	n := int(order.Uint16(data[at:]))
	list := data[at+2:]
	if n > maxEntries || len(list) < 12*n {
		return errEXIF
	}
	var err error
	for ; n > 0; n, list = n-1, list[12:] {
		tag, kind, count := order.Uint16(list), order.Uint16(list[2:]), order.Uint32(list[4:])
		switch kind {
		case 2: // ASCII
			value := list[8:12]
			if count > 4 {
				from := uint64(order.Uint32(list[8:]))
				if from+uint64(count) > uint64(len(data)) {
					err = errEXIF
					continue
				}
				value = data[from : from+uint64(count)]
			}
			take(tag, value[:min(len(value), int(min(count, 200)))], 0)
		case 3: // SHORT
			take(tag, nil, uint32(order.Uint16(list[8:])))
		case 4: // LONG
			take(tag, nil, order.Uint32(list[8:]))
		}
	}
	return err
}

// exifText is the text up to its closing zero, without what could not be shown.
func exifText(b []byte) string {
	if i := bytes.IndexByte(b, 0); i >= 0 {
		b = b[:i]
	}
	if !utf8.Valid(b) {
		return ""
	}
	return strings.TrimSpace(strings.Map(func(r rune) rune {
		if r < ' ' || r >= 0x7f && r < 0xa0 {
			return -1
		}
		return r
	}, string(b)))
}

// camera joins make and model; many models repeat the make.
func (e exif) camera() string {
	if strings.HasPrefix(strings.ToLower(e.model), strings.ToLower(e.make)) {
		return e.model
	}
	return strings.TrimSpace(e.make + " " + e.model)
}
