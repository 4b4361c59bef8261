package setup

import (
	"context"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/notify"
	"leavend/cmd/leavend/internal/text"
	"leavend/cmd/leavend/internal/web"
)

// Recipients are who is told, as the config says.
func (w *Setup) Recipients(context.Context) (web.Recipients, error) {
	conf, _, err := w.present()
	if err != nil {
		return web.Recipients{}, err
	}
	hours := w.m.Rules().Hours()
	out := web.Recipients{SleepFrom: hours.AsleepFrom, SleepTo: hours.AsleepTo, Blocked: w.Blocked()}
	for _, r := range conf.Notify {
		one := web.Recipient{Name: r.Name, About: web.About(kindNames(r.Kinds))}
		if r.QuietFrom != r.QuietTo {
			one.QuietFrom, one.QuietTo = r.QuietFrom.String(), r.QuietTo.String()
		}
		if address, err := r.URL.Reveal(); err == nil {
			one.Kind, _, _ = strings.Cut(address, "://")
		}
		out.All = append(out.All, one)
	}
	return out, nil
}

// kindNames are kinds of message as plain text.
func kindNames(kinds []config.NoticeKind) (out []string) {
	for _, k := range kinds {
		out = append(out, string(k))
	}
	return out
}

// TryAddress sends a test to an address now.
func (w *Setup) TryAddress(ctx context.Context, address string) error {
	conf, _, err := w.present()
	if err != nil {
		return err
	}
	to := notify.Recipient{Recipient: config.Recipient{Name: "test"}, Address: func() (string, string, error) { return address, "", nil }}
	var failed error
	if err := notify.Try(ctx, []notify.Recipient{to}, "", notify.OptsOf(conf), func(_ string, err error) { failed = err }); err != nil {
		return err
	}
	if failed != nil {
		return &failure.Refusal{Code: "tell", Say: text.Say("refused.test", text.Cause("err", failed))}
	}
	return nil
}

// SetRecipient writes a recipient into the config, and its address into a file
// beside it that only leavend reads.
func (w *Setup) SetRecipient(_ context.Context, r web.Recipient, address string) (begin func(), err error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	conf, before, err := w.present()
	if err != nil {
		return nil, err
	}
	i := slices.IndexFunc(conf.Notify, func(have config.Recipient) bool { return have.Name == r.Name })
	if i < 0 && address == "" {
		return nil, &failure.Refusal{Code: "tell", Say: text.Say("refused.tell_new")}
	}
	settings := []config.Setting{{Key: "kinds", Value: kindList(r.About)}, {Key: "quiet_to", Value: strconv.Quote(r.QuietTo)}, {Key: "quiet_from", Value: strconv.Quote(r.QuietFrom)}}
	if r.QuietFrom == "" { // equal hours are none
		settings[1].Value, settings[2].Value = `"00:00"`, `"00:00"`
	}
	file := filepath.Join(filepath.Dir(w.file), r.Name+"-url")
	if address != "" {
		if _, err := notify.Open(address, ""); err != nil {
			return nil, &failure.Refusal{Code: "tell", Say: text.Say("refused.tell_address", text.Cause("err", err))}
		}
		if i >= 0 && !conf.Notify[i].URL.From(file) {
			return nil, &failure.Refusal{Code: "tell", Say: text.Say("refused.tell_elsewhere")}
		}
		settings = append(settings, config.Setting{Key: "url_file", Value: strconv.Quote(filepath.Base(file))})
	}
	after, err := config.Edit(before, w.file, "notify", r.Name, settings...)
	if err != nil {
		return nil, &failure.Refusal{Code: "config", Say: problems(err)}
	}
	if address != "" {
		if err := os.WriteFile(file, []byte(address+"\n"), 0o600); err != nil {
			return nil, &failure.Refusal{Code: "config", Say: text.Say("refused.address_unsaved", text.Cause("err", err))}
		}
	}
	return w.keepText(before, after)
}

// kindList are the kinds of message of some topics, as TOML.
func kindList(about []string) string {
	var kinds []string
	for _, t := range web.Topics() {
		if slices.Contains(about, t.Name) {
			for _, k := range t.Kinds {
				kinds = append(kinds, strconv.Quote(k))
			}
		}
	}
	return "[" + strings.Join(kinds, ", ") + "]"
}

// RemoveRecipient takes a recipient out of the config, and its address away.
func (w *Setup) RemoveRecipient(_ context.Context, name string) (begin func(), err error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	conf, before, err := w.present()
	if err != nil {
		return nil, err
	}
	if !slices.ContainsFunc(conf.Notify, func(r config.Recipient) bool { return r.Name == name }) {
		return nil, failure.ErrUnknown
	}
	after, err := config.Remove(before, w.file, "notify", name)
	if err != nil {
		return nil, &failure.Refusal{Code: "config", Say: problems(err)}
	}
	if begin, err = w.keepText(before, after); err == nil {
		_ = os.Remove(filepath.Join(filepath.Dir(w.file), name+"-url")) // of one added by hand there is none
	}
	return begin, err
}

// keepText saves a config and returns what has the daemon start with it.
func (w *Setup) keepText(before, after []byte) (begin func(), err error) {
	if err := w.save(after); err != nil {
		return nil, err
	}
	return func() { w.restart(before) }, nil
}
