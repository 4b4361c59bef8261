package web

import (
	"log/slog"
	"net/http"
	"slices"
	"strings"

	"leavend/cmd/leavend/internal/web/problem"
)

// who says which right a route asks for.
type who int

const (
	anyone who = iota
	reader
	feeder  // says what is done in the kitchen
	changer // changes what the daemon does
	owner   // says who may do what; only with the password
)

// route is one line of the API. openapi.json describes the same lines, and a
// test holds the two together.
type route struct {
	method, path string
	who          who
	serve        func(http.ResponseWriter, *http.Request) error
}

// apiRoutes hands each address to the handler of its part of the page.
func (s *Server) apiRoutes(b Backend) []route {
	watch := watchHandler{b.Watch, s.snaps, s.stream, s.sessions, restoreHandler{s.opts.Restore}}
	history := historyHandler{b.History, s.now}
	journal := journalHandler{b.Journal, s.now}
	feeds := feedHandler{b.Feeds, s.now}
	bakes := bakeHandler{b.Bakes, s.now}
	discards := discardHandler{b.Discards, s.now}
	starters := starterHandler{b.Starters}
	vessels := vesselHandler{b.Fridge, b.Uses, b.Reminders}
	mats := matHandler{b.Watch, b.Mats}
	push := pushHandler{b.Push}
	readyBy := readyByHandler{b.ReadyBy, s.now}
	plans := planHandler{b.Plans, s.now}
	doughs := doughHandler{b.Doughs}
	setup := walkHandler{s.opts.Walk}
	backup := restoreHandler{s.opts.Restore}
	holidays := holidayHandler{b.Holidays, s.now}
	household := householdHandler{s.opts.Household, b.Depths, s.now}
	exports := exportHandler{b.Exports, make(chan struct{}, exportsAtOnce)}
	messages := messageHandler{s.opts.Messages}
	tokens := tokenHandler{s.sessions.keys, s.now}
	reach := reachHandler{s, s.sessions}
	return []route{
		{"GET", "/api/openapi.json", anyone, getOpenAPI},
		{"GET", "/api/session", anyone, s.sessions.getSession},
		{"POST", "/api/session", anyone, s.sessions.postSession},
		{"DELETE", "/api/session", anyone, s.sessions.deleteSession},
		{"PUT", "/api/password", anyone, s.sessions.putPassword},
		{"GET", "/api/now", reader, watch.getNow},
		{"GET", "/api/events", reader, watch.getEvents},
		{"GET", "/api/setup", reader, watch.getSetup},
		{"GET", "/api/vessels/{vessel}/window", reader, history.getWindow},
		{"GET", "/api/vessels/{vessel}/recording", reader, exports.getRecording},
		{"GET", "/api/readings", reader, exports.getReadings},
		{"GET", "/api/journal", reader, exports.getJournal},
		{"GET", "/api/vessels/{vessel}/record", reader, history.getRecord},
		{"GET", "/api/vessels/{vessel}/refused", reader, history.getRefused},
		{"GET", "/api/vessels/{vessel}/book", reader, journal.getBook},
		{"GET", "/api/vessels/{vessel}/suggestion", reader, journal.getSuggestion},
		{"POST", "/api/vessels/{vessel}/feeds", feeder, feeds.postFeed},
		{"PUT", "/api/vessels/{vessel}/feeds/{feed}", feeder, feeds.putFeed},
		{"DELETE", "/api/vessels/{vessel}/feeds/{feed}", feeder, feeds.deleteFeed},
		{"GET", "/api/vessels/{vessel}/feeds/{feed}/curve", reader, history.getFeedCurve},
		{"POST", "/api/vessels/{vessel}/bakes", feeder, bakes.postBake},
		{"PUT", "/api/vessels/{vessel}/bakes/{bake}", feeder, bakes.putBake},
		{"DELETE", "/api/vessels/{vessel}/bakes/{bake}", feeder, bakes.deleteBake},
		{"GET", "/api/vessels/{vessel}/bakes/{bake}/photo", reader, bakes.getBakePhoto},
		{"GET", "/api/loaves", reader, bakes.getLoaves},
		{"PUT", "/api/loaves/stop", feeder, bakes.putStop},
		{"POST", "/api/vessels/{vessel}/discard", feeder, discards.postDiscard},
		{"DELETE", "/api/vessels/{vessel}/discard/{move}", feeder, discards.deleteDiscard},
		{"POST", "/api/vessels/{vessel}/starters", changer, starters.postStarter},
		{"DELETE", "/api/vessels/{vessel}/starters/{starter}", changer, starters.deleteStarter},
		{"PUT", "/api/vessels/{vessel}/fridge", feeder, vessels.putFridge},
		{"PUT", "/api/vessels/{vessel}/used", feeder, vessels.putUsed},
		{"DELETE", "/api/vessels/{vessel}/used", feeder, vessels.deleteUsed},
		{"PUT", "/api/vessels/{vessel}/wish", changer, readyBy.putWish},
		{"DELETE", "/api/vessels/{vessel}/wish", changer, readyBy.deleteWish},
		{"POST", "/api/vessels/{vessel}/folds", feeder, doughs.postFold},
		{"GET", "/api/push", reader, push.getPush},
		{"POST", "/api/push/devices", changer, push.postDevice},
		{"DELETE", "/api/push/devices", changer, push.deleteDevice},
		{"POST", "/api/push/test", changer, push.postPushTest},
		{"POST", "/api/asks/{ask}/seen", feeder, vessels.postSeen},
		{"GET", "/api/plans", reader, plans.getPlans},
		{"GET", "/api/plan", reader, plans.getPlan},
		{"PUT", "/api/plan", changer, plans.putPlan},
		{"DELETE", "/api/plan", changer, plans.deletePlan},
		{"PUT", "/api/plan/weekly", changer, plans.putPlanWeekly},
		{"DELETE", "/api/plan/weekly", changer, plans.deletePlanWeekly},
		{"POST", "/api/plan/weekly/skip", changer, plans.postPlanSkip},
		{"PUT", "/api/plan/done", feeder, plans.putPlanDone},
		{"GET", "/api/plan/calendar", reader, plans.getPlanCalendar},
		{"PUT", "/api/mats/{mat}/setpoint", changer, mats.putSetpoint},
		{"PUT", "/api/mats/{mat}/schedule", changer, mats.putSchedule},
		{"PUT", "/api/mats/{mat}/allowed", changer, mats.putAllowed},
		{"POST", "/api/faults/{fault}/acknowledgement", changer, mats.postAcknowledgement},
		{"GET", "/api/reach", reader, reach.getReach},
		{"PUT", "/api/reach", owner, reach.putReach},
		{"GET", "/api/messages", owner, messages.getMessages},
		{"POST", "/api/message-test", owner, messages.postMessageTest},
		{"PUT", "/api/messages/{recipient}", owner, messages.putRecipient},
		{"DELETE", "/api/messages/{recipient}", owner, messages.deleteRecipient},
		{"GET", "/api/tokens", owner, tokens.getTokens},
		{"POST", "/api/tokens", owner, tokens.postToken},
		{"DELETE", "/api/tokens/{token}", owner, tokens.deleteToken},
		{"PUT", "/api/vessels/{vessel}/name", changer, household.putName},
		{"DELETE", "/api/vessels/{vessel}", changer, household.deleteVessel},
		{"GET", "/api/vessels/{vessel}/depth", reader, household.getDepth},
		{"PUT", "/api/vessels/{vessel}/floor", changer, household.putFloor},
		{"GET", "/api/hours", reader, household.getHours},
		{"PUT", "/api/hours", changer, household.putHours},
		{"GET", "/api/recipes", reader, household.getRecipes},
		{"PUT", "/api/recipes/{recipe}", changer, household.putRecipe},
		{"DELETE", "/api/recipes/{recipe}", changer, household.deleteRecipe},
		{"GET", "/api/holiday", reader, holidays.getHoliday},
		{"PUT", "/api/holiday", feeder, holidays.putHoliday},
		{"POST", "/api/restore", owner, backup.postRestore},
		{"GET", "/api/walk", owner, setup.getWalk},
		{"POST", "/api/walk/reading", owner, setup.postWalkReading},
		{"POST", "/api/walk/draft", owner, setup.postWalkDraft},
		{"POST", "/api/walk/keep", owner, setup.postWalkKeep},
	}
}

