package web

import (
	"log/slog"
	"net/http"
	"slices"
	"strings"

	"leavend/cmd/leavend/internal/failure"
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
	serve        handler
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
	vessels := vesselHandler{b.Fridge, b.Uses}
	mats := matHandler{b.Watch, b.Mats}
	push := pushHandler{b.Push}
	readyBy := readyByHandler{b.ReadyBy, s.now}
	plans := planHandler{b.Plans, s.now}
	setup := walkHandler{s.opts.Walk}
	backup := restoreHandler{s.opts.Restore}
	holidays := holidayHandler{b.Holidays, s.now}
	holiday := &guarded{now: holidays.shown}
	rules := rulesHandler{b.Rules}
	hours, recipes := &guarded{now: func() any { return b.Rules.Hours() }}, &guarded{now: func() any { return b.Rules.Recipes() }}
	household := householdHandler{s.opts.Household, b.Depths, s.now}
	exports := exportHandler{b.Exports, make(chan struct{}, exportsAtOnce)}
	messages := messageHandler{s.opts.Messages}
	tokens := tokenHandler{s.sessions.keys, s.now}
	reach := reachHandler{s, s.sessions}
	const made = http.StatusCreated
	routes := []route{
		{"GET", "/api/openapi.json", anyone, getOpenAPI},
		{"GET", "/api/session", anyone, reads(s.sessions.getSession)},
		{"POST", "/api/session", anyone, s.sessions.postSession},
		{"DELETE", "/api/session", anyone, s.sessions.deleteSession},
		{"PUT", "/api/password", anyone, s.sessions.putPassword},
		{"GET", "/api/now", reader, watch.getNow},
		{"GET", "/api/events", reader, watch.getEvents},
		{"GET", "/api/setup", reader, reads(watch.getSetup)},
		{"GET", "/api/vessels/{vessel}/window", reader, reads(history.getWindow)},
		{"GET", "/api/vessels/{vessel}/recording", reader, exports.getRecording},
		{"GET", "/api/readings", reader, exports.getReadings},
		{"GET", "/api/journal", reader, exports.getJournal},
		{"GET", "/api/vessels/{vessel}/record", reader, reads(history.getRecord)},
		{"GET", "/api/vessels/{vessel}/refused", reader, reads(history.getRefused)},
		{"GET", "/api/vessels/{vessel}/book", reader, reads(journal.getBook)},
		{"GET", "/api/vessels/{vessel}/suggestion", reader, reads(journal.getSuggestion)},
		{"POST", "/api/vessels/{vessel}/feeds", feeder, makes(made, feeds.postFeed)},
		{"PUT", "/api/vessels/{vessel}/feeds/{feed}", feeder, makes(http.StatusOK, feeds.putFeed)},
		{"DELETE", "/api/vessels/{vessel}/feeds/{feed}", feeder, actIn(b.Feeds, Feeds.UndoFeed, "feed")},
		{"GET", "/api/vessels/{vessel}/feeds/{feed}/curve", reader, reads(history.getFeedCurve)},
		{"POST", "/api/vessels/{vessel}/bakes", feeder, makes(made, bakes.postBake)},
		{"PUT", "/api/vessels/{vessel}/bakes/{bake}", feeder, makes(http.StatusOK, bakes.putBake)},
		{"DELETE", "/api/vessels/{vessel}/bakes/{bake}", feeder, actIn(b.Bakes, Bakes.UndoBake, "bake")},
		{"GET", "/api/vessels/{vessel}/bakes/{bake}/photo", reader, bakes.getBakePhoto},
		{"GET", "/api/loaves", reader, reads(bakes.getLoaves)},
		{"PUT", "/api/loaves/stop", feeder, takes(bakes.putStop)},
		{"POST", "/api/vessels/{vessel}/discard", feeder, makes(made, discards.postDiscard)},
		{"DELETE", "/api/vessels/{vessel}/discard/{move}", feeder, actIn(b.Discards, Discards.UndoDiscard, "move")},
		{"POST", "/api/vessels/{vessel}/starters", changer, makes(made, starters.postStarter)},
		{"DELETE", "/api/vessels/{vessel}/starters/{starter}", changer, actIn(b.Starters, Starters.UndoStarter, "starter")},
		{"PUT", "/api/vessels/{vessel}/fridge", feeder, takes(vessels.putFridge)},
		{"PUT", "/api/vessels/{vessel}/used", feeder, makes(http.StatusOK, vessels.putUsed)},
		{"DELETE", "/api/vessels/{vessel}/used", feeder, actOn(b.Uses, Uses.Unuse, "vessel")},
		{"PUT", "/api/vessels/{vessel}/wish", changer, takes(readyBy.putTargetTime)},
		{"DELETE", "/api/vessels/{vessel}/wish", changer, actOn(b.ReadyBy, ReadyBy.ClearTargetTime, "vessel")},
		{"POST", "/api/vessels/{vessel}/folds", feeder, actOn(b.Doughs, Doughs.Fold, "vessel")},
		{"GET", "/api/push", reader, reads(push.getPush)},
		{"POST", "/api/push/devices", changer, takes(push.postDevice)},
		{"DELETE", "/api/push/devices", changer, takes(push.deleteDevice)},
		{"POST", "/api/push/test", changer, act(b.Push, Push.TryPush)},
		{"POST", "/api/asks/{ask}/seen", feeder, actOn(b.Reminders, Reminders.Seen, "ask")},
		{"GET", "/api/plans", reader, reads(plans.getPlans)},
		{"GET", "/api/plan", reader, reads(plans.getPlan)},
		{"PUT", "/api/plan", changer, takes(plans.putPlan)},
		{"DELETE", "/api/plan", changer, act(b.Plans, Plans.DropPlan)},
		{"PUT", "/api/plan/weekly", changer, takes(plans.putPlanWeekly)},
		{"DELETE", "/api/plan/weekly", changer, does(plans.deletePlanWeekly)},
		{"POST", "/api/plan/weekly/skip", changer, act(b.Plans, Plans.SkipWeeklyPlan)},
		{"PUT", "/api/plan/done", feeder, takes(plans.putPlanDone)},
		{"GET", "/api/plan/calendar", reader, plans.getPlanCalendar},
		{"PUT", "/api/mats/{mat}/setpoint", changer, takes(mats.putSetpoint)},
		{"PUT", "/api/mats/{mat}/schedule", changer, takes(mats.putSchedule)},
		{"PUT", "/api/mats/{mat}/allowed", changer, takes(mats.putAllowed)},
		{"POST", "/api/faults/{fault}/acknowledgement", changer, does(mats.postAcknowledgement)},
		{"GET", "/api/reach", reader, reads(reach.getReach)},
		{"PUT", "/api/reach", owner, reach.putReach},
		{"GET", "/api/tokens", owner, reads(tokens.getTokens)},
		{"POST", "/api/tokens", owner, makes(made, tokens.postToken)},
		{"DELETE", "/api/tokens/{token}", owner, does(tokens.deleteToken)},
		{"GET", "/api/vessels/{vessel}/depth", reader, reads(household.getDepth)},
		{"GET", "/api/hours", reader, hours.read},
		{"PUT", "/api/hours", changer, hours.change(takes(rules.putHours))},
		{"DELETE", "/api/hours", changer, hours.change(act(b.Rules, PlanRules.ResetHours))},
		{"GET", "/api/recipes", reader, recipes.read},
		{"PUT", "/api/recipes/{recipe}", changer, recipes.change(takes(rules.putRecipe))},
		{"DELETE", "/api/recipes/{recipe}", changer, recipes.change(actOn(b.Rules, PlanRules.RemoveRecipe, "recipe"))},
		{"DELETE", "/api/recipes/{recipe}/change", changer, recipes.change(actOn(b.Rules, PlanRules.RestoreRecipe, "recipe"))},
		{"GET", "/api/holiday", reader, holiday.read},
		{"PUT", "/api/holiday", feeder, holiday.change(takes(holidays.putHoliday))},
		{"POST", "/api/restore", owner, does(backup.postRestore)},
	}
	return slices.Concat(routes,
		unless(s.opts.Messages == nil, &failure.Refusal{Code: "no-reach"}, []route{
			{"GET", "/api/messages", owner, reads(messages.getMessages)},
			{"POST", "/api/message-test", owner, takes(messages.postMessageTest)},
			{"PUT", "/api/messages/{recipient}", owner, messages.putRecipient},
			{"DELETE", "/api/messages/{recipient}", owner, messages.deleteRecipient},
		}),
		unless(s.opts.Household == nil, &failure.Refusal{Code: "no-reach"}, []route{
			{"PUT", "/api/vessels/{vessel}/name", changer, takes(household.putName)},
			{"DELETE", "/api/vessels/{vessel}", changer, does(household.deleteVessel)},
			{"PUT", "/api/vessels/{vessel}/floor", changer, takes(household.putFloor)},
		}),
		unless(s.opts.Walk == nil, &failure.Refusal{Code: "no-walk"}, []route{
			{"GET", "/api/walk", owner, reads(setup.getWalk)},
			{"POST", "/api/walk/reading", owner, makes(http.StatusOK, setup.postWalkReading)},
			{"POST", "/api/walk/draft", owner, makes(http.StatusOK, setup.postWalkDraft)},
			{"POST", "/api/walk/keep", owner, takes(setup.postWalkKeep)},
		}))
}

// unless has routes refuse where what stands behind them is not there.
func unless(absent bool, refusal error, routes []route) []route {
	for i := range routes {
		if absent {
			routes[i].serve = func(http.ResponseWriter, *http.Request) error { return refusal }
		}
	}
	return routes
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
