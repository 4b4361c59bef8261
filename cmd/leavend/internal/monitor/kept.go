package monitor

import (
	"context"
	"errors"
	"fmt"
	"sync"
)

// kept are values that the store keeps by name, and that are looked up without it.
type kept[T any] struct {
	mu   sync.Mutex // guards last
	last map[string]T
}

// of is the value of a name; zero where there is none.
func (k *kept[T]) of(name string) T {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.last[name]
}

func (k *kept[T]) note(name string, v T) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.last == nil {
		k.last = map[string]T{}
	}
	k.last[name] = v
}

// read takes in what the store knows.
func (k *kept[T]) read(ctx context.Context, load func(context.Context, string, any) (bool, error), name string) error {
	var v T
	_, err := load(ctx, name, &v)
	k.note(name, v)
	return err
}

// set puts a value in the place of the last. It is on the disk before it counts.
func (k *kept[T]) set(ctx context.Context, save func(context.Context, string, any) error, name string, v T) error {
	if err := save(ctx, name, v); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	k.note(name, v)
	return nil
}

// OpenKept recalls what the baker said: which jars are in the fridge, which feeds were
// used, the hours, the recipes and the holiday. Not knowing it costs a message too many or too early, so the
// start goes on.
func (m *Monitor) OpenKept(ctx context.Context) error {
	errs := []error{m.changes.read(ctx, m.Store)}
	for _, v := range m.Conf.Vessels {
		errs = append(errs,
			m.Fridge.since.read(ctx, m.Store.States.Setting, FridgeSetting(v.Slug)),
			m.Fridge.stays.read(ctx, m.Store.States.State, staysState(v.Slug)),
			m.Uses.last.read(ctx, m.Store.States.Setting, usedSetting(v.Slug)))
	}
	if err := errors.Join(errs...); err != nil {
		m.Log.Error("what was said of fridge, use, hours, recipes and holiday cannot be read", "err", err)
	}
	return nil
}