func (s *Server) routes(b Backend) *http.ServeMux {
	mux := http.NewServeMux()
	methods := map[string][]string{}
	for _, rt := range s.apiRoutes(b) {
		for _, path := range []string{rt.path, promised(rt.path)} {
			mux.Handle(rt.method+" "+path, s.entry(rt))
			methods[path] = append(methods[path], rt.method)
		}
	}
	for path, allowed := range methods {
		mux.Handle(path, s.wrongMethod(allowed))
	}
	mux.HandleFunc("/api/", func(w http.ResponseWriter, r *http.Request) {
		s.writeProblem(w, r, problem.New(http.StatusNotFound, "no-route", "The API has no such address; see /api/openapi.json."))
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

// promised is an address for programs. What is served below /api/v1 stays: an
// answer may gain fields, and nothing goes or changes its meaning. The page uses
// the addresses without v1, which older bookmarks know too.
func promised(path string) string { return "/api/v1" + strings.TrimPrefix(path, "/api") }

// entry checks the right and turns an error into an answer.
func (s *Server) entry(rt route) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		err := s.sessions.admit(rt.who, r)
		if err == nil {
			err = rt.serve(w, r)
		}
		if err != nil {
			s.writeProblem(w, r, err)
			return
		}
		if rt.who >= feeder && rt.method != http.MethodGet {
			s.log.Info("web: changed", slog.String("what", rt.method+" "+clip(r.URL.Path)), slog.String("from", peer(r).String()))
			s.Changed()
		}
	})
}

func (s *sessions) admit(need who, r *http.Request) error {
	if need == anyone {
		return nil
	}
	have := s.rights(r)
	if have.may(need) {
		return nil
	}
	if have.Read {
		return problem.New(http.StatusUnauthorized, "sign-in", "Sign in to change something.")
	}
	return problem.New(http.StatusUnauthorized, "sign-in", "Sign in to look.")
}

func (s *Server) wrongMethod(allowed []string) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		for _, m := range slices.Sorted(slices.Values(allowed)) {
			w.Header().Add("Allow", m)
		}
		s.writeProblem(w, r, problem.New(http.StatusMethodNotAllowed, "method", "That can't be done at this address."))
	})
}

func (s *Server) mount(h http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if err := s.sessions.admit(reader, r); err != nil {
			s.writeProblem(w, r, err)
			return
		}
		h.ServeHTTP(w, r)
	})
}
