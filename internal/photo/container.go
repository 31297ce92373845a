package photo

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"errors"
	"hash/crc32"
	"io"
	"slices"
)

// maxProfile bounds a colour profile; those of displays and cameras have a few kB.
const maxProfile = 4 << 20

// box is what a file holds beside its pixels.
type box struct {
	format    string
	exif, icc []byte
}

// open tells the format by its first bytes, finds EXIF and profile, and refuses a
// file that is plainly cut short before any pixel is decoded.
func open(data []byte) (box, error) {
	short := func(format string) error {
		return declined("copy the picture anew; it was not copied whole", "the %s picture is cut short or damaged", format)
	}
	switch {
	case bytes.HasPrefix(data, []byte("\xff\xd8\xff")):
		b, err := openJPEG(data)
		switch {
		case errors.Is(err, errScans):
			return b, declined("export it again as an ordinary JPEG", "the JPEG picture has more than %d passes", maxScans)
		case err != nil:
			return b, short("JPEG")
		}
		return b, nil
	case bytes.HasPrefix(data, []byte("\x89PNG\r\n\x1a\n")):
		b, ok := openPNG(data)
		if !ok {
			return b, short("PNG")
		}
		return b, nil
	case len(data) >= 12 && string(data[:4]) == "RIFF" && string(data[8:12]) == "WEBP":
		b, ok := openWebP(data)
		if !ok {
			return b, short("WebP")
		}
		return b, nil
	case heif(data):
		return box{}, declined("on the phone choose the most compatible format for the camera, or share or export the picture as JPEG",
			"the picture is HEIC or AVIF, which is not read")
	}
	return box{}, declined("give a JPEG, PNG or WebP file", "this is no picture that is understood")
}

// heif tells HEIC, HEIF and AVIF by the brands of their first box (ISO/IEC 14496-12).
func heif(data []byte) bool {
	if len(data) < 16 || string(data[4:8]) != "ftyp" {
		return false
	}
	end := min(int(min(binary.BigEndian.Uint32(data), 256)), len(data))
	for i := 8; i+4 <= end; i += 4 {
		switch string(data[i : i+4]) {
		case "heic", "heix", "heim", "heis", "hevc", "hevx", "mif1", "msf1", "avif", "avis":
			return true
		}
	}
	return false
}

var (
	errShort = errors.New("cut short")
	errScans = errors.New("too many scans")
)

// openJPEG walks the segments of a JPEG (ISO/IEC 10918-1 annex B). A profile may be
// parted over several APP2 segments, numbered from 1 (ICC.1 annex B.4).
func openJPEG(data []byte) (box, error) {
	b := box{format: "JPEG"}
	var parts [256][]byte
	size, scans := 0, 0
	for i := 2; ; {
		// A marker may be preceded by any number of fill bytes.
		for i < len(data) && data[i] != 0xff {
			i++
		}
		for i < len(data) && data[i] == 0xff {
			i++
		}
		if i >= len(data) {
			return b, errShort
		}
		marker := data[i]
		i++
		switch {
		case marker == 0xd9:
			for _, p := range parts {
				b.icc = append(b.icc, p...)
			}
			return b, nil
		case marker == 0 || marker == 1 || marker >= 0xd0 && marker <= 0xd8:
			continue // stuffing and restarts inside a scan
		}
		if i+2 > len(data) {
			return b, errShort
		}
		n := int(binary.BigEndian.Uint16(data[i:]))
		if n < 2 || i+n > len(data) {
			return b, errShort
		}
		body := data[i+2 : i+n]
		i += n
		switch marker {
		case 0xe1:
			if rest, ok := bytes.CutPrefix(body, []byte("Exif\x00\x00")); ok && b.exif == nil {
				b.exif = rest
			}
		case 0xe2:
			rest, ok := bytes.CutPrefix(body, []byte("ICC_PROFILE\x00"))
			if ok && len(rest) > 2 && rest[0] > 0 && parts[rest[0]-1] == nil && size+len(rest) <= maxProfile {
				parts[rest[0]-1] = rest[2:]
				size += len(rest)
			}
		case 0xda:
			if scans++; scans > maxScans {
				return b, errScans
			}
			// Entropy-coded data hold no marker but stuffing and restarts.
			for i < len(data) {
				j := bytes.IndexByte(data[i:], 0xff)
				if j < 0 {
					return b, errShort
				}
				i += j
				if i+1 < len(data) && (data[i+1] == 0 || data[i+1] >= 0xd0 && data[i+1] <= 0xd7) {
					i += 2
					continue
				}
				break
			}
		}
	}
}

// openPNG walks the chunks of a PNG up to its end, with their check sums.
func openPNG(data []byte) (box, bool) {
	b := box{format: "PNG"}
	for i := 8; i+12 <= len(data); {
		n := int64(binary.BigEndian.Uint32(data[i:]))
		if int64(i)+12+n > int64(len(data)) {
			return b, false
		}
		kind, body := string(data[i+4:i+8]), data[i+8:i+8+int(n)]
		if crc32.ChecksumIEEE(data[i+4:i+8+int(n)]) != binary.BigEndian.Uint32(data[i+8+int(n):]) {
			return b, false
		}
		i += 12 + int(n)
		switch kind {
		case "IEND":
			return b, true
		case "eXIf":
			b.exif = body
		case "iCCP":
			// A name, a zero, the method 0, and zlib.
			j := bytes.IndexByte(body, 0)
			if j < 0 || j+2 > len(body) || body[j+1] != 0 {
				b.icc = []byte("?")
				continue
			}
			b.icc = inflate(body[j+2:])
		}
	}
	return b, false
}

// inflate unpacks a profile; one that is too large or damaged comes back as bytes
// that no profile has, so that it is told of rather than passed over.
func inflate(body []byte) []byte {
	z, err := zlib.NewReader(bytes.NewReader(body))
	if err != nil {
		return []byte("?")
	}
	out, err := io.ReadAll(io.LimitReader(z, maxProfile+1))
	if err != nil || len(out) > maxProfile {
		return []byte("?")
	}
	return out
}

// openWebP walks the chunks of a WebP's RIFF.
func openWebP(data []byte) (box, bool) {
	b := box{format: "WebP"}
	if int64(binary.LittleEndian.Uint32(data[4:]))+8 > int64(len(data)) {
		return b, false
	}
	picture := false
	for i := 12; i+8 <= len(data); {
		n := int64(binary.LittleEndian.Uint32(data[i+4:]))
		if int64(i)+8+n > int64(len(data)) {
			return b, picture
		}
		kind, body := string(data[i:i+4]), data[i+8:i+8+int(n)]
		i += 8 + int(n) + int(n&1)
		switch kind {
		case "VP8 ", "VP8L":
			picture = true
		case "EXIF":
			b.exif = bytes.TrimPrefix(body, []byte("Exif\x00\x00"))
		case "ICCP":
			b.icc = slices.Clip(body[:min(len(body), maxProfile)])
		}
	}
	return b, picture
}
