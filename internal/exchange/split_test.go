package exchange

import (
	"bytes"
	"fmt"
	"reflect"
	"strings"
	"testing"
)

// A large file is read in parts; what comes of it is the same as read in one: the same
// readings in the same order, the same rows refused with the same lines.
func TestSplitReadingIsTheSame(t *testing.T) {
	var b strings.Builder
	b.WriteString("name,taken_at,L,a,b\n")
	for i := 0; b.Len() < 3*splitFrom; i++ {
		switch {
		case i%5000 == 77:
			b.WriteString("calibration white,2026-01-05T09:12:00,97,0,1\n")
		case i%5000 == 99:
			fmt.Fprintf(&b, "bad %d,2026-01-05T09:12:00,400,0,1\n", i)
		case i%7000 == 3:
			b.WriteString("\n")
		case i%9000 == 5:
			fmt.Fprintf(&b, "undated %d,,50,1,2\n", i)
		case i%9000 == 6:
			fmt.Fprintf(&b, "no time %d,2026-01-05,50,1,2\n", i)
		default:
			fmt.Fprintf(&b, "s%d,2026-01-05T09:12:%02d,%.2f,1,2\n", i%40, i%60, 40+float64(i%977)/50)
		}
	}
	data := []byte(b.String())
	// A quotation mark, here in the heading of a column that is not read, keeps a file whole.
	quoted := bytes.Replace(data, []byte("name,taken_at,L,a,b"), []byte(`name,taken_at,L,a,"b"`), 1)
	parted, err := Read(data, "x.csv", Options{})
	if err != nil {
		t.Fatal(err)
	}
	whole, err := Read(quoted, "x.csv", Options{})
	if err != nil {
		t.Fatal(err)
	}
	if len(whole.Readings) < 50_000 || len(whole.Skipped) < 20 {
		t.Fatalf("only %d readings and %d skipped", len(whole.Readings), len(whole.Skipped))
	}
	if n := len((grid{data: data}).split(4)); n != 4 {
		t.Errorf("the text is in %d parts", n)
	}
	if !reflect.DeepEqual(parted.Skipped, whole.Skipped) || !reflect.DeepEqual(parted.Warnings, whole.Warnings) {
		t.Errorf("skipped %d and %d, warnings\n%q\n%q", len(parted.Skipped), len(whole.Skipped), parted.Warnings, whole.Warnings)
	}
	if len(parted.Readings) != len(whole.Readings) {
		t.Fatalf("%d readings and %d", len(parted.Readings), len(whole.Readings))
	}
	for i := range whole.Readings {
		if !reflect.DeepEqual(parted.Readings[i], whole.Readings[i]) {
			t.Fatalf("reading %d: %+v and %+v", i, parted.Readings[i], whole.Readings[i])
		}
	}
	if !reflect.DeepEqual(parted.Digests(), whole.Digests()) {
		t.Error("the digests differ")
	}
}
