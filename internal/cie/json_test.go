package cie

import (
	"encoding/json"
	"math"
	"strings"
	"testing"
)

func TestLabJSON(t *testing.T) {
	for c, want := range map[Lab]string{
		{62.1, -3.2, 14}:                        "[62.1,-3.2,14]",
		{0.1 + 0.2, -0.00001, 100}:              "[0.3,0,100]",
		{55.123456789, 0.0001, -0.00005}:        "[55.1235,0.0001,-0.0001]",
		{1e20, 0, 0}:                            "[1e+20,0,0]",
		{math.Nextafter(62.1, 63), 28.39994, 0}: "[62.1,28.3999,0]",
	} {
		got, err := json.Marshal(c)
		if err != nil || string(got) != want {
			t.Errorf("%v: %s, %v, want %s", c, got, err, want)
		}
		var back Lab
		if err := json.Unmarshal(got, &back); err != nil || !near(back, c, 0.5001e-4) {
			t.Errorf("%s comes back as %v, %v", got, back, err)
		}
	}
	// In a struct, as a pointer that may be null, and in a slice.
	type box struct {
		Lab  *Lab  `json:"lab"`
		Path []Lab `json:"path"`
	}
	got, err := json.Marshal(box{Path: []Lab{{1, 2, 3}}})
	if err != nil || string(got) != `{"lab":null,"path":[[1,2,3]]}` {
		t.Errorf("%s, %v", got, err)
	}
	var b box
	if err := json.Unmarshal([]byte(`{"lab":[1,2.5,-3],"path":[[4,5,6]]}`), &b); err != nil || *b.Lab != (Lab{1, 2.5, -3}) || b.Path[0] != (Lab{4, 5, 6}) {
		t.Errorf("%+v, %v", b, err)
	}
	for _, c := range []Lab{{math.NaN(), 0, 0}, {0, math.Inf(1), 0}} {
		if got, err := json.Marshal(c); err == nil {
			t.Errorf("%v becomes %s", c, got)
		}
	}
	for _, s := range []string{`[1,2]`, `[1,2,3,4]`, `[1,null,3]`, `{"L":1}`, `"62,1,3"`, `[1,"2",3]`, `[]`, `[1e999,0,0]`} {
		c := Lab{9, 9, 9}
		if err := json.Unmarshal([]byte(s), &c); err == nil || !strings.Contains(err.Error(), "[L, a, b]") {
			t.Errorf("%s is read as %v, %v", s, c, err)
		}
	}
}
