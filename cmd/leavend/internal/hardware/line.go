package hardware

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"golang.org/x/sys/unix"
	"periph.io/x/conn/v3/driver/driverreg"
	"periph.io/x/conn/v3/gpio"
	"periph.io/x/host/v3/gpioioctl"
)

// OpenLine takes one GPIO line as an output that is low from the first
// request on. The chip is a path such as /dev/gpiochip0, or empty for the
// board's main one; the line is an offset on that chip ("17") or a name the
// kernel gives it ("GPIO17").
//
// It goes through periph's character-device package alone. host.Init is never
// called: on older boards it would replace the line with a memory-mapped pin
// of the same name, which the kernel does not own and no setting can make
// safe. Call it before the daemon opens anything else or starts goroutines:
// see keepStdin.
func OpenLine(chip, line string) (gpio.PinOut, error) {
	c, l, err := seekLine(chip, line)
	if err != nil {
		return nil, err
	}
	return takeLow(c, l)
}

// seekLine finds a line that no program holds, and leaves it as it is.
func seekLine(chip, line string) (*gpioioctl.GPIOChip, *gpioioctl.GPIOLine, error) {
	if err := keepStdin(func() error { _, err := driverreg.Init(); return err }); err != nil {
		return nil, nil, fmt.Errorf("gpio: %w", err)
	}
	c, err := findChip(chip)
	if err != nil {
		return nil, nil, err
	}
	l, err := findLine(c, line)
	if err != nil {
		return nil, nil, err
	}
	if who := l.Consumer(); who != "" {
		return nil, nil, fmt.Errorf("gpio %s line %d: held by %s; stop that program first", c.Path(), l.Number(), who)
	}
	return c, l, nil
}

// takeLow requests the line. A line set makes it an output, low, in one call
// to the kernel, but finds its lines by name; a line without a name of its
// own is taken in two calls instead, the first of which leaves it as it is
// and the second makes it an output that is low.
func takeLow(c *gpioioctl.GPIOChip, l *gpioioctl.GPIOLine) (gpio.PinOut, error) {
	if c.ByName(l.Name()) != l {
		if err := l.Out(gpio.Low); err != nil {
			return nil, fmt.Errorf("gpio %s line %d: %w", c.Path(), l.Number(), err)
		}
		return l, nil
	}
	set, err := c.LineSet(gpioioctl.LineOutput, gpio.NoEdge, gpio.PullNoChange, l.Name())
	if err != nil {
		return nil, fmt.Errorf("gpio %s line %d: %w", c.Path(), l.Number(), err)
	}
	return set.Lines()[0], nil
}

// findChip returns the chip at a path, through symbolic links, or the first.
func findChip(path string) (*gpioioctl.GPIOChip, error) {
	if len(gpioioctl.Chips) == 0 {
		return nil, errors.New("gpio: the kernel shows no chip at /dev/gpiochip*; is this a board, and may this user open it?")
	}
	if path == "" {
		return gpioioctl.Chips[0], nil
	}
	real, err := filepath.EvalSymlinks(path)
	if err != nil {
		return nil, fmt.Errorf("gpio: %w", err)
	}
	for _, c := range gpioioctl.Chips {
		if c.Path() == path || c.Path() == real || c.Name() == filepath.Base(real) {
			return c, nil
		}
	}
	return nil, fmt.Errorf("gpio %s: could not be opened as a GPIO chip", path)
}

// findLine returns a line by its offset or its name.
func findLine(c *gpioioctl.GPIOChip, line string) (*gpioioctl.GPIOLine, error) {
	for _, l := range c.Lines() {
		if fmt.Sprint(l.Number()) == line || l.Name() != "" && l.Name() == line {
			return l, nil
		}
	}
	return nil, fmt.Errorf("gpio %s: has no line %q; give an offset from 0 to %d or a name that gpioinfo shows", c.Path(), line, c.LineCount()-1)
}

// keepStdin runs f, which may close descriptor 0: periph does when a chip
// appears under two names. The next file opened would then get number 0,
// which periph takes for "not requested". The gap is filled again with what
// was there; should another file have slipped in, that is an error, and the
// reason why OpenLine comes first.
func keepStdin(f func() error) error {
	saved, err := unix.FcntlInt(0, unix.F_DUPFD_CLOEXEC, 3)
	if err != nil {
		// Nothing is open at 0: fill it, for the same reason.
		saved, err = unix.Open(os.DevNull, unix.O_RDONLY|unix.O_CLOEXEC, 0)
		if err != nil {
			return fmt.Errorf("open %s: %w", os.DevNull, err)
		}
		if saved == 0 {
			return f()
		}
	}
	defer unix.Close(saved)
	err = f()
	var now, was unix.Stat_t
	if unix.Fstat(0, &now) != nil {
		return errors.Join(err, unix.Dup2(saved, 0))
	}
	if unix.Fstat(saved, &was) == nil && (was.Dev != now.Dev || was.Ino != now.Ino) {
		return errors.Join(err, errors.New("another file was opened while the chips were listed; open the line first"))
	}
	return err
}
