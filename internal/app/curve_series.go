package app

import (
	"context"
	"fmt"
	"math"
	"runtime"
	"sync"

	"lyefast/internal/cie"
	"lyefast/internal/exchange"
	"lyefast/internal/kinetics"
)

// SeriesQuery forecasts straight from a file of dated readings.
type SeriesQuery struct {
	Data []byte
	File string
	// Until leaves out readings of later days, to half a day; negative takes all.
	Until float64
	// Day is the day to forecast.
	Day float64
	// Each is given every series in the order of the file as it is done; nil for none.
	Each func(SeriesForecast) error
	// Progress is told how far it is, if not nil.
	Progress func(done, all int)
}

// SeriesForecast is one series' forecast: the probabilities of the patterns, and the
// noise-free colour with its 5 % and 95 % points.
type SeriesForecast struct {
	Series   string      `json:"series"`
	Day      float64     `json:"day"`
	Readings int         `json:"readings"`
	Pattern  PatternSaid `json:"pattern"`
	Median   cie.Lab     `json:"median"`
	P05      cie.Lab     `json:"p05"`
	P95      cie.Lab     `json:"p95"`
	Hex      string      `json:"hex"`
}

// SeriesSaid is a whole file's forecast.
type SeriesSaid struct {
	Day      float64
	Series   []SeriesForecast
	Warnings []string
}

// halfDay is how late a reading may be and still be of a day.
const halfDay = 0.5

// ForecastSeries forecasts every series of a file. It needs no book.
func (a *App) ForecastSeries(ctx context.Context, q SeriesQuery) (*SeriesSaid, error) {
	if !(q.Day >= 0 && q.Day <= kinetics.MaxDay) {
		return nil, invalid("", "day %g is outside 0–%g", q.Day, kinetics.MaxDay)
	}
	if math.IsNaN(q.Until) {
		return nil, invalid("", "--until is no number")
	}
	table, err := exchange.ReadSeries(q.Data)
	if err != nil {
		return nil, declined(err)
	}
	out := &SeriesSaid{Day: q.Day, Warnings: table.Warnings}
	if len(table.Ignored) > 0 {
		out.Warnings = append(out.Warnings, fmt.Sprintf("columns not read: %s", quoted(table.Ignored)))
	}
	err = inOrder(ctx, len(table.Series), func(i int) (SeriesForecast, error) {
		return forecastSeries(&table.Series[i], q)
	}, func(i int, s SeriesForecast) error {
		out.Series = append(out.Series, s)
		if q.Progress != nil {
			q.Progress(i+1, len(table.Series))
		}
		if q.Each != nil {
			return q.Each(s)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return out, nil
}

func forecastSeries(s *exchange.Series, q SeriesQuery) (SeriesForecast, error) {
	out := SeriesForecast{Series: s.Name, Day: q.Day}
	var pts []kinetics.Point
	for _, p := range s.Points {
		if q.Until >= 0 && p.Day > q.Until+halfDay {
			continue
		}
		pts = append(pts, kinetics.Point{Day: p.Day, Lab: p.Lab})
	}
	out.Readings = len(pts)
	if len(pts) > kinetics.MaxPoints {
		pts = thinned(pts)
	}
	c, err := kinetics.Fit(pts, kinetics.DefaultPrior())
	if err != nil {
		return out, invalid("", "series %q: %v", clipped(s.Name), err)
	}
	out.Pattern.Holds, out.Pattern.Returns, out.Pattern.Settles, out.Pattern.Fades = c.Pattern()
	band := c.At(q.Day)
	out.Median, out.P05, out.P95, out.Hex = band.Median, band.P05, band.P95, band.Median.Hex()
	return out, nil
}

// inOrder works n things out on all processors and hands the results over in order,
// holding back no more than it must.
func inOrder[T any](ctx context.Context, n int, work func(int) (T, error), give func(int, T) error) error {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	type result struct {
		v   T
		err error
	}
	workers := min(runtime.GOMAXPROCS(0), max(n, 1))
	results := make([]chan result, n)
	for i := range results {
		results[i] = make(chan result, 1)
	}
	next := make(chan int)
	var wg sync.WaitGroup
	for range workers {
		wg.Go(func() {
			for i := range next {
				v, err := work(i)
				results[i] <- result{v, err}
			}
		})
	}
	wg.Go(func() {
		defer close(next)
		for i := range n {
			select {
			case next <- i:
			case <-ctx.Done():
				return
			}
		}
	})
	defer wg.Wait()
	defer stop()
	for i := range n {
		select {
		case r := <-results[i]:
			if r.err != nil {
				return r.err
			}
			if err := give(i, r.v); err != nil {
				return err
			}
		case <-ctx.Done():
			return ctx.Err()
		}
	}
	return nil
}
