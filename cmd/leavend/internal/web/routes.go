package web

import (
	"log/slog"
	"net/http"
	"slices"
)

// who says which right a route asks for.
type who int

const (
	anyone who = iota
	reader
	changer
)

// route is one line of the API. openapi.json describes the same lines, and a
// test holds the two together.
type route struct {
	method, path string
	who          who
	serve        func(*Server, http.ResponseWriter, *http.Request) error
}

func apiRoutes() []route {
	return append(houseRoutes(), walkRoutes()...)
}

// houseRoutes are those that a House answers.
func houseRoutes() []route {
	return []route{
		{"GET", "/api/openapi.json", anyone, (*Server).getOpenAPI},
		{"GET", "/api/session", anyone, (*Server).getSession},
		{"POST", "/api/session", anyone, (*Server).postSession},
		{"DELETE", "/api/session", anyone, (*Server).deleteSession},
		{"PUT", "/api/password", anyone, (*Server).putPassword},

		{"GET", "/api/now", reader, (*Server).getNow},
		{"GET", "/api/events", reader, (*Server).getEvents},
		{"GET", "/api/setup", reader, (*Server).getSetup},

		{"GET", "/api/vessels/{vessel}/window", reader, (*Server).getWindow},
		{"GET", "/api/vessels/{vessel}/record", reader, (*Server).getRecord},
		{"GET", "/api/vessels/{vessel}/refused", reader, (*Server).getRefused},
		{"GET", "/api/vessels/{vessel}/book", reader, (*Server).getBook},
		{"GET", "/api/vessels/{vessel}/suggestion", reader, (*Server).getSuggestion},
		{"POST", "/api/vessels/{vessel}/feeds", changer, (*Server).postFeed},
		{"PUT", "/api/vessels/{vessel}/feeds/{feed}", changer, (*Server).putFeed},
		{"DELETE", "/api/vessels/{vessel}/feeds/{feed}", changer, (*Server).deleteFeed},
		{"GET", "/api/vessels/{vessel}/feeds/{feed}/curve", reader, (*Server).getFeedCurve},
		{"POST", "/api/vessels/{vessel}/bakes", changer, (*Server).postBake},
		{"PUT", "/api/vessels/{vessel}/bakes/{bake}", changer, (*Server).putBake},
		{"DELETE", "/api/vessels/{vessel}/bakes/{bake}", changer, (*Server).deleteBake},
		{"GET", "/api/vessels/{vessel}/bakes/{bake}/photo", reader, (*Server).getBakePhoto},
		{"POST", "/api/vessels/{vessel}/discard", changer, (*Server).postDiscard},
		{"DELETE", "/api/vessels/{vessel}/discard/{move}", changer, (*Server).deleteDiscard},
		{"POST", "/api/vessels/{vessel}/starters", changer, (*Server).postStarter},
		{"DELETE", "/api/vessels/{vessel}/starters/{starter}", changer, (*Server).deleteStarter},
		{"PUT", "/api/vessels/{vessel}/fridge", changer, (*Server).putFridge},
		{"PUT", "/api/vessels/{vessel}/wish", changer, (*Server).putWish},
		{"DELETE", "/api/vessels/{vessel}/wish", changer, (*Server).deleteWish},
		{"GET", "/api/push", reader, (*Server).getPush},
		{"POST", "/api/push/devices", changer, (*Server).postDevice},
		{"DELETE", "/api/push/devices", changer, (*Server).deleteDevice},
		{"POST", "/api/push/test", changer, (*Server).postPushTest},
		{"POST", "/api/asks/{ask}/seen", changer, (*Server).postSeen},

		{"GET", "/api/plans", reader, (*Server).getPlans},
		{"GET", "/api/plan", reader, (*Server).getPlan},
		{"PUT", "/api/plan", changer, (*Server).putPlan},
		{"DELETE", "/api/plan", changer, (*Server).deletePlan},
		{"PUT", "/api/plan/weekly", changer, (*Server).putPlanWeekly},
		{"DELETE", "/api/plan/weekly", changer, (*Server).deletePlanWeekly},
		{"POST", "/api/plan/weekly/skip", changer, (*Server).postPlanSkip},
		{"PUT", "/api/plan/done", changer, (*Server).putPlanDone},
		{"GET", "/api/plan/calendar", reader, (*Server).getPlanCalendar},

		{"PUT", "/api/mats/{mat}/setpoint", changer, (*Server).putSetpoint},
		{"PUT", "/api/mats/{mat}/schedule", changer, (*Server).putSchedule},
		{"PUT", "/api/mats/{mat}/allowed", changer, (*Server).putAllowed},
		{"POST", "/api/faults/{fault}/acknowledgement", changer, (*Server).postAcknowledgement},
	}
}

func (s *Server) routes() *http.ServeMux {
	mux := http.NewServeMux()
	methods := map[string][]string{}
	for _, rt := range apiRoutes() {
		mux.Handle(rt.method+" "+rt.path, s.entry(rt))
		methods[rt.path] = append(methods[rt.path], rt.method)
	}
	for path, allowed := range methods {
		mux.Handle(path, s.wrongMethod(allowed))
	}
	mux.HandleFunc("/api/", func(w http.ResponseWriter, r *http.Request) {
		s.writeProblem(w, r, newProblem(http.StatusNotFound, "no-route", "The API has no such address; see /api/openapi.json."))
	})
	for pattern, h := range s.opts.Mounts {
		mux.Handle(pattern, s.mount(h))
	}
	for pattern, h := range s.opts.Open {
		mux.Handle(pattern, h)
	}
	mux.HandleFunc("/{$}", s.getIndex)
	mux.HandleFunc("/index.html", s.getIndex)
	mux.Handle("/", s.page)
	return mux
}

// entry checks the right and turns an error into an answer.
func (s *Server) entry(rt route) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		err := s.admit(rt.who, r)
		if err == nil {
			err = rt.serve(s, w, r)
		}
		if err != nil {
			s.writeProblem(w, r, err)
			return
		}
		if rt.who == changer {
			s.log.Info("web: changed", slog.String("what", rt.method+" "+clip(r.URL.Path)), slog.String("from", peer(r).String()))
			s.Changed()
		}
	})
}

func (s *Server) admit(need who, r *http.Request) error {
	if need == anyone {
		return nil
	}
	have := s.rights(r)
	if need == reader && have.Read || need == changer && have.Change {
		return nil
	}
	if have.Read {
		return newProblem(http.StatusUnauthorized, "sign-in", "Sign in to change something.")
	}
	return newProblem(http.StatusUnauthorized, "sign-in", "Sign in to look.")
}

func (s *Server) wrongMethod(allowed []string) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		for _, m := range slices.Sorted(slices.Values(allowed)) {
			w.Header().Add("Allow", m)
		}
		s.writeProblem(w, r, newProblem(http.StatusMethodNotAllowed, "method", "That can't be done at this address."))
	})
}

func (s *Server) mount(h http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if err := s.admit(reader, r); err != nil {
			s.writeProblem(w, r, err)
			return
		}
		h.ServeHTTP(w, r)
	})
}
