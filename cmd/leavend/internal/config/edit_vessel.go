package config

import (
	"errors"
	"fmt"
	"slices"
)

// ErrWarmed is returned for a vessel that the mat warms: it cannot be taken away.
var ErrWarmed = errors.New("the mat is controlled by its thermometer; set the mat to another jar or bowl first, or take it out of the configuration")

// RenameVessel returns the text of a configuration in which a vessel has another
// name, and everything else, comments too, as it was. Its history, topics and
// metrics stay: they stand under its slug, which is written down.
func RenameVessel(text []byte, path, from, to string) ([]byte, error) {
	conf, err := Parse(text, path)
	if err != nil {
		return nil, err
	}
	v, ok := conf.Vessel(from)
	if !ok {
		return nil, fmt.Errorf("config: rename %q in %s: no vessel has that name", from, path)
	}
	type change struct {
		table, name string
		Setting
	}
	changes := []change{{"vessel", from, Setting{"slug", quote(v.Slug)}}}
	if slices.ContainsFunc(conf.Vessels, func(o Vessel) bool { return o.Name != from && o.Starter == v.Starter && v.Starter != "" }) {
		changes = append(changes, change{"vessel", from, Setting{"starter", quote(v.Starter)}})
	}
	if conf.Mat.Vessel == from {
		changes = append(changes, change{"mat", "", Setting{"vessel", quote(to)}})
	}
	for _, c := range append(changes, change{"vessel", from, Setting{"name", quote(to)}}) {
		if text, err = set(text, c.table, c.name, c.Setting); err != nil {
			return nil, fmt.Errorf("config: set %s in %s: %w", c.Key, path, err)
		}
	}
	if _, err := Parse(text, path); err != nil {
		return nil, err
	}
	return text, nil
}

// RemoveVessel returns the text of a configuration without a vessel, and without
// the sensors that nothing else uses, so that they are found as free. Everything
// else is as it was.
func RemoveVessel(text []byte, path, name string) ([]byte, error) {
	conf, err := Parse(text, path)
	if err != nil {
		return nil, err
	}
	v, ok := conf.Vessel(name)
	switch {
	case !ok:
		return nil, fmt.Errorf("config: remove %q from %s: no vessel has that name", name, path)
	case conf.Mat.Vessel == name:
		return nil, ErrWarmed
	}
	if text, err = Remove(text, path, "vessel", name); err != nil {
		return nil, err
	}
	for _, sensor := range []string{v.Distance, v.Temperature} {
		if without, err := Remove(text, path, "sensor", sensor); err == nil { // else something needs it
			text = without
		}
	}
	return text, nil
}
