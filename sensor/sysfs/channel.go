package sysfs

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"leavend/sensor/internal/blocking"
)

// channel is the open files of one channel. Scale and offset are read once:
// they change only when a driver is loaded again, and then the files are gone.
type channel struct {
	value         *blocking.File
	fault         *blocking.File // of hwmon: reads 1 when the sensor is broken; nil if there is none
	scale, offset float64
}

// openChannel finds out how the channel is to be read.
func openChannel(dir, input string) (*channel, error) {
	has := func(name string) bool {
		_, err := os.Stat(filepath.Join(dir, name))
		return err == nil
	}
	c := &channel{scale: 1}
	if has(input + "_fault") {
		c.fault = blocking.NewFile(filepath.Join(dir, input+"_fault"))
	}
	if has(input + "_input") {
		c.value = blocking.NewFile(filepath.Join(dir, input+"_input"))
		return c, nil
	}
	if !has(input + "_raw") {
		return nil, fmt.Errorf("%s has no channel %s; it has: %s", dir, input, strings.Join(inputs(dir), ", "))
	}
	c.value = blocking.NewFile(filepath.Join(dir, input+"_raw"))
	var err error
	if c.scale, err = optional(dir, input, "_scale", math.NaN()); err != nil {
		return nil, err
	}
	if math.IsNaN(c.scale) {
		return nil, fmt.Errorf("channel %s has no scale, so its numbers have no unit", input)
	}
	c.offset, err = optional(dir, input, "_offset", 0)
	return c, err
}

// optional reads a number that may be given for the channel or, without its
// index, for all channels of its kind: in_temp0_scale or in_temp_scale.
func optional(dir, input, suffix string, preset float64) (float64, error) {
	kind := strings.TrimRight(input, "0123456789")
	for _, name := range []string{input, kind} {
		text, err := os.ReadFile(filepath.Join(dir, name+suffix))
		if errors.Is(err, os.ErrNotExist) {
			continue
		}
		if err != nil {
			return 0, err
		}
		return number(text)
	}
	return preset, nil
}

// read returns the value in the file's unit.
func (c *channel) read() (float64, error) {
	if c.fault != nil {
		text, err := c.fault.Read()
		if err != nil {
			return 0, err
		}
		if !bytes.Equal(bytes.TrimSpace(text), []byte("0")) {
			return 0, errors.New("the kernel reports a fault of the sensor: open or shorted")
		}
	}
	text, err := c.value.Read()
	if err != nil {
		return 0, err
	}
	raw, err := number(text)
	return (raw + c.offset) * c.scale, err
}

// close closes the files.
func (c *channel) close() {
	c.value.Close()
	if c.fault != nil {
		c.fault.Close()
	}
}

// number reads a decimal number and nothing else.
func number(text []byte) (float64, error) {
	text = bytes.TrimSpace(text)
	v, err := strconv.ParseFloat(string(text), 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return 0, fmt.Errorf("the file reads %.40q, which is no number", text)
	}
	return v, nil
}
