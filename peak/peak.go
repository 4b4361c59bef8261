// Package peak reads the curve a starter draws between two feeds: it finds
// the feed, follows the rise, forecasts the top and calls it.
package peak
