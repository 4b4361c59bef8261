// Package hardware opens what a configuration names: buses, GPIO lines and the
// chips on them. It is the only package that imports periph's host drivers. A
// chip that does not answer yet is opened again with each read.
package hardware
