// Package control holds the heat mat: the thermostat that steers it to a
// setpoint and the guard that takes permission away.
//
// It is a controller, not a safety device. A mat needs an independent thermal
// cut-out of its own.
package control
