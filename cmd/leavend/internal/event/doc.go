// Package event is the bottom of the application: what can happen (a closed set
// of kinds), what can be wrong (alarms), the hub that carries both from those
// who measure to those who store and tell, and the clock they all go by.
package event
