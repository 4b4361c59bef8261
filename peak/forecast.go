package peak

// Forecast returns the present forecast; false when there are no grounds for
// one, or when the top has been called.
func (d *Detector) Forecast() (Forecast, bool) { return d.forecast, d.hasForecast }

// outlook renews the forecast and tells it every ten minutes.
func (d *Detector) outlook() {
	d.hasForecast = false
	if d.feed.called || d.feed.high-d.feed.base < d.opts.MinRiseMM {
		return
	}
	lag := d.trend.topLag(6)
	if lag >= 0 {
		return
	}
	at := d.trendAt - lag
	d.forecast = Forecast{PeakAt: d.clock.time(at), Low: d.clock.time(at + 0.4*lag), High: d.clock.time(at - 0.8*lag),
		RiseMM: d.feed.high - d.feed.base, RiseRatio: d.ratio(d.feed.high)}
	d.hasForecast = true
	if d.trendAt-d.forecastAt < 9.5/60 {
		return
	}
	d.forecastAt = d.trendAt
	f := d.forecast
	d.say(Event{Kind: EventForecast, PeakAt: f.PeakAt, Low: f.Low, High: f.High, RiseMM: f.RiseMM, RiseRatio: f.RiseRatio})
}

func (d *Detector) whyNoOutlook() string {
	switch {
	case d.feed.called:
		return "the top has been called"
	case d.feed.high-d.feed.base < d.opts.MinRiseMM:
		return "it has not risen enough"
	}
	return "the curve does not bend yet"
}
