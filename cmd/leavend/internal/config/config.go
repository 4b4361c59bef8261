// Package config reads the daemon's one configuration file.
//
// The file is TOML. Everything wrong with it is found in one go and told with
// line, key, value and what is allowed: unknown keys, keys given twice, wrong
// types, values out of range, and parts that do not fit together. Temperatures
// are kept in degrees Celsius and lengths in millimetres; the file may give
// either with a unit of its own ("79F", "6.5in").
//
// Secrets stay out of the file: each has a key ending in _file or _env that
// says where it is kept, and none is ever printed.
package config

import (
	"log/slog"
	"time"

	"leavend/sensor"
)

// Config is a whole configuration, checked. Every field has a value: what the
// file leaves out is at its default.
type Config struct {
	File      string         // the file it was read from; "" for the defaults alone
	DataDir   string         // where history and state are kept
	Units     Units          // what people are shown; stored values are always SI
	Language  string         // what people are told in, by its code; the page follows its reader's browser
	Clock     int            // 24 or 12, hours on the clock that people are shown
	Timezone  *time.Location // of the clock that people are shown
	LogLevel  slog.Level
	Sensors   []Sensor
	Buses     []Bus
	Vessels   []Vessel
	Mat       Mat
	MQTT      MQTT
	Web       Web
	Metrics   Metrics
	Store     Store
	Notify    []Recipient
	Reminders Reminders
	Plan      Plan

	// Warnings are what works but is likely not meant, or not wise.
	Warnings []Problem
}

// Units is the system of units that people are shown.
type Units string

// The systems of units.
const (
	Metric Units = "metric" // °C, mm, g
	US     Units = "us"     // °F, inches, ounces
)

// Chip names what a sensor is: a chip, or another kind of source.
type Chip string

// The chips and sources that a sensor may be.
const (
	DS18B20    Chip = "ds18b20"     // 1-Wire thermometer, through the kernel
	VL53L1X    Chip = "vl53l1x"     // laser ranger, up to 4 m
	VL53L0X    Chip = "vl53l0x"     // laser ranger, up to 2 m
	VL6180X    Chip = "vl6180x"     // laser ranger for short jars, up to 200 mm
	VL53L4CD   Chip = "vl53l4cd"    // laser ranger made for short distances, 1 mm to 1.3 m
	Ultrasonic Chip = "ultrasonic"  // HC-SR04, JSN-SR04T and their like
	ADS1115NTC Chip = "ads1115-ntc" // a thermistor on an ADS1115 converter
	SHT3x      Chip = "sht3x"       // temperature and humidity
	SHT4x      Chip = "sht4x"       // temperature and humidity
	BME280     Chip = "bme280"      // temperature and humidity
	BMP280     Chip = "bmp280"      // temperature
	IIO        Chip = "iio"         // any kernel industrial-I/O device
	Hwmon      Chip = "hwmon"       // any kernel hardware monitor
	Topic      Chip = "topic"       // a number arriving by MQTT
	Recording  Chip = "recording"   // a recording played back
	Kitchen    Chip = "kitchen"     // the simulated kitchen
)

