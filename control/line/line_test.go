package line_test

import (
	"context"
	"errors"
	"slices"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/physic"

	"leavend/control/line"
)

// pin is a line that remembers levels and can fail. Everything but Out fails
// the test, for on a real character device a read would change the line.
type pin struct {
	t *testing.T

	mu     sync.Mutex // guards what follows
	levels []gpio.Level
	fail   error
}

func (p *pin) Out(l gpio.Level) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.fail != nil {
		return p.fail
	}
	p.levels = append(p.levels, l)
	return nil
}

func (p *pin) level() gpio.Level {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.levels[len(p.levels)-1]
}

func (p *pin) setFail(err error) {
	p.mu.Lock()
	p.fail = err
	p.mu.Unlock()
}

func (p *pin) Name() string                          { return "GPIO17" }
func (p *pin) Number() int                           { return 17 }
func (p *pin) String() string                        { p.t.Error("String reads the line"); return "" }
func (p *pin) Halt() error                           { p.t.Error("Halt was called"); return nil }
func (p *pin) Function() string                      { p.t.Error("Function reads the line"); return "" }
func (p *pin) PWM(gpio.Duty, physic.Frequency) error { p.t.Error("PWM was called"); return nil }

func TestLowFirstAndNeverRead(t *testing.T) {
	p := &pin{t: t}
	d, err := line.New(p)
	if err != nil {
		t.Fatal(err)
	}
	ctx := context.Background()
	_ = d.On(ctx, time.Hour)
	_ = d.On(ctx, time.Hour)
	_ = d.Off(ctx)
	_ = d.String()
	if want := []gpio.Level{gpio.Low, gpio.High, gpio.High, gpio.Low}; !slices.Equal(p.levels, want) {
		t.Fatalf("levels %v, want %v", p.levels, want)
	}
}

func TestLeaseEndsByItself(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := &pin{t: t}
		d, _ := line.New(p)
		ctx := context.Background()
		_ = d.On(ctx, time.Minute)
		time.Sleep(50 * time.Second)
		_ = d.On(ctx, time.Minute)
		time.Sleep(59 * time.Second)
		synctest.Wait()
		if p.level() != gpio.High {
			t.Fatal("the renewed lease ended early")
		}
		time.Sleep(2 * time.Second)
		synctest.Wait()
		if p.level() != gpio.Low {
			t.Fatal("the lease did not end")
		}
	})
}

func TestLapseThatFailsIsTriedAgainAndTold(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p := &pin{t: t}
		d, _ := line.New(p)
		ctx := context.Background()
		_ = d.On(ctx, time.Second)
		p.setFail(errors.New("input/output error"))
		time.Sleep(5 * time.Second)
		synctest.Wait()
		if err := d.On(ctx, time.Minute); err == nil {
			t.Fatal("on was accepted over a lapse that failed")
		}
		p.setFail(nil)
		time.Sleep(2 * time.Second)
		synctest.Wait()
		if p.level() != gpio.Low {
			t.Fatal("the lapse was not tried again")
		}
		_ = d.Off(ctx)
		if err := d.On(ctx, time.Minute); err != nil {
			t.Fatalf("after all is well: %v", err)
		}
		_ = d.Off(ctx)
	})
}

func TestOffWorksAfterCancel(t *testing.T) {
	p := &pin{t: t}
	d, _ := line.New(p)
	ctx, cancel := context.WithCancel(context.Background())
	_ = d.On(ctx, time.Hour)
	cancel()
	if err := d.On(ctx, time.Hour); err == nil {
		t.Fatal("on after cancel")
	}
	if err := d.Off(ctx); err != nil || p.level() != gpio.Low {
		t.Fatalf("off after cancel: %v", err)
	}
}

func TestNewNeedsTheSafeLevel(t *testing.T) {
	if _, err := line.New(&pin{t: t, fail: errors.New("busy")}); err == nil {
		t.Fatal("a pin that cannot be driven low was taken")
	}
}
