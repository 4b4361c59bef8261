package ultrasonic

import "math"

// Speed returns the speed of sound, m/s, in air of 0 to 30 °C at sea level
// with the given relative humidity in percent and 400 ppm of CO2, by the
// polynomial of Cramer 1993, equation 15. It is good to 0.1 m/s there; the
// pressure of the weather and of mountains matters less than that.
func Speed(tempC, humidity float64) float64 {
	const (
		p  = 101325.0 // Pa
		xc = 400e-6   // share of CO2
	)
	t, t2 := tempC, tempC*tempC
	xw := vapour(tempC, humidity, p)
	return 331.5024 + 0.603055*t - 0.000528*t2 +
		(51.471935+0.1495874*t-0.000782*t2)*xw +
		(-1.82e-7+3.73e-8*t-2.93e-10*t2)*p +
		(-85.20931-0.228525*t+5.91e-5*t2)*xc -
		2.835149*xw*xw - 2.15e-13*p*p + 29.179762*xc*xc + 0.000486*xw*p*xc
}

// vapour returns the share of water molecules in air (Cramer 1993, appendix,
// after Giacomo 1982 and Davis 1992).
func vapour(tempC, humidity, p float64) float64 {
	k := tempC + 273.15
	saturated := math.Exp(1.2811805e-5*k*k - 1.9509874e-2*k + 34.04926034 - 6.3536311e3/k)
	enhanced := 1.00062 + 3.14e-8*p + 5.6e-7*tempC*tempC
	return humidity / 100 * enhanced * saturated / p
}
