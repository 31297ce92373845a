package exchange

import (
	"encoding/json"
	"errors"
	"math"
	"os"
	"strings"
	"testing"
	"time"

	"lyefast/internal/testkit"
)

// sharedFile reads one of the sample files.
func sharedFile(t testing.TB, name string) []byte {
	t.Helper()
	data, err := os.ReadFile(testkit.Shared(t, "reference/exchange/"+name))
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// want is a reading of expected.json.
type want struct {
	ID         string    `json:"id"`
	Name       string    `json:"name"`
	Type       string    `json:"type"`
	Created    string    `json:"created"`
	Lab        []float64 `json:"lab"`
	L, A, B    float64
	At         string  `json:"at"`
	Illuminant *string `json:"illuminant"`
	Observer   *int    `json:"observer_deg"`
	Mode       string  `json:"mode"`
	TimeKnown  *bool   `json:"time_known"`
	Spec       struct {
		Illuminant string
		Observer   string
		Increment  *float64 `json:"increment_nm"`
	} `json:"spec"`
	Spectrum *struct {
		From   float64 `json:"from_nm"`
		Values int     `json:"values"`
	} `json:"spectrum"`
}

type expected struct {
	CGATS map[string]struct {
		Fields, Sets int
		Illuminant   string
		Observer     int       `json:"observer_deg"`
		Created      string    `json:"created"`
		LabFirst     []float64 `json:"lab_first"`
		LabLast      []float64 `json:"lab_last"`
		FirstID      string    `json:"first_id"`
		FirstName    string    `json:"first_name"`
		LastName     string    `json:"last_name"`
		Spectrum     *struct {
			From       float64 `json:"from_nm"`
			To         float64 `json:"to_nm"`
			Bands      int
			FirstFirst float64 `json:"first_sample_first"`
			FirstLast  float64 `json:"first_sample_last"`
			LastLast   float64 `json:"last_sample_last"`
		}
	}
	CxF map[string]struct {
		Objects int
		Created string
		List    []want
	}
	CSV map[string]struct {
		Delimiter, Decimal string
		Readings           []want
		Rejected           []struct {
			Line int
			Why  string
		}
		RejectedFile string `json:"rejected_file"`
		Spectrum     *struct {
			From  float64 `json:"from_nm"`
			To    float64 `json:"to_nm"`
			Bands int
			Unit  string
		}
	}
}

func same(t *testing.T, what string, got, want any) {
	t.Helper()
	if got != want {
		t.Errorf("%s: got %v, want %v", what, got, want)
	}
}

func sameLab(t *testing.T, what string, s Sample, want []float64) {
	t.Helper()
	if c := triple(s.Lab); c != [3]float64(want) {
		t.Errorf("%s: lab %v, want %v", what, c, want)
	}
}

// The sample files and what a reader must get from each: expected.json of the
// shared reference data. Files and licences are named in its README.
func TestSharedSamples(t *testing.T) {
	var exp expected
	if err := json.Unmarshal(sharedFile(t, "expected.json"), &exp); err != nil {
		t.Fatal(err)
	}
	if len(exp.CGATS) != 3 || len(exp.CxF) != 3 || len(exp.CSV) != 4 {
		t.Fatalf("expected.json is not as known: %d, %d, %d files", len(exp.CGATS), len(exp.CxF), len(exp.CSV))
	}
	for name, e := range exp.CGATS {
		t.Run(name, func(t *testing.T) {
			im, err := Read(sharedFile(t, "cgats/"+name), name, Options{})
			if err != nil {
				t.Fatal(err)
			}
			same(t, "format", im.Format, CGATS)
			same(t, "created", im.Created, e.Created)
			same(t, "fields", len(im.Columns), e.Fields)
			same(t, "sets", len(im.Readings), e.Sets)
			same(t, "skipped", len(im.Skipped), 0)
			first, last := im.Readings[0], im.Readings[len(im.Readings)-1]
			for _, s := range im.Readings {
				same(t, "illuminant", s.Illuminant, e.Illuminant)
				same(t, "observer", s.Observer, e.Observer)
				same(t, "illuminant from", s.IlluminantFrom, Stated)
				same(t, "observer from", s.ObserverFrom, Stated)
				if s.LabD65 == nil {
					t.Errorf("line %d has no colour for D65", s.Line)
				}
				same(t, "taken at", s.TakenAt.String(), "")
			}
			same(t, "first id", first.ID, e.FirstID)
			if e.FirstName != "" {
				same(t, "first name", first.Name, e.FirstName)
				same(t, "last name", last.Name, e.LastName)
			}
			if e.LabFirst != nil {
				sameLab(t, "first", first, e.LabFirst)
				sameLab(t, "last", last, e.LabLast)
			}
			if e.Spectrum != nil {
				for _, s := range []Sample{first, last} {
					same(t, "bands", len(s.Spectrum.NM), e.Spectrum.Bands)
					same(t, "from", s.Spectrum.NM[0], e.Spectrum.From)
					same(t, "to", s.Spectrum.NM[e.Spectrum.Bands-1], e.Spectrum.To)
				}
				same(t, "first", first.Spectrum.R[0], e.Spectrum.FirstFirst)
				same(t, "first, last band", first.Spectrum.R[e.Spectrum.Bands-1], e.Spectrum.FirstLast)
				same(t, "last, last band", last.Spectrum.R[e.Spectrum.Bands-1], e.Spectrum.LastLast)
			}
		})
	}
	for name, e := range exp.CxF {
		t.Run(name, func(t *testing.T) {
			im, err := Read(sharedFile(t, "cxf/"+name), name, Options{})
			same(t, "format", im.Format, CxF)
			same(t, "created", im.Created, e.Created)
			if e.Objects == 0 {
				var d *Declined
				if !errors.As(err, &d) || !strings.Contains(d.Reason, "no objects") {
					t.Errorf("a file without objects: got %v", err)
				}
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			same(t, "objects", len(im.Readings), e.Objects)
			for i, w := range e.List {
				s := im.Readings[i]
				same(t, "id", s.ID, w.ID)
				same(t, "name", s.Name, w.Name)
				same(t, "type", s.Type, w.Type)
				same(t, "taken at", s.TakenAt.String(), w.Created)
				sameLab(t, s.Name, s, w.Lab)
				same(t, "illuminant", s.Illuminant, w.Spec.Illuminant)
				same(t, "observer", s.Observer, observerDegrees(w.Spec.Observer))
				same(t, "stated", s.IlluminantFrom, Stated)
				if w.Spectrum == nil {
					same(t, "no spectrum", s.Spectrum == nil, true)
					continue
				}
				same(t, "from", s.Spectrum.NM[0], w.Spectrum.From)
				same(t, "values", len(s.Spectrum.R), w.Spectrum.Values)
				same(t, "step", s.Spectrum.NM[1]-s.Spectrum.NM[0], *w.Spec.Increment)
				// The spectrum agrees with the file's own L*a*b*, so it is used.
				same(t, "D65 from", s.LabD65From, "spectrum")
			}
		})
	}
	for name, e := range exp.CSV {
		t.Run(name, func(t *testing.T) {
			im, err := Read(sharedFile(t, "csv/"+name), name, Options{})
			if e.RejectedFile != "" {
				var d *Declined
				if !errors.As(err, &d) || !strings.Contains(d.Error(), "meter of light") {
					t.Errorf("got %v", err)
				}
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			same(t, "format", im.Format, CSV)
			same(t, "delimiter", im.Delimiter, e.Delimiter)
			same(t, "decimal", im.Decimal, e.Decimal)
			if len(im.Readings) != len(e.Readings) {
				t.Fatalf("%d readings, want %d", len(im.Readings), len(e.Readings))
			}
			for i, w := range e.Readings {
				s := im.Readings[i]
				same(t, "name", s.Name, w.Name)
				sameLab(t, s.Name, s, []float64{w.L, w.A, w.B})
				same(t, "taken at", s.TakenAt.String(), w.At)
				same(t, "mode", s.Mode, w.Mode)
				same(t, "time known", s.TakenAt.TimeKnown, w.TimeKnown == nil || *w.TimeKnown)
				if w.TimeKnown != nil {
					same(t, "noon", s.TakenAt.Time.Hour(), 12)
					same(t, "doubt", s.TakenAt.Doubt(), 12*time.Hour)
				}
				if w.Illuminant != nil {
					same(t, "illuminant", s.Illuminant, *w.Illuminant)
				}
				same(t, "illuminant stated", s.IlluminantFrom == Stated, w.Illuminant != nil)
				if w.Observer != nil {
					same(t, "observer", s.Observer, *w.Observer)
				}
				same(t, "observer stated", s.ObserverFrom == Stated, w.Observer != nil)
				if e.Spectrum != nil {
					same(t, "from", s.Spectrum.NM[0], e.Spectrum.From)
					same(t, "to", s.Spectrum.NM[e.Spectrum.Bands-1], e.Spectrum.To)
					same(t, "bands", len(s.Spectrum.R), e.Spectrum.Bands)
				}
			}
			if len(im.Skipped) != len(e.Rejected) {
				t.Fatalf("skipped %v, want %v", im.Skipped, e.Rejected)
			}
			for i, w := range e.Rejected {
				same(t, "line", im.Skipped[i].Line, w.Line)
				same(t, "why", im.Skipped[i].Reason, w.Why)
				same(t, "rejected", im.Skipped[i].Rejected, true)
			}
		})
	}
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if math.IsNaN(got) || math.Abs(got-want) > tolerance {
		t.Errorf("%s: got %v, want %v ± %v", what, got, want, tolerance)
	}
}
