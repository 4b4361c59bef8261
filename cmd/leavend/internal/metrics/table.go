package metrics

// kind is the type of a series in the exposition format.
type kind string

const (
	gauge     kind = "gauge"
	counter   kind = "counter"
	histogram kind = "histogram"
)

// series is one line of the documentation and the origin of the page.
type series struct {
	name   string
	kind   kind
	labels []string
	help   string
}

// table lists every series of ours, in the order of METRICS.md.
func table() []series {
	vessel, mat, sensor, kind := []string{"vessel"}, []string{"mat"}, []string{"sensor"}, []string{"kind"}
	recipient := []string{"recipient"}
	return []series{
		{"leavend_build_info", gauge, []string{"version", "revision", "goversion"}, "Always 1; the labels say what runs."},

		{"leavend_vessel_info", gauge, []string{"vessel", "name", "kind"}, "Always 1; the labels say what the vessel is."},
		{"leavend_vessel_available", gauge, vessel, "1 while the vessel's sensors answer."},
		{"leavend_stage", gauge, []string{"vessel", "stage"}, "1 for the stage that the vessel is in, 0 for the others."},
		{"leavend_surface_height_meters", gauge, vessel, "Surface above the vessel's floor."},
		{"leavend_rise_meters", gauge, vessel, "Height above the height at the feed."},
		{"leavend_rise_ratio", gauge, vessel, "Height over the height at the feed; 2 is doubled."},
		{"leavend_vessel_temperature_celsius", gauge, vessel, "Temperature of the vessel."},
		{"leavend_last_fed_timestamp_seconds", gauge, vessel, "When the vessel was last fed."},
		{"leavend_feed_due_timestamp_seconds", gauge, vessel, "When the baker means to feed the vessel next."},
		{"leavend_peak_forecast_timestamp_seconds", gauge, vessel, "When the top is expected, while it is to come."},
		{"leavend_peak_forecast_low_timestamp_seconds", gauge, vessel, "Early end of the 80 % interval of the forecast."},
		{"leavend_peak_forecast_high_timestamp_seconds", gauge, vessel, "Late end of the 80 % interval of the forecast."},
		{"leavend_peak_timestamp_seconds", gauge, vessel, "When the last called top was."},
		{"leavend_forecast_error_seconds", histogram, []string{"vessel"}, "How far the forecast made halfway up was from the top that came."},

		{"leavend_mat_info", gauge, []string{"mat", "name", "output"}, "Always 1; the labels say what the mat is."},
		{"leavend_mat_on", gauge, mat, "1 while heat is asked for."},
		{"leavend_mat_enabled", gauge, mat, "1 while the mat's mode is heat."},
		{"leavend_mat_on_seconds_total", counter, mat, "Time for which heat was asked for, kept over restarts."},
		{"leavend_mat_energy_joules_total", counter, mat, "About what the mat has drawn: its on-time times the watts that the config said meanwhile; missing without them."},
		{"leavend_mat_switches_total", counter, mat, "How often the mat went from off to on, kept over restarts."},
		{"leavend_mat_changed_timestamp_seconds", gauge, mat, "When the mat was last switched."},
		{"leavend_setpoint_celsius", gauge, mat, "The setpoint of the mat."},
		{"leavend_cutoff_celsius", gauge, mat, "The temperature at which the cutoff trips."},
		{"leavend_cutoff_latched", gauge, mat, "1 after the cutoff has tripped, until a person acknowledges it."},
		{"leavend_mat_temperature_celsius", gauge, mat, "Temperature of the mat itself."},
		{"leavend_control_timestamp_seconds", gauge, mat, "When the thermostat last decided."},

		{"leavend_sensor_info", gauge, []string{"sensor", "vessel", "place", "quantity"}, "Always 1; the labels say what the sensor is."},
		{"leavend_reading_timestamp_seconds", gauge, []string{"sensor", "quantity"}, "When the sensor's last good reading was taken."},
		{"leavend_readings_total", counter, []string{"sensor", "quantity"}, "Good readings since the start."},
		{"leavend_sensor_errors_total", counter, []string{"sensor", "reason"}, "Failed readings since the start, by reason."},
		{"leavend_distance_meters", gauge, sensor, "Distance sensor: from the sensor down to the surface. Absent after a failed reading."},
		{"leavend_temperature_celsius", gauge, sensor, "Temperature probe. Absent after a failed reading."},
		{"leavend_humidity_ratio", gauge, sensor, "Relative humidity from 0 to 1. Absent after a failed reading."},

		{"leavend_events_total", counter, kind, "Events since the start, by kind."},
		{"leavend_faults_total", counter, kind, "Faults that have begun since the start, by kind."},
		{"leavend_fault_active", gauge, kind, "1 while a fault of the kind stands."},
		{"leavend_hub_dropped_total", counter, []string{"consumer"}, "Old readings that a slow consumer has missed; events are never dropped."},

		{"leavend_mqtt_connected", gauge, nil, "1 while there is a connection to the broker."},
		{"leavend_mqtt_connections_total", counter, nil, "Connections made to the broker since the start."},
		{"leavend_mqtt_events_waiting", gauge, nil, "Events that the broker has not confirmed yet."},
		{"leavend_mqtt_events_sent_total", counter, nil, "Events that the broker has confirmed."},
		{"leavend_mqtt_events_lost_total", counter, nil, "Events lost because the outbox was full."},
		{"leavend_mqtt_states_sent_total", counter, nil, "States that the broker has confirmed."},
		{"leavend_mqtt_commands_total", counter, nil, "Commands to plugs handed to the network."},
		{"leavend_mqtt_commands_refused_total", counter, nil, "Commands to plugs refused for want of a connection."},
		{"leavend_mqtt_requests_total", counter, nil, "Commands from topics that were obeyed."},
		{"leavend_mqtt_requests_refused_total", counter, nil, "Commands from topics that were refused."},
		{"leavend_mqtt_inbound_lost_total", counter, nil, "Messages that came faster than their reader."},

		{"leavend_store_bytes", gauge, nil, "Size of the history on disk."},
		{"leavend_store_free_bytes", gauge, nil, "Room left on the history's disk."},
		{"leavend_store_rows_waiting", gauge, nil, "Rows not yet committed."},
		{"leavend_store_errors_total", counter, nil, "Failed writes of the history."},
		{"leavend_store_bad_rows_total", counter, nil, "Reads of rows of the history that cannot be read."},
		{"leavend_store_unstorable_total", counter, nil, "Entries that no disk can take."},
		{"leavend_store_commit_timestamp_seconds", gauge, nil, "When the history was last committed."},

		{"leavend_notifications_waiting", gauge, recipient, "Notifications not yet delivered."},
		{"leavend_notifications_sent_total", counter, recipient, "Notifications delivered."},
		{"leavend_notifications_failed_total", counter, recipient, "Attempts at delivery that failed."},
	}
}
