// Package photo turns a photograph of soap into colours with an honest doubt.
//
// Start at [Decode], which reads JPEG, PNG and WebP with their orientation, moment
// and colour profile, and at [Photo.Read], which takes the best of what lies in the
// picture to correct it by: a chart of 24 patches, grey patches of known value, a
// white sheet whose value was learnt beside a chart, or nothing. Which it was is the
// [Rung] of the answer.
//
// Places are pixels of the picture as it is meant to be seen, after its orientation:
// x to the right, y down, from the middle of the top left pixel. Colours are CIELAB,
// 2° observer; those a maker gets are for D65, those of charts, cards and sheets for
// D50, as they are printed on them.
//
// The package opens no file and asks no clock. All that comes from outside is
// bounded before memory is given to it.
package photo

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"time"

	"golang.org/x/image/webp"
)

const (
	// MaxBytes bounds the size of a picture's file.
	MaxBytes = 64 << 20
	// MaxPixels bounds the picture before it is decoded: room for every phone's
	// ordinary pictures of 12 to 50 million, a bomb's many times that are refused.
	MaxPixels = 64 << 20
	// maxScans bounds the passes of a progressive JPEG; ordinary ones have about ten,
	// and each costs time over the whole picture however little it holds.
	maxScans = 40
)

// Declined is a picture that is not taken, with advice.
type Declined struct {
	// Msg is lower case and has no full stop.
	Msg string
	// Tip says what to try, "" where there is nothing to say.
	Tip string
	Err error
}

func (d *Declined) Error() string {
	if d.Err != nil {
		return d.Msg + ": " + d.Err.Error()
	}
	return d.Msg
}

// Unwrap gives the cause.
func (d *Declined) Unwrap() error { return d.Err }

// Hint says what to try.
func (d *Declined) Hint() string { return d.Tip }

func declined(tip, format string, args ...any) error {
	return &Declined{Msg: fmt.Sprintf(format, args...), Tip: tip}
}

// Photo is a decoded picture. Its pixels stay as the decoder left them; orientation
// and profile are applied to the few that are asked for.
type Photo struct {
	// Format is "JPEG", "PNG" or "WebP".
	Format string
	// Width and Height are those of the picture as it is meant to be seen.
	Width, Height int
	// Camera is make and model, "" where the file does not say.
	Camera string
	// Taken is the moment of capture, zero where the file does not say. Where Zoned is
	// false only the clock on the wall is known, and the zone given here is UTC.
	Taken time.Time
	Zoned bool
	// Profile names the colour space: "sRGB, assumed", or what the file's own says.
	Profile string
	// Notes are what is to be told about the file, such as a profile that could not be
	// used.
	Notes []string

	img    image.Image
	orient int
	space  space
}

// Decode reads a picture. What it is, is told by its first bytes, whatever its name.
// The error is a [Declined].
//
// Beside the decoded image it needs no memory by the pixel, but for progressive JPEG,
// whose decoder keeps coefficients: 6 bytes a pixel with chroma at half the width and
// height, as cameras write it, 12 at most.
func Decode(data []byte) (*Photo, error) {
	if len(data) > MaxBytes {
		return nil, declined("export it smaller, as JPEG", "the picture's file has more than %d MB", MaxBytes>>20)
	}
	box, err := open(data)
	if err != nil {
		return nil, err
	}
	configure, decode := jpeg.DecodeConfig, jpeg.Decode
	switch box.format {
	case "PNG":
		configure, decode = png.DecodeConfig, png.Decode
	case "WebP":
		configure, decode = webp.DecodeConfig, webp.Decode
	}
	spoiled := func(err error) error {
		return &Declined{Msg: "the " + box.format + " picture cannot be decoded", Err: err, Tip: "the file is damaged or cut short; copy it anew, or export it again as JPEG"}
	}
	c, err := configure(bytes.NewReader(data))
	if err != nil {
		return nil, spoiled(err)
	}
	if c.Width < 1 || c.Height < 1 {
		return nil, spoiled(errors.New("it has no pixels"))
	}
	pixels, most := int64(c.Width)*int64(c.Height), int64(MaxPixels)
	if c.ColorModel == color.NRGBA64Model || c.ColorModel == color.RGBA64Model || box.format == "WebP" {
		most /= 2 // twice the memory a pixel, or a slow decoder
	}
	if pixels > most {
		return nil, declined("export it at a quarter of the size; a patch needs some thirty pixels a side, no more",
			"the picture has %d × %d pixels, more than %d million", c.Width, c.Height, most>>20)
	}
	// A JPEG spends at least a bit on each 8 × 8 pixels. Lossless WebP may spend none,
	// so there the bound is what no photograph comes near.
	if each := map[string]int64{"JPEG": 512, "WebP": 5000}[box.format]; each > 0 && pixels/each > int64(len(data)) {
		return nil, spoiled(fmt.Errorf("its %d bytes cannot hold %d × %d pixels", len(data), c.Width, c.Height))
	}
	switch c.ColorModel {
	case color.GrayModel, color.Gray16Model:
		return nil, declined("export the colour picture", "the picture is grey only")
	case color.CMYKModel:
		return nil, declined("export it as an RGB JPEG", "the picture is meant for a printing press (CMYK)")
	}
	img, err := decode(bytes.NewReader(data))
	if err != nil {
		return nil, spoiled(err)
	}
	p := &Photo{Format: box.format, img: img, orient: 1, space: sRGB, Profile: "sRGB, assumed"}
	meta, err := readEXIF(box.exif)
	if err != nil {
		p.Notes = append(p.Notes, "what the camera wrote into the file could not be read ("+err.Error()+"); check the date, and that the picture stands upright")
	}
	p.Camera, p.Taken, p.Zoned, p.orient = meta.camera(), meta.taken, meta.zoned, meta.orient
	if len(box.icc) > 0 {
		s, name, err := readICC(box.icc)
		if err != nil {
			p.Notes = append(p.Notes, "the picture's colour profile could not be used ("+err.Error()+"); sRGB is assumed")
		} else {
			p.space, p.Profile = s, name
		}
	} else if meta.uncalibrated {
		p.Notes = append(p.Notes, "the camera says that the colours are not sRGB, and the file has no profile; sRGB is assumed")
	}
	b := img.Bounds()
	p.Width, p.Height = b.Dx(), b.Dy()
	if p.orient >= 5 {
		p.Width, p.Height = p.Height, p.Width
	}
	return p, nil
}

// stored gives the place in the decoded image of a pixel of the picture as it is
// meant to be seen; orientations as numbered by EXIF (CIPA DC-008, tag 0x0112).
func (p *Photo) stored(x, y int) (int, int) {
	w, h := p.Width-1, p.Height-1
	switch p.orient {
	case 2:
		x = w - x
	case 3:
		x, y = w-x, h-y
	case 4:
		y = h - y
	case 5:
		x, y = y, x
	case 6:
		x, y = y, w-x
	case 7:
		x, y = h-y, w-x
	case 8:
		x, y = h-y, x
	}
	b := p.img.Bounds()
	return b.Min.X + x, b.Min.Y + y
}
