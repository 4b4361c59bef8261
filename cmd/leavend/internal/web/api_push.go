package web

import "net/http"

// Browser push: the page asks its browser for a subscription and hands it on.

func (s *Server) getPush(w http.ResponseWriter, _ *http.Request) error {
	return writeJSON(w, http.StatusOK, struct {
		Key string `json:"key"`
	}{s.house.PushKey()})
}

func (s *Server) postDevice(w http.ResponseWriter, r *http.Request) error {
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
	if err := s.house.AddDevice(r.Context(), in); err != nil {
		return err
	}
	return noContent(w)
}

func (s *Server) deleteDevice(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		Endpoint string `json:"endpoint"`
	}
	if err := readBody(w, r, maxBody, &in); err != nil {
		return err
	}
	if err := s.house.RemoveDevice(r.Context(), in.Endpoint); err != nil {
		return err
	}
	return noContent(w)
}

func (s *Server) postPushTest(w http.ResponseWriter, r *http.Request) error {
	if err := s.house.TryPush(r.Context()); err != nil {
		return err
	}
	return noContent(w)
}
