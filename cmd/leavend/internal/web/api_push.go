package web

import "net/http"

// Browser push: the page asks its browser for a subscription and hands it on.

// pushHandler tells browsers.
type pushHandler struct{ push Push }

func (h pushHandler) getPush(w http.ResponseWriter, _ *http.Request) error {
	return writeJSON(w, http.StatusOK, struct {
		Key string `json:"key"`
	}{h.push.PushKey()})
}

func (h pushHandler) postDevice(w http.ResponseWriter, r *http.Request) error {
	var in PushDevice
	if err := readBody(w, r, maxBody, &in); err != nil {
		return err
	}
	var c checks
	c.text("endpoint", in.Endpoint, 2048)
	c.text("name", in.Name, 60)
	if c.err != nil {
		return c.err
	}
	if err := h.push.AddDevice(r.Context(), in); err != nil {
		return err
	}
	return noContent(w)
}

func (h pushHandler) deleteDevice(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		Endpoint string `json:"endpoint"`
	}
	if err := readBody(w, r, maxBody, &in); err != nil {
		return err
	}
	if err := h.push.RemoveDevice(r.Context(), in.Endpoint); err != nil {
		return err
	}
	return noContent(w)
}

func (h pushHandler) postPushTest(w http.ResponseWriter, r *http.Request) error {
	if err := h.push.TryPush(r.Context()); err != nil {
		return err
	}
	return noContent(w)
}