// Sensor is one physical sensor, or a source that stands for one. Which of
// the fields below Place mean anything depends on the chip; the file may give
// only those that do.
type Sensor struct {
	Name  string
	Chip  Chip
	Place sensor.Place // of a thermometer; "" for one that only ranges

	OffsetC  float64 // added to each temperature, °C, found by comparing with a good thermometer
	OffsetMM float64 // added to each distance, mm

	// 1-Wire and files below /sys.
	ID     string // of a ds18b20, "28-0123456789ab"; "" is the only one there is
	Device string // of iio and hwmon: the device's name or its folder below /sys
	Input  string // of iio and hwmon: the channel, such as "in_distance" or "temp1"
	Path   string // of ds18b20: the folder of the 1-Wire devices

	// I²C.
	Bus        int  // the number in /dev/i2c-1
	Address    int  // 7 bits; for a ranger behind a shut-down line, the one to give it
	Mux        int  // address of a TCA9548A before it; 0 is none
	MuxChannel int  // the channel of that multiplexer, 0 to 7
	XShut      Line // shut-down line of a ranger; unset if it has none

	// Rangers.
	ROI [2]int // width and height of a VL53L1X's region of interest, in its 16 by 16 receivers; a square

	// CrosstalkKcps is the light that a cover glass throws back, in thousand
	// counts a second: for each receiver, but of a VL6180X in all.
	CrosstalkKcps float64
	Budget        time.Duration // time for one ranging; 0 is the driver's default
	Long          bool          // a VL53L1X in its long-distance mode

	// Ultrasonic.
	Trigger, Echo Line
	Air           string // name of the sensor whose temperature corrects the speed of sound; "" is none
	AirC          float64

	// Thermistor on an ADS1115.
	Channel        int        // converter input, 0 to 3
	ThermistorHigh bool       // the thermistor is on the supply's side, else on ground's
	SupplyV        float64    // voltage across thermistor and series resistor
	SupplyChannel  int        // converter input that measures the supply; -1 is none
	SeriesOhm      float64    // the series resistor
	NominalOhm     float64    // thermistor at 25 °C
	BetaK          float64    // thermistor's B25/85
	SteinhartHart  [3]float64 // A, B, C; used instead of BetaK unless all are 0

	// MQTT topic.
	Topic     string
	Field     string        // JSON field, "a.b" for one inside another; "" is a plain number
	Unit      string        // of the number; "" is mm, °C or %
	TimeField string        // JSON field that says when it was measured; "" is when it arrives
	MaxAge    time.Duration // a number older than this is no reading
	Scale     float64       // the number times this is °C or mm

	// Recording and kitchen.
	Quantity sensor.Quantity // of topic and iio: what it measures; else 0
	CSV      string          // file of the recording
	Speed    float64         // of the playback; 1 is as it was
	Loop     bool            // start again at its end
	Seed     int             // of the simulated kitchen
}

// Bus is an I²C bus with two spare lines wired beside it, by which it can be
// clocked free when a chip holds it.
type Bus struct {
	Number           int  // in /dev/i2c-1
	FreeSCL, FreeSDA Line // wired to the bus's own SCL and SDA
}

// Line is one line of a GPIO character device.
type Line struct {
	Chip   string // "gpiochip0"
	Number int
	Set    bool // whether the file names one
}

// VesselKind says what is waited for.
type VesselKind string

// The kinds of vessel.
const (
	Jar  VesselKind = "jar"  // holds starter; we wait for its peak
	Bowl VesselKind = "bowl" // holds dough; we wait for a target rise
)

// aliquotKind is how the file calls a bowl that holds only a spoon of the dough.
const aliquotKind VesselKind = "aliquot"

// Vessel is one jar or bowl that is watched.
type Vessel struct {
	Name        string
	Slug        string // the name in topics, addresses and metrics: a to z, 0 to 9 and hyphens
	Kind        VesselKind
	Starter     string        // name of the starter in it; feeds of one starter share their record
	Distance    string        // name of the sensor above it
	Temperature string        // name of its thermometer; "" if it has none
	FloorMM     float64       // from the sensor down to the inside floor; 0 is not calibrated
	BottomMM    float64       // inside diameter at the floor; 0 is not known
	TopMM       float64       // inside diameter at the height HeightMM; 0 is as at the floor
	HeightMM    float64       // inside height; 0 is not known
	TargetRatio float64       // of a bowl: the rise ratio waited for
	Aliquot     bool          // of a bowl: it is a straight glass with a spoon of the dough, which stands for all of it
	Every       time.Duration // sample period
}

// Calibrated reports whether the distance to the vessel's floor is known, so
// that heights and not only changes can be told.
func (v Vessel) Calibrated() bool { return v.FloorMM > 0 }

// Store is where readings are kept.
type Store struct {
	File         string        // the database
	FullRateDays int           // after which readings are thinned
	SyncEvery    time.Duration // between two writes of readings; feeds and events are written at once
	BackupDir    string        // where a backup is written each night; "" is none
	BackupWhole  bool          // with all readings; else with those at full rate of the last days only
	BackupsKept  int           // days' backups that stay
}

// Reminders are rules of the trade that the baker can change.
type Reminders struct {
	FeedEvery       time.Duration // of a jar at room temperature; 0 is never
	FridgeFeedEvery time.Duration // of a jar in the fridge; 0 is never
	CleanJarFeeds   int           // a clean jar after this many feeds; 0 is never
	DiscardKeeps    time.Duration // the oldest discard in the fridge; 0 is for ever
}
