package setup

import (
	"context"
	"errors"
	"slices"
	"strconv"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/failure"
)

// Rename gives a vessel another name; its history stays with it.
func (w *Setup) Rename(_ context.Context, slug, name string) error {
	return w.changeVessel(slug, func(file []byte, v config.Vessel) ([]byte, error) {
		return config.RenameVessel(file, w.file, v.Name, name)
	})
}

// Remove takes a vessel out of the config; its history stays in the store.
func (w *Setup) Remove(_ context.Context, slug string) error {
	return w.changeVessel(slug, func(file []byte, v config.Vessel) ([]byte, error) {
		return config.RemoveVessel(file, w.file, v.Name)
	})
}

// SetFloor says how far below its sensor the floor of a vessel is. Heights of the
// past stay as they were taken.
func (w *Setup) SetFloor(_ context.Context, slug string, mm float64) error {
	return w.changeVessel(slug, func(file []byte, v config.Vessel) ([]byte, error) {
		return config.Edit(file, w.file, "vessel", v.Name, config.Setting{Key: "floor_mm", Value: strconv.FormatFloat(mm, 'f', 1, 64)})
	})
}

func (w *Setup) changeVessel(slug string, edit func([]byte, config.Vessel) ([]byte, error)) error {
	return w.change(func(conf *config.Config, file []byte) ([]byte, error) {
		i := slices.IndexFunc(conf.Vessels, func(v config.Vessel) bool { return v.Slug == slug })
		if i < 0 {
			return nil, failure.ErrUnknown
		}
		return edit(file, conf.Vessels[i])
	})
}

// change edits the config, saves it, and has the daemon start again with it.
func (w *Setup) change(edit func(*config.Config, []byte) ([]byte, error)) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	conf, before, err := w.present()
	if err != nil {
		return err
	}
	after, err := edit(conf, before)
	switch {
	case errors.Is(err, failure.ErrUnknown):
		return err
	case errors.Is(err, config.ErrWarmed):
		return &failure.Refusal{Code: "warmed"}
	case err != nil:
		return &failure.Refusal{Code: "config", Say: problems(err)}
	case string(after) == string(before):
		return nil
	}
	begin, err := w.keepText(before, after)
	if err != nil {
		return err
	}
	w.log.Info("the configuration was changed from the page; restarting")
	begin()
	return nil
}
