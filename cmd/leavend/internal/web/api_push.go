package web

import "net/http"

// Browser push: the page asks its browser for a subscription and hands it on.

// pushHandler tells browsers.
type pushHandler struct{ push Push }

func (h pushHandler) getPush(*http.Request) (out struct {
	Key string `json:"key"`
}, err error) {
	out.Key = h.push.PushKey()
	return out, nil
}

func (h pushHandler) postDevice(r *http.Request, in PushDevice) error {
	var c checks
	c.text("endpoint", in.Endpoint, 2048)
	if c.text("name", in.Name, 60); c.err != nil {
		return c.err
	}
	return h.push.AddDevice(r.Context(), in)
}

func (h pushHandler) deleteDevice(r *http.Request, in struct {
	Endpoint string `json:"endpoint"`
}) error {
	return h.push.RemoveDevice(r.Context(), in.Endpoint)
}
