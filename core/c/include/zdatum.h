/*
 * zdatum: where the nozzle lands, how sure that is, and whether to trust it. For C11 and C++17.
 *
 * Generated from the library's source; do not edit. core/docs/embedding.md takes you from zero to a first
 * cycle.
 *
 * - Numbers are integers: each counts a binary fraction of its unit, which is named beside it. There is no
 *   floating point; the compiler evaluates the macros below.
 * - The storage is yours: zero it, align it as its type requires, and let nothing else write to it. Nothing
 *   is allocated.
 * - Every function checks its arguments. Null, misaligned and out-of-range ones give an error code, and
 *   nothing changes.
 * - There are no callbacks, and no function waits. Functions may be called from any thread or interrupt, one
 *   at a time for the same storage.
 */

#ifndef ZDATUM_H
#define ZDATUM_H

#include <stddef.h>
#include <stdint.h>
/* Numbers from constants, to the nearest bit. Constants only: a variable would be converted in floating point
 * at run time. */
#define ZDATUM_SIGNED_(x) ((int32_t)((x) < 0 ? (x) - 0.5 : (x) + 0.5))
#define ZDATUM_UNSIGNED_(x) ((uint32_t)((x) + 0.5))
/* A length in mm: ZDATUM_MM(0.55). */
#define ZDATUM_MM(x) ZDATUM_SIGNED_((x) * 65536.0)
/* A speed in mm/s. */
#define ZDATUM_MM_PER_S(x) ZDATUM_UNSIGNED_((x) * 65536.0)
/* A latency, or its uncertainty, in s. */
#define ZDATUM_SECONDS(x) ZDATUM_UNSIGNED_((x) * 4294967296.0)
/* A temperature in degrees Celsius. */
#define ZDATUM_CELSIUS(x) ZDATUM_SIGNED_((x) * 65536.0)
/* A growth, or its uncertainty, in um per kelvin. */
#define ZDATUM_UM_PER_K(x) ZDATUM_SIGNED_((x) * 4294967.296)
/* An uncertainty in mm. */
#define ZDATUM_U_MM(x) ZDATUM_UNSIGNED_((x) * 16777216.0)


// Done.
#define ZDATUM_OK 0

// A pointer is null.
#define ZDATUM_NULL 1

// A pointer is not aligned for its type.
#define ZDATUM_MISALIGNED 2

// A number is outside its range, or not one of those listed. Usual cause: wrong units, or a struct that
// was not filled.
#define ZDATUM_OUT_OF_RANGE 3

// The storage has not been started: it is zero, or was started by another version of the library.
#define ZDATUM_NOT_STARTED 4

// The event does not answer the pending request: poll again and answer that.
#define ZDATUM_OUT_OF_TURN 5

// The setup is refused; `zdatum_bad_setup` says which key and why.
#define ZDATUM_BAD_SETUP 6

// No room: `touch.most` is above ZDATUM_TOUCHES, a series, a book or a watch is full, or a buffer is
// too small for the text.
#define ZDATUM_NO_ROOM 7

// The text is not a plain decimal number.
#define ZDATUM_NOT_A_NUMBER 8

// A station has no counted touch, or only one without a study of that station.
#define ZDATUM_TOO_FEW 9

// The cycle is not over yet.
#define ZDATUM_NOT_FINISHED 10

// The landing is refused, or there is none: it must not be used.
#define ZDATUM_REFUSED 11

// No plate of the book, or of the watch, has that name or place.
#define ZDATUM_NOT_IN_BOOK 12

// Another plate has that name already.
#define ZDATUM_TAKEN 13

// Changes whenever a struct, a constant or the meaning of a function changes.
#define ZDATUM_ABI 4

// A length in mm: `int32_t`, one bit is 2^-16 mm, -32768 to 32767.99998.
#define ZDATUM_LENGTH 1

// A speed in mm/s: `uint32_t`, one bit is 2^-16 mm/s, 0 to 1000.
#define ZDATUM_SPEED 2

// A latency in s: `uint32_t`, one bit is 2^-32 s, 0 to 0.1.
#define ZDATUM_LATENCY 3

// A temperature in degrees Celsius: `int32_t`, one bit is 2^-16, -273.15 to 1000.
#define ZDATUM_TEMPERATURE 4

// A growth, written in um per kelvin: `int32_t`, one bit is 2^-32 mm/K, -62.5 to 62.5 um/K.
#define ZDATUM_GROWTH 5

// An uncertainty in mm: `uint32_t`, one bit is 2^-24 mm, 0 to 255.9999999.
#define ZDATUM_UNCERTAINTY 6

// A number without unit: `uint32_t`, one bit is 2^-16, 0 to 65535.9999.
#define ZDATUM_RATIO 7

// A difference of two temperatures in K: `int32_t`, one bit is 2^-16 K, -1280 to 1280.
#define ZDATUM_WARMING 8

// Room for the longest text of a number, including its terminating zero.
#define ZDATUM_TEXT_ROOM 25

// A switch was already closed before the approach.
#define ZDATUM_ALREADY_TRIPPED 1

// The floor was reached without a trip.
#define ZDATUM_NO_TRIP 2

// A switch closed that does not belong to this station.
#define ZDATUM_WRONG_SWITCH 3

// The switch stayed closed after the lift.
#define ZDATUM_STILL_TRIPPED 4

// The spread of the touches exceeds the band.
#define ZDATUM_UNSTEADY 5

// The touches drift in one direction.
#define ZDATUM_WALKING 6

// The drop is outside the range of a properly seated probe.
#define ZDATUM_DROP_OUT_OF_PLACE 7

// The rise is outside the range of any plate.
#define ZDATUM_PLATE_OUT_OF_PLACE 8

// The landing, with its uncertainty, is not fully inside the window.
#define ZDATUM_LANDING_OUT_OF_WINDOW 9

// The plate's span has changed since its last accepted cycle.
#define ZDATUM_MOVED_TOO_FAR 10

// The tip's height changed during the cycle.
#define ZDATUM_MOVED_DURING_CYCLE 11

// The expanded uncertainty exceeds the limit.
#define ZDATUM_TOO_UNCERTAIN 12

// The machine reported a fault.
#define ZDATUM_MACHINE_FAULT 13

// It is not known whether the tool carries the probe.
#define ZDATUM_PROBE_STATE_UNKNOWN 14

// The cycle was cancelled.
#define ZDATUM_CANCELLED 15

// A value is too large for the arithmetic.
#define ZDATUM_BEYOND_RANGE 16

// The touches scatter more than their study allows.
#define ZDATUM_NOISIER_THAN_STUDIED 17

// The tip trips the datum switch outside its expected range.
#define ZDATUM_TIP_OUT_OF_PLACE 18

// Most refusals that one outcome can list.
#define ZDATUM_MOST_REFUSALS 16

// Most growing parts that a setup may name.
#define ZDATUM_MOST_GROWTH 8

// A series' centre is its arithmetic mean.
#define ZDATUM_MEAN 0

// It is the median, which tolerates almost half wild touches.
#define ZDATUM_MEDIAN 1

// It is the Hodges–Lehmann estimator, the median of all pair means (Hodges and Lehmann, 1963).
#define ZDATUM_HODGES_LEHMANN 2

// A part's temperature is that of the tool, read at the tip's touches.
#define ZDATUM_FOLLOWS_TOOL 0

// That of the bed, read at the plate's touches.
#define ZDATUM_FOLLOWS_BED 1

// That of the chamber, read at the plate's touches.
#define ZDATUM_FOLLOWS_CHAMBER 2

// How many words a setup's storage takes.
#define ZDATUM_SETUP_WORDS 72

// No cycle: the verdict is on recorded touches.
#define ZDATUM_NO_ENDING 0

// The tool is lifted and the probe put back.
#define ZDATUM_LIFTED_AND_PUT_BACK 1

// The tool is lifted; where the probe is, is unknown.
#define ZDATUM_LIFTED_PROBE_UNKNOWN 2

// The position is unknown: no further motion, a person is asked.
#define ZDATUM_HALTED 3

// Nothing: the cycle is over and its outcome is final.
#define ZDATUM_DO_FINISHED 0

// Tell whether the tool carries the probe; nothing moves. Answer ZDATUM_EVENT_PROBE.
#define ZDATUM_DO_FIND_PROBE 1

// Home all axes, sideways only once risen or homed to a safe height. Answer ZDATUM_EVENT_DONE.
#define ZDATUM_DO_HOME 2

// Level the axes or the bed; the machine's own levelling touches apart, never below `height`. Answer
// ZDATUM_EVENT_DONE.
#define ZDATUM_DO_LEVEL 3

// Bring the tool to within a few kelvin of `tool`; a hotter one cools down to it. Answer ZDATUM_EVENT_DONE.
#define ZDATUM_DO_WARM 4

// Fetch the probe and make sure of it; never below `height` on the way. Answer ZDATUM_EVENT_DONE.
#define ZDATUM_DO_FETCH 5

// Put the probe back and make sure of it; never below `height` on the way. With `has_height` 0 nothing has
// been homed: do it without lowering the tool. Answer ZDATUM_EVENT_DONE.
#define ZDATUM_DO_PUT_BACK 6

// Rise to `height` where lower (never sink), then go sideways to `x`, `y`. Answer ZDATUM_EVENT_DONE.
#define ZDATUM_DO_MOVE 7

// Go down at `speed` until a switch trips or the floor `height` is reached, both switches watched from
// before the start. Answer ZDATUM_EVENT_TRIPPED, _FLOOR_REACHED, _ALREADY_TRIPPED or _WRONG_SWITCH.
#define ZDATUM_DO_APPROACH 8

// Rise straight up to `height` (never sink). Answer ZDATUM_EVENT_LIFTED.
#define ZDATUM_DO_LIFT 9

// No further motion: ask a person. Answer ZDATUM_EVENT_DONE.
#define ZDATUM_DO_HALT 10

// The request has been carried out.
#define ZDATUM_EVENT_DONE 1

// Where the probe is: `detail` is ZDATUM_PROBE_PUT_BACK, ZDATUM_PROBE_FETCHED or ZDATUM_PROBE_UNKNOWN.
#define ZDATUM_EVENT_PROBE 2

// The awaited switch tripped at the latched height `z`; `readings` and temperatures as far as there are
// sensors.
#define ZDATUM_EVENT_TRIPPED 3

// The floor was reached and nothing tripped.
#define ZDATUM_EVENT_FLOOR_REACHED 4

// A switch that has to be open was closed before the approach; nothing moved.
#define ZDATUM_EVENT_ALREADY_TRIPPED 5

// The other station's switch closed; the carriage has stopped.
#define ZDATUM_EVENT_WRONG_SWITCH 6

// The carriage has been lifted: `detail` is 1 where the station's switch is open again, else 0.
#define ZDATUM_EVENT_LIFTED 7

// The request could not be carried out: `detail` is ZDATUM_FAULT_MOVE to ZDATUM_FAULT_PROBE.
#define ZDATUM_EVENT_FAILED 8

// The probe is in its dock.
#define ZDATUM_PROBE_PUT_BACK 1

// The probe is on the tool.
#define ZDATUM_PROBE_FETCHED 2

// Where the probe is, is unknown.
#define ZDATUM_PROBE_UNKNOWN 3

// A move was not completed; nothing moves any more.
#define ZDATUM_FAULT_MOVE 1

// The carriage's position is no longer known; nothing moves any more.
#define ZDATUM_FAULT_POSITION 2

// The time limit passed; nothing moves any more.
#define ZDATUM_FAULT_TIMED_OUT 3

// Homing failed; nothing moves any more.
#define ZDATUM_FAULT_HOME 4

// Levelling failed; the position is still known.
#define ZDATUM_FAULT_LEVEL 5

// A temperature was not reached or a sensor failed; the position is still known.
#define ZDATUM_FAULT_HEAT 6

// A fetch or put-back could not be confirmed; the position is still known.
#define ZDATUM_FAULT_PROBE 7

// `tool` was read.
#define ZDATUM_READ_TOOL 1

// `bed` was read.
#define ZDATUM_READ_BED 2

// `chamber` was read.
#define ZDATUM_READ_CHAMBER 4

// All touches; gives a landing.
#define ZDATUM_FULL 0

// One fine touch per station, compared with what is known; says whether a full cycle is needed.
#define ZDATUM_QUICK 1

// How many words a cycle's storage takes.
#define ZDATUM_CYCLE_WORDS 72

// The tip presses the datum switch.
#define ZDATUM_TIP 1

// The probe's shoulder presses the datum switch.
#define ZDATUM_SHOULDER 2

// The plunger presses the plate.
#define ZDATUM_PLATE 3

// Most touches that a station can hold, in a cycle as in a series.
#define ZDATUM_TOUCHES 16

// `speed` was measured.
#define ZDATUM_READ_SPEED 8

// How many words a series' storage takes.
#define ZDATUM_SERIES_WORDS 16

// Most plates that a book knows, and a watch charts.
#define ZDATUM_PLATES 12

// Standard deviation of how a plate seats, where nothing is known yet, 2^-24 mm: 10 um (common practice).
#define ZDATUM_SEATING 167772

// How many words a plate book's storage takes.
#define ZDATUM_BOOK_WORDS 120

// One plate fits, no other does: `name`.
#define ZDATUM_ONE_FITS 1

// Two plates or more fit, so nothing is guessed: `name` is the nearest.
#define ZDATUM_TOO_NEAR 2

// No plate fits: `name` is the nearest, unless the book is empty.
#define ZDATUM_NONE_FITS 3

// The book is empty.
#define ZDATUM_EMPTY_BOOK 4

// The nozzle now hangs lower (shift above zero) or higher.
#define ZDATUM_CAUSE_NOZZLE 1

// The homed height has shifted.
#define ZDATUM_CAUSE_HOMING 2

// The probe sits differently in its mount.
#define ZDATUM_CAUSE_PROBE_SEAT 3

// The datum switch has moved.
#define ZDATUM_CAUSE_DATUM_SWITCH 4

// One plate sits higher or lower than before.
#define ZDATUM_CAUSE_PLATE 5

// The probe's trip depth has changed.
#define ZDATUM_CAUSE_TRIP_DEPTH 6

// How many causes there are.
#define ZDATUM_CAUSES 6

// Another nozzle, or the same one refitted.
#define ZDATUM_CHANGED_NOZZLE 1

// The homed height has shifted, such as after work on the homing switch.
#define ZDATUM_CHANGED_HOMING 2

// Work on the probe, its mount, its shoulder or its switch.
#define ZDATUM_CHANGED_PROBE 3

// The datum switch was moved or cleaned.
#define ZDATUM_CHANGED_DATUM_SWITCH 4

// Another fine speed.
#define ZDATUM_CHANGED_SPEED 5

// A gauge check and trim.
#define ZDATUM_CHANGED_TRIM 6

// One plate was worked on or replaced.
#define ZDATUM_CHANGED_PLATE 7

// How many words a watch's storage takes.
#define ZDATUM_WATCH_WORDS 315

// How many words the charts of one quantity take.
#define ZDATUM_CHARTS_WORDS 26

// A text that lives as long as the program: ASCII or UTF-8, not terminated by a zero. Print it with `%.*s`.
typedef struct {
    // The first byte; never null.
    const char *bytes;
    // How many bytes there are; 0 for an empty text.
    size_t length;
} zdatum_text;

// What a call returns: `ZDATUM_OK`, or why it did nothing.
typedef int32_t zdatum_code;

// Storage for a checked setup; yours, and zeroed before its first use. Its contents belong to the library.
typedef struct {
    // Do not touch.
    uint64_t words[ZDATUM_SETUP_WORDS];
} zdatum_setup;

// Lowest and highest value of what may vary; lengths.
typedef struct {
    // Lowest, 2^-16 mm.
    int32_t low;
    // Highest, 2^-16 mm.
    int32_t high;
} zdatum_length_range;

// A carriage position in the plane of the plate.
typedef struct {
    // Across, 2^-16 mm.
    int32_t x;
    // Along, 2^-16 mm.
    int32_t y;
} zdatum_place;

// How late a switch's trip is seen.
typedef struct {
    // The latency, 2^-32 s.
    uint32_t latency;
    // Its standard uncertainty, 2^-32 s.
    uint32_t latency_u;
} zdatum_delay;

// A part that is longer when printing than when touching.
typedef struct {
    // What it adds to the landing per kelvin, 2^-32 mm/K; may be negative.
    int32_t rate;
    // Its standard uncertainty, 2^-32 mm/K, not negative.
    int32_t rate_u;
    // Its temperature at the touch where none is read, 2^-16 degrees Celsius.
    int32_t touch;
    // Its temperature at the first layer, 2^-16 degrees Celsius.
    int32_t print;
    // Standard uncertainty of print less the temperature read at the touch, 2^-16 K, not negative.
    int32_t delta_u;
    // Warming that the trip depth has taken up, 2^-16 K, from `zdatum_trim`; 0 for a trip depth from a sheet.
    int32_t trimmed;
    // ZDATUM_FOLLOWS_TOOL, ZDATUM_FOLLOWS_BED or ZDATUM_FOLLOWS_CHAMBER.
    uint8_t follows;
} zdatum_grows;

// A study's standard deviation of single touches at a station.
typedef struct {
    // The pooled standard deviation, 2^-24 mm.
    uint32_t s;
    // Degrees of freedom behind it; 0: there is no study.
    uint32_t dof;
} zdatum_pooled;

// A machine as its owner wrote it, unchecked. Fields have the names of the machine file's keys
// (`docs/files.md`).
//
// Start from zeroes: leave out what may be zero; `zdatum_setup_check` refuses what may not.
typedef struct {
    // `travel.x`: reach across.
    zdatum_length_range travel_x;
    // `travel.y`: reach along.
    zdatum_length_range travel_y;
    // `travel.z`: reach in height.
    zdatum_length_range travel_z;
    // `travel.steps`: so many motor steps of the height axis …
    uint32_t travel_steps;
    // … move the carriage by so many whole millimetres.
    uint32_t travel_steps_mm;
    // `stations.tip`: the tip stands over the datum switch.
    zdatum_place station_tip;
    // `stations.shoulder`: the shoulder stands over the datum switch.
    zdatum_place station_shoulder;
    // `stations.plate`: the plunger stands over the point of the plate.
    zdatum_place station_plate;
    // `datum_switch.tip_height`: carriage heights at which the tip may trip it.
    zdatum_length_range datum_tip_height;
    // `datum_switch.overtravel`: how far past its trip it may be pressed, 2^-16 mm.
    int32_t datum_overtravel;
    // `datum_switch.latency`: when its edge is seen.
    zdatum_delay datum_delay;
    // `probe.trip_depth`: how far the plunger's end stands below the shoulder at the trip, 2^-16 mm.
    int32_t probe_trip_depth;
    // `probe.trip_depth_u`: its standard uncertainty, 2^-24 mm.
    uint32_t probe_trip_depth_u;
    // `probe.trimmed_at_speed`: the speed at which it was trimmed, 2^-16 mm/s; 0 for a value from a sheet.
    uint32_t probe_trimmed_at_speed;
    // `probe.drop`: how far the shoulder of a properly seated probe hangs below the tip.
    zdatum_length_range probe_drop;
    // `probe.free_height`: the trip depth where nothing presses the plunger, 2^-16 mm.
    int32_t probe_free_height;
    // `probe.latency`: when its switch's edge is seen.
    zdatum_delay probe_delay;
    // `plates.rise`: how far any plate may stand above the datum switch's trip height.
    zdatum_length_range plates_rise;
    // `plates.margin`: clearance kept under the tip, 2^-16 mm.
    int32_t plates_margin;
    // `touch.first_speed`: speed of the first approach, 2^-16 mm/s, above 0.
    uint32_t touch_first_speed;
    // `touch.fine_speed`: speed of the others, 2^-16 mm/s, above 0 and at most the first's.
    uint32_t touch_fine_speed;
    // `touch.lift`: how far the carriage backs off between touches, 2^-16 mm.
    int32_t touch_lift;
    // `touch.stop`: longest travel after a trip, 2^-16 mm.
    int32_t touch_stop;
    // `touch.band`: widest spread of the counted touches, 2^-16 mm.
    int32_t touch_band;
    // `touch.target_u`: go on until a station's u is at most this, 2^-24 mm; 0: no target.
    uint32_t touch_target_u;
    // `touch.settle`: slow touches thrown away, 0 to 16.
    uint8_t touch_settle;
    // `touch.least`: fewest counted touches, from 1 (2 without a study).
    uint8_t touch_least;
    // `touch.most`: most fine touches, up to ZDATUM_TOUCHES.
    uint8_t touch_most;
    // `touch.centre`: ZDATUM_MEAN, ZDATUM_MEDIAN or ZDATUM_HODGES_LEHMANN.
    uint8_t touch_centre;
    // `touch.tip_again`: 1 touches the tip once more at the end of the cycle.
    uint8_t touch_tip_again;
    // How many of `growth` are used, 0 to ZDATUM_MOST_GROWTH.
    uint8_t growth_count;
    // Coverage at which U is stated, in per cent: 90, 95 or 99; 0 stands for 95.
    uint8_t accept_coverage;
    // `growth`: parts that grow between touch and print.
    zdatum_grows growth[ZDATUM_MOST_GROWTH];
    // `soak.left`: most that the landing may still rise before the first layer, 2^-16 mm; negative where it sinks.
    int32_t soak_left;
    // `unseen.u`: what three touches cannot show, 2^-24 mm.
    uint32_t unseen;
    // `accept.landing`: window for the landing.
    zdatum_length_range accept_landing;
    // `accept.shift`: largest change of a plate's span, 2^-16 mm.
    int32_t accept_shift;
    // `accept.expanded_u`: largest U, 2^-24 mm.
    uint32_t accept_expanded_u;
    // `pooled.tip`: the study of the tip's station.
    zdatum_pooled pooled_tip;
    // `pooled.shoulder`: the study of the shoulder's station.
    zdatum_pooled pooled_shoulder;
    // `pooled.plate`: the study of the plate's station.
    zdatum_pooled pooled_plate;
    // `pooled.tip_between`: the tip from series to series, beyond the scatter within.
    zdatum_pooled pooled_tip_between;
    // `pooled.span_between`: plate less shoulder, likewise.
    zdatum_pooled pooled_span_between;
} zdatum_draft;

// Why a setup is refused.
typedef struct {
    // The machine file's key, such as `touch.band`.
    zdatum_text key;
    // What is wrong with it, in English.
    zdatum_text fault;
    // What was seen, 2^-16 mm; 0 without `has_amounts`.
    int32_t seen;
    // The limit, 2^-16 mm; 0 without `has_amounts`.
    int32_t limit;
    // 1 where `seen` and `limit` are set.
    uint8_t has_amounts;
} zdatum_bad_setup;

// The heights that a setup leads to (`docs/geometry.md`), for firmware that runs its own sequence.
typedef struct {
    // Lowest height of the tip's approach, 2^-16 mm.
    int32_t tip;
    // Lowest height of sideways moves with the probe put back, 2^-16 mm.
    int32_t clear;
    // The same with the probe fetched, 2^-16 mm.
    int32_t clear_with_probe;
    // Furthest past a trip of the datum switch that the carriage may run, 2^-16 mm.
    int32_t datum_overrun;
    // The same for the probe's switch, 2^-16 mm.
    int32_t plate_overrun;
} zdatum_floors;

// A landing as computed. Whether it may be used is another question: see `zdatum_outcome_landing`.
typedef struct {
    // What to keep with the plate, beside `span`: u²(P) + u²(S), 2^-60 mm².
    uint64_t span_variance;
    // For the watch: u²(T), 2^-60 mm².
    uint64_t tip_variance;
    // For the watch: u²(S) + u²(T), 2^-60 mm².
    uint64_t drop_variance;
    // T, the carriage height at which the tip tripped the datum switch, 2^-16 mm.
    int32_t tip;
    // L, the carriage height at which the tip just meets the plate, 2^-16 mm.
    int32_t height;
    // d = S - T, 2^-16 mm.
    int32_t drop;
    // r, how far the plate stands above the datum switch's trip height, 2^-16 mm.
    int32_t rise;
    // P - S, 2^-16 mm.
    int32_t span;
    // What was added for approach speeds, 2^-16 mm.
    int32_t speed_correction;
    // What was added for growth, 2^-16 mm.
    int32_t growth_correction;
    // Added for growth still to come, 2^-16 mm.
    int32_t soak_correction;
    // u, the combined standard uncertainty, 2^-24 mm.
    uint32_t u;
    // U = k·u at the setup's coverage, 2^-24 mm.
    uint32_t expanded;
    // k, the coverage factor, 2^-16.
    uint32_t factor;
    // The effective degrees of freedom; 0 stands for infinite.
    uint32_t dof;
    // 1 where `u`, `expanded`, `factor` and `dof` are set; 0 where the touches have disproved what they rest on
    // (unsteady, walking or noisier than studied): then they are 0.
    uint8_t has_uncertainty;
} zdatum_landing;

// One reason to refuse.
typedef struct {
    // What was seen, in bits of `seen_quantity`.
    int64_t seen;
    // What it was compared with, in bits of `limit_quantity`; for guarded limits the setup's, moved in
    // by the guard band.
    int64_t limit;
    // Which: ZDATUM_ALREADY_TRIPPED to ZDATUM_BEYOND_RANGE.
    uint8_t kind;
    // ZDATUM_TIP, ZDATUM_SHOULDER or ZDATUM_PLATE; 0 where it belongs to none.
    uint8_t station;
    // ZDATUM_LENGTH, ZDATUM_UNCERTAINTY or ZDATUM_RATIO; 0 where there is no number.
    uint8_t seen_quantity;
    // As `seen_quantity`.
    uint8_t limit_quantity;
} zdatum_refusal;

// The verdict with all reasons, and what could be computed.
typedef struct {
    // The landing as far as it could be computed, refused or not; zero without `has_landing_seen`. For a
    // message or a gauge check: to make it the zero of the height axis, take it from
    // `zdatum_outcome_landing`.
    zdatum_landing landing_seen;
    // All reasons to refuse, the first `refusal_count` of them, in the order of their kinds.
    zdatum_refusal refusals[ZDATUM_MOST_REFUSALS];
    // How many refusals there are; 0 where the landing is accepted.
    uint8_t refusal_count;
    // 1 where the landing is accepted, or a quick check passed.
    uint8_t accepted;
    // 1 where `landing_seen` is set.
    uint8_t has_landing_seen;
    // 1 where the landing, though refused as too uncertain, may serve a gauge check.
    uint8_t for_gauge_check;
    // How the cycle ended: ZDATUM_LIFTED_AND_PUT_BACK, ZDATUM_LIFTED_PROBE_UNKNOWN, ZDATUM_HALTED;
    // ZDATUM_NO_ENDING for recorded touches.
    uint8_t ending;
    // 1 where this is a quick check with a finding.
    uint8_t has_quick;
    // A quick check: 1 where span or drop has changed by more than was allowed.
    uint8_t full_cycle_needed;
    // A quick check: P - S from one touch each, 2^-16 mm.
    int32_t quick_span;
    // A quick check: S - T from one touch each, 2^-16 mm.
    int32_t quick_drop;
} zdatum_outcome;

// Storage for a cycle; yours, and zeroed before its first use. Its contents belong to the library.
typedef struct {
    // Do not touch.
    uint64_t words[ZDATUM_CYCLE_WORDS];
} zdatum_cycle;

// What a plate's span is compared with: its last accepted one, from `zdatum_landing`, or all that the plate book knows.
typedef struct {
    // Its u², 2^-60 mm².
    uint64_t variance;
    // P - S then, 2^-16 mm.
    int32_t span;
    // With `has_expected`: the mean of the plate's accepted spans, 2^-16 mm.
    int32_t expected_span;
    // With `has_expected`: how far from it a span may be, 2^-16 mm.
    int32_t expected_limit;
    // 1 where the plate book expects something of the span (`zdatum_book_last`).
    uint8_t has_expected;
} zdatum_last_span;

// What a quick check compares with; 2^-16 mm.
typedef struct {
    // The plate's last accepted span.
    int32_t span;
    // Largest change of the span that still passes.
    int32_t span_change;
    // The probe's drop when that span was taken.
    int32_t drop;
    // Largest change of the drop that still passes.
    int32_t drop_change;
} zdatum_known;

// What to do with a cycle. A zeroed one is a full cycle of an unknown plate, from homing on.
typedef struct {
    // ZDATUM_FULL with `has_last`: what the span is compared with.
    zdatum_last_span last;
    // ZDATUM_QUICK: what is known.
    zdatum_known known;
    // ZDATUM_FULL or ZDATUM_QUICK.
    uint8_t kind;
    // 1 where the machine is homed and has been since: it is not homed again.
    uint8_t homed;
    // 1 where the machine is level or cannot level itself: levelling is not asked for.
    uint8_t levelled;
    // 1 where `last` is known.
    uint8_t has_last;
} zdatum_job;

// What to do now. Fields that a kind does not name are 0.
typedef struct {
    // The height that the kind's description names, 2^-16 mm.
    int32_t height;
    // ZDATUM_DO_MOVE: where to, across, 2^-16 mm.
    int32_t x;
    // ZDATUM_DO_MOVE: where to, along, 2^-16 mm.
    int32_t y;
    // ZDATUM_DO_APPROACH: speed on the way down, 2^-16 mm/s.
    uint32_t speed;
    // ZDATUM_DO_WARM: temperature of the tool, 2^-16 degrees Celsius.
    int32_t tool;
    // The longest time that it may take, in seconds; 0: no limit. The firmware watches it.
    uint16_t within;
    // ZDATUM_DO_FINISHED to ZDATUM_DO_HALT.
    uint8_t kind;
    // ZDATUM_DO_APPROACH: whose switch is awaited, ZDATUM_TIP, ZDATUM_SHOULDER or ZDATUM_PLATE.
    uint8_t station;
    // 1 where `height` is set.
    uint8_t has_height;
} zdatum_request;

// The machine's answer. Zero it, then set `kind` and what the kind names.
typedef struct {
    // ZDATUM_EVENT_TRIPPED: carriage height latched at the edge, 2^-16 mm; not where the carriage stopped.
    int32_t z;
    // ZDATUM_EVENT_TRIPPED: of the tool, 2^-16 degrees Celsius; read with ZDATUM_READ_TOOL in
    // `readings`.
    int32_t tool;
    // The same of the bed, with ZDATUM_READ_BED.
    int32_t bed;
    // The same of the chamber, with ZDATUM_READ_CHAMBER.
    int32_t chamber;
    // ZDATUM_EVENT_DONE to ZDATUM_EVENT_FAILED.
    uint8_t kind;
    // What the kind defines; else 0.
    uint8_t detail;
    // ZDATUM_EVENT_TRIPPED: which temperatures were read, added up; 0 without sensors.
    uint8_t readings;
} zdatum_event;

// Storage for the counted touches of one station; yours, and zeroed before its first use. What is in it is
// the library's affair.
typedef struct {
    // Do not touch.
    uint64_t words[ZDATUM_SERIES_WORDS];
} zdatum_series;

// What was read beside a station's counted touches: means over them.
typedef struct {
    // Mean approach speed, 2^-16 mm/s; read with ZDATUM_READ_SPEED.
    uint32_t speed;
    // Mean temperature of the tool, 2^-16 degrees Celsius; with ZDATUM_READ_TOOL.
    int32_t tool;
    // Mean temperature of the bed; with ZDATUM_READ_BED.
    int32_t bed;
    // Mean temperature of the chamber; with ZDATUM_READ_CHAMBER.
    int32_t chamber;
    // Which of them are set: ZDATUM_READ_… added up. The setup's values stand for the others.
    uint8_t which;
} zdatum_readings;

// A closed series.
typedef struct {
    // The centre, 2^-32 mm: wide, since a mean lies between the bits of a length.
    int64_t centre_wide;
    // u² of the centre, 2^-60 mm².
    uint64_t variance;
    // The centre, to the nearest 2^-16 mm.
    int32_t centre;
    // Highest less lowest touch, 2^-16 mm.
    int32_t spread;
    // u of the centre, 2^-24 mm.
    uint32_t u;
    // Its degrees of freedom; 0 stands for infinite.
    uint32_t dof;
    // How many touches there are.
    uint8_t count;
} zdatum_summary;

// What is known of the trip depth.
typedef struct {
    // t, 2^-16 mm.
    int32_t t;
    // u(t), 2^-24 mm.
    uint32_t u;
    // The speed for which it holds, 2^-16 mm/s; 0 for a value from a sheet.
    uint32_t speed;
} zdatum_depth;

// A growing part, as a check sees it.
typedef struct {
    // Standard uncertainty of its growth, 2^-32 mm/K, not negative.
    int32_t rate_u;
    // Warming that the trip depth has taken up so far, 2^-16 K.
    int32_t trimmed;
    // Warming of the landing under test, print less touch, 2^-16 K.
    int32_t under_test;
} zdatum_warmed;

// What a gauge check, or a nudge during a first layer, showed.
typedef struct {
    // The gauge's thickness less the commanded height of first drag, 2^-16 mm; for a nudge by n (down is
    // negative):
    // -n.
    int32_t too_high;
    // What was applied on top of the landing on purpose, 2^-16 mm; up is positive.
    int32_t wish;
    // The trip depth with which the landing was made, 2^-16 mm.
    int32_t made_with;
    // The speed of that landing's plate touches, 2^-16 mm/s.
    uint32_t speed;
    // u of the gauge's thickness, 2^-24 mm; 0 for a nudge.
    uint32_t gauge_u;
    // u of the feel of first drag, 2^-24 mm.
    uint32_t feel_u;
    // u of that landing without its trip depth and growth terms, 2^-24 mm.
    uint32_t landing_u;
    // The setup's growing parts, in its order.
    zdatum_warmed parts[ZDATUM_MOST_GROWTH];
    // How many of `parts` are used, 0 to ZDATUM_MOST_GROWTH.
    uint8_t part_count;
    // 1 after work on switch, mount or shoulder: what was known is ignored.
    uint8_t afresh;
} zdatum_gauge_check;

// A trip depth after a check.
typedef struct {
    // What to write into the setup, where `accepted` is 1.
    zdatum_depth depth;
    // The setup's `trimmed` of each growing part from now on, 2^-16 K, in the order given.
    int32_t warmings[ZDATUM_MOST_GROWTH];
    // New less old trip depth, 2^-16 mm.
    int32_t change;
    // How much of the disagreement was taken over, 2^-16, 0 to 1.
    uint32_t weight;
    // The disagreement in units of its standard uncertainty, 2^-16.
    uint32_t disagreement;
    // 0 where the disagreement is above 4: something else has moved, and the check must not be applied.
    uint8_t accepted;
} zdatum_trimmed;

// Storage for the plate book; yours, and zeroed before its first use. Its contents belong to the library; to
// keep it across a power cut, take each plate from `zdatum_book_plate`.
typedef struct {
    // Do not touch.
    uint64_t words[ZDATUM_BOOK_WORDS];
} zdatum_book;

// What a span says of the plate that is fitted.
typedef struct {
    // The plate; 0 for an empty book.
    uint32_t name;
    // The span less that plate's last accepted one, 2^-16 mm.
    int32_t change;
    // ZDATUM_ONE_FITS to ZDATUM_EMPTY_BOOK.
    uint8_t kind;
} zdatum_recognised;

// One plate as plain numbers, to be kept across a power cut. Its fields belong together: change none.
typedef struct {
    // Sum of the squared differences from `first`, 2^-44 mm².
    uint64_t squares;
    // u² of the last accepted span, 2^-60 mm².
    uint64_t variance;
    // Sum of the differences from `first`, 2^-16 mm.
    int64_t sum;
    // The first span, 2^-16 mm.
    int32_t first;
    // The last accepted span, 2^-16 mm.
    int32_t last;
    // The name that the firmware gave it.
    uint32_t name;
    // How many spans the sums hold.
    uint32_t count;
    // How many accepted cycles there were.
    uint32_t visits;
    // When it was last seen: the firmware's own count or time.
    uint32_t seen;
} zdatum_plate;

// Storage for the watch over a machine with at most ZDATUM_PLATES plates; yours, zeroed before its first
// use. Its contents belong to the library; to keep it across a power cut, take its charts from
// `zdatum_watch_save`.
typedef struct {
    // Do not touch.
    uint64_t words[ZDATUM_WATCH_WORDS];
} zdatum_watch;

// A cause that fits an alarm.
typedef struct {
    // By how much, 2^-16 mm; the cause says which way is above zero.
    int32_t shift;
    // How badly it fits, chi-square, 2^-16: the smallest fits best.
    uint32_t misfit;
    // ZDATUM_CAUSE_NOZZLE to ZDATUM_CAUSE_TRIP_DEPTH.
    uint8_t cause;
} zdatum_fit;

// The charts of one quantity, to be kept across a power cut. They belong together: change none of the words.
typedef struct {
    // All that is known.
    uint32_t words[ZDATUM_CHARTS_WORDS];
} zdatum_charts;

#ifdef __cplusplus
extern "C" {
#endif // __cplusplus

// The version of the library that is linked; compare it with ZDATUM_ABI of the header once, before anything
// else.
int32_t zdatum_abi(void);

// What a code means and what to do about it, in English; an empty text for an unknown code.
zdatum_text zdatum_code_text(zdatum_code code);

// Reads a decimal number in the quantity's unit (a growth in um per kelvin), rounded once to the nearest
// bit, without a float.
//
// `quantity` is ZDATUM_LENGTH to ZDATUM_WARMING; `text` has `length` bytes and needs no terminating zero;
// `bits` gets the number, which fits the type that the quantity's constant names.
//
// ZDATUM_NOT_A_NUMBER for other text, ZDATUM_OUT_OF_RANGE for a number outside the quantity's range or an
// unknown quantity; ZDATUM_NULL, ZDATUM_MISALIGNED. Then `bits` is not written.
zdatum_code zdatum_parse(uint8_t quantity, const char *text, size_t length, int64_t *bits);

// Writes the shortest decimal text that reads back as the same bits, with a terminating zero, into `room`
// bytes at `buffer`. ZDATUM_TEXT_ROOM bytes are always enough.
//
// ZDATUM_OUT_OF_RANGE for bits outside the quantity's range or an unknown quantity, ZDATUM_NO_ROOM for a
// buffer that is too small, ZDATUM_NULL. Then the buffer is not written.
zdatum_code zdatum_write(uint8_t quantity, int64_t bits, char *buffer, size_t room);

// Lowest and highest value of a quantity, in bits.
//
// ZDATUM_OUT_OF_RANGE for an unknown quantity; ZDATUM_NULL, ZDATUM_MISALIGNED. Then nothing is written.
zdatum_code zdatum_range(uint8_t quantity, int64_t *lowest, int64_t *highest);

// The unit of a quantity's text, such as `mm`; an empty text for an unknown quantity.
zdatum_text zdatum_unit(uint8_t quantity);

// The length of `count` motor steps, where `steps` of them move the carriage by `mm` whole millimetres,
// rounded once to the nearest 2^-16 mm. Give counts of steps, never lengths that were rounded before.
//
// ZDATUM_OUT_OF_RANGE where `steps` or `mm` is not within 1 to 1048576, a step not within 2^-14 mm to 1 mm,
// or the length beyond 32768 mm; ZDATUM_NULL, ZDATUM_MISALIGNED. Then `length` is not written.
zdatum_code zdatum_steps(uint32_t steps, uint32_t mm, int32_t count, int32_t *length);

// The refusal's word, such as `no-trip`; it never changes. An empty text for an unknown kind.
zdatum_text zdatum_refusal_word(uint8_t kind);

// What was seen, in English; an empty text for an unknown kind.
zdatum_text zdatum_refusal_text(uint8_t kind);

// What to do about it, in English; an empty text for an unknown kind.
zdatum_text zdatum_refusal_advice(uint8_t kind);

// Checks a draft and keeps it; nothing may move on an unchecked one. The floors are worked out too.
//
// `bad` may be null; else it gets the first bad key with ZDATUM_BAD_SETUP and ZDATUM_OUT_OF_RANGE.
// Also ZDATUM_NULL, ZDATUM_MISALIGNED. After any error the storage is as it was before.
zdatum_code zdatum_setup_check(zdatum_setup *setup, const zdatum_draft *draft, zdatum_bad_setup *bad);

// The floors that are known before anything is touched.
//
// ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED.
zdatum_code zdatum_setup_floors(const zdatum_setup *setup, zdatum_floors *floors);

// Lowest height of the shoulder's approach, 2^-16 mm, for the tip's height as measured.
//
// ZDATUM_OUT_OF_RANGE where it is out of range; ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED.
zdatum_code zdatum_shoulder_floor(const zdatum_setup *setup, int32_t tip, int32_t *floor);

// Lowest height of the plate's approach, 2^-16 mm, for the heights of tip and shoulder as measured under one
// fetch.
//
// ZDATUM_OUT_OF_RANGE where it is out of range; ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED.
zdatum_code zdatum_plate_floor(const zdatum_setup *setup, int32_t tip, int32_t shoulder, int32_t *floor);

// Gives the landing if it is accepted, and only then: use it to set the zero of the height axis.
//
// ZDATUM_REFUSED if it is not, and if the outcome is a quick check's, which has no landing;
// ZDATUM_NULL, ZDATUM_MISALIGNED. Then `landing` is not written.
zdatum_code zdatum_outcome_landing(const zdatum_outcome *outcome, zdatum_landing *landing);

// Begins a cycle, whatever its storage held before; first cancel a running one and let it end.
//
// `setup` has been checked, and must neither move nor change until the outcome has been taken. `job` is read
// now and not kept.
//
// ZDATUM_NO_ROOM where `touch.most` is above ZDATUM_TOUCHES; ZDATUM_OUT_OF_RANGE for an invalid job;
// ZDATUM_NOT_STARTED for a setup that was not checked; ZDATUM_NULL, ZDATUM_MISALIGNED. Then the storage is
// as it was before.
zdatum_code zdatum_cycle_start(zdatum_cycle *cycle, const zdatum_setup *setup, const zdatum_job *job);

// What to do now; the same until it is answered. Changes nothing.
//
// ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED.
zdatum_code zdatum_cycle_poll(const zdatum_cycle *cycle, zdatum_request *request);

// Takes the answer to the pending request.
//
// ZDATUM_OUT_OF_TURN where the event does not answer it, and for every event after the end;
// ZDATUM_OUT_OF_RANGE for an invalid event; ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED. Then
// nothing changes.
zdatum_code zdatum_cycle_handle(zdatum_cycle *cycle, const zdatum_event *event);

// Asks to stop, at any time: the pending request is void, and the next poll begins a safe ending, which has
// to be carried out. Stop the pending motion by slowing down; where steps may be lost, answer the lift that
// follows with ZDATUM_FAULT_POSITION.
//
// ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED.
zdatum_code zdatum_cycle_cancel(zdatum_cycle *cycle);

// The outcome of a cycle that is over; it may be asked for again.
//
// ZDATUM_NOT_FINISHED before; ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED. Then `outcome` is not
// written.
zdatum_code zdatum_cycle_outcome(const zdatum_cycle *cycle, zdatum_outcome *outcome);

// Begins an empty series, whatever its storage held before.
//
// ZDATUM_NULL, ZDATUM_MISALIGNED.
zdatum_code zdatum_series_start(zdatum_series *series);

// Adds a counted touch: the carriage height latched at the edge, 2^-16 mm.
//
// ZDATUM_NO_ROOM where there are ZDATUM_TOUCHES already; ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED.
// Then nothing changes.
zdatum_code zdatum_series_push(zdatum_series *series, int32_t z);

// Sets what was read beside the touches.
//
// ZDATUM_OUT_OF_RANGE for a value outside its range or an unknown bit in `which`; ZDATUM_NOT_STARTED,
// ZDATUM_NULL, ZDATUM_MISALIGNED. Then nothing changes.
zdatum_code zdatum_series_readings(zdatum_series *series, const zdatum_readings *readings);

// Centre, u and spread of a series, by the setup's centre and the station's study. The series stays as it
// is.
//
// ZDATUM_TOO_FEW without touches, or with one and no study; ZDATUM_OUT_OF_RANGE for touches 256 mm or more
// apart, or an unknown station; ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED. Then `summary` is not
// written.
zdatum_code zdatum_series_close(const zdatum_series *series,
                                const zdatum_setup *setup,
                                uint8_t station,
                                zdatum_summary *summary);

// Landing and verdict from the recorded touches of three stations, shoulder and plate under one fetch.
//
// `last` is the plate's last accepted span, or null where the plate is not known. Values out of range
// are refusals in the outcome, not errors.
//
// ZDATUM_TOO_FEW for a station without touches, or with one and no study; ZDATUM_NOT_STARTED, ZDATUM_NULL,
// ZDATUM_MISALIGNED. Then `outcome` is not written.
zdatum_code zdatum_assess(const zdatum_setup *setup,
                          const zdatum_series *tip,
                          const zdatum_series *shoulder,
                          const zdatum_series *plate,
                          const zdatum_last_span *last,
                          zdatum_outcome *outcome);

// Combines a gauge check with what was known, each by its weight. `latency` is that of the probe's switch,
// as in the setup.
//
// ZDATUM_OUT_OF_RANGE where an uncertainty is 4 mm or more, the check differs by 16 m or more, all
// uncertainties are 0, the disagreement is 65536 or more, or a number is outside its range; ZDATUM_NULL,
// ZDATUM_MISALIGNED. Then `trimmed` is not written.
zdatum_code zdatum_trim(const zdatum_depth *known,
                        const zdatum_delay *latency,
                        const zdatum_gauge_check *check,
                        zdatum_trimmed *trimmed);

// Begins an empty book. `seating` is how plates seat from time to time, one standard deviation, 2^-24 mm:
// ZDATUM_SEATING where unknown.
//
// ZDATUM_OUT_OF_RANGE from 4 mm up; ZDATUM_NULL, ZDATUM_MISALIGNED. Then the storage is as it was before.
zdatum_code zdatum_book_start(zdatum_book *book, uint32_t seating);

// Records the span of an accepted cycle under the plate's name, a number that the firmware chooses; `seen`
// is its own count or time. A name that the book does not know yet is a new plate.
//
// ZDATUM_NO_ROOM for a new plate where there are ZDATUM_PLATES; ZDATUM_OUT_OF_RANGE for a span 4 mm or more
// from the plate's first; ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED. Then nothing changes.
zdatum_code zdatum_book_record(zdatum_book *book,
                               uint32_t name,
                               const zdatum_last_span *accepted,
                               uint32_t seen);

// What a plate's next span is compared with, for a job's `last` or for `zdatum_assess`: the last accepted span and,
// from four accepted ones on, what the book expects. `steps` motor steps move the carriage by `mm` millimetres, as in the
// setup.
//
// ZDATUM_OUT_OF_RANGE for no such step; ZDATUM_NOT_IN_BOOK for an unknown name; ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED. Then `last` is
// not written.
zdatum_code zdatum_book_last(const zdatum_book *book,
                             uint32_t name,
                             uint32_t steps,
                             uint32_t mm,
                             zdatum_last_span *last);

// Which plate a span belongs to, where none was named.
//
// ZDATUM_OUT_OF_RANGE where a value is out of range; ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED.
// Then `recognised` is not written.
zdatum_code zdatum_book_recognise(const zdatum_book *book,
                                  const zdatum_last_span *seen,
                                  zdatum_recognised *recognised);

// Whether a span fits the plate that was named: `fits` gets 1 or 0, `change` the span less the last accepted
// one, 2^-16 mm: above zero what lies under the plate, below zero what it has lost.
//
// ZDATUM_NOT_IN_BOOK for an unknown name; ZDATUM_OUT_OF_RANGE where a value is out of range;
// ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED. Then nothing is written.
zdatum_code zdatum_book_named(const zdatum_book *book,
                              uint32_t name,
                              const zdatum_last_span *seen,
                              uint8_t *fits,
                              int32_t *change);

// Forgets a plate.
//
// ZDATUM_NOT_IN_BOOK for an unknown name; ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED. Then nothing
// changes.
zdatum_code zdatum_book_remove(zdatum_book *book, uint32_t name);

// The plate at a place, 0 to ZDATUM_PLATES - 1, in the order in which they came: to be shown, or kept across
// a power cut.
//
// ZDATUM_NOT_IN_BOOK where there are fewer; ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED. Then `plate`
// is not written.
zdatum_code zdatum_book_plate(const zdatum_book *book, uint32_t place, zdatum_plate *plate);

// Adds a plate as `zdatum_book_plate` returned it, after a power cut.
//
// ZDATUM_TAKEN where its name is in the book; ZDATUM_NO_ROOM where there are ZDATUM_PLATES;
// ZDATUM_OUT_OF_RANGE for numbers that it never returned; ZDATUM_NOT_STARTED, ZDATUM_NULL,
// ZDATUM_MISALIGNED. Then nothing changes.
zdatum_code zdatum_book_restore(zdatum_book *book, const zdatum_plate *plate);

// The cause's word, such as `nozzle`; it never changes. An empty text for an unknown cause.
zdatum_text zdatum_cause_word(uint8_t cause);

// What happened, in English; an empty text for an unknown cause.
zdatum_text zdatum_cause_text(uint8_t cause);

// What to do about it, in English; an empty text for an unknown cause.
zdatum_text zdatum_cause_advice(uint8_t cause);

// Begins an empty watch, with the standard charts. No quantity is taken to scatter less than
// `steadiest`, 2^-24 mm; 0 for none.
//
// ZDATUM_OUT_OF_RANGE from 4 mm up; ZDATUM_NULL, ZDATUM_MISALIGNED. Then the storage is as it was before.
zdatum_code zdatum_watch_start(zdatum_watch *watch, uint32_t steadiest);

// Records an accepted cycle; `alarm` gets 1 while an alarm is active. Hand every accepted landing over, in
// order.
//
// `plate` is the name of the plate, or null where it is not known: then the span is left out. `without_tip`
// is 1 where the height axis is homed by the tip on the datum switch itself.
//
// ZDATUM_NO_ROOM for a new plate where there are ZDATUM_PLATES; ZDATUM_OUT_OF_RANGE for a reading 4 mm or
// more from the first of its level; ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED. Then nothing
// changes.
zdatum_code zdatum_watch_see(zdatum_watch *watch,
                             const zdatum_landing *landing,
                             const uint32_t *plate,
                             uint8_t without_tip,
                             uint8_t *alarm);

// Which causes fit what has moved since the alarm, the best first: `fits` has room for ZDATUM_CAUSES,
// `count` gets how many there are. None without an alarm, and where no single cause explains it.
//
// ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED. Then nothing is written.
zdatum_code zdatum_watch_diagnosis(const zdatum_watch *watch, zdatum_fit *fits, uint8_t *count);

// Records what the owner did, before or after an alarm: what it moves begins a new level. `plate` is the
// plate's name with ZDATUM_CHANGED_PLATE, else ignored.
//
// ZDATUM_OUT_OF_RANGE for an unknown change; ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED. Then
// nothing changes.
zdatum_code zdatum_watch_tell(zdatum_watch *watch, uint8_t change, uint32_t plate);

// Acknowledges an alarm where nothing was done: the charts start again with what they know.
//
// ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED.
zdatum_code zdatum_watch_dismiss(zdatum_watch *watch);

// Forgets the charts of a plate.
//
// ZDATUM_NOT_IN_BOOK for an unknown name; ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED. Then nothing
// changes.
zdatum_code zdatum_watch_forget(zdatum_watch *watch, uint32_t plate);

// The charts at a place, to be kept across a power cut: 0 the tip's, 1 the drop's, from 2 on the plates'
// spans, whose name `plate` gets (else 0).
//
// ZDATUM_NOT_IN_BOOK where there are fewer; ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED. Then nothing
// is written.
zdatum_code zdatum_watch_save(const zdatum_watch *watch,
                              uint32_t place,
                              uint32_t *plate,
                              zdatum_charts *charts);

// Puts the charts of tip and drop back, as `zdatum_watch_save` returned them.
//
// ZDATUM_OUT_OF_RANGE for words that it never returned; ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED.
// Then nothing changes.
zdatum_code zdatum_watch_restore(zdatum_watch *watch, const zdatum_charts *tip, const zdatum_charts *drop);

// Puts the charts of a plate's span back, replacing any that it has.
//
// ZDATUM_OUT_OF_RANGE for words that `zdatum_watch_save` never returned; ZDATUM_NO_ROOM for a new plate
// where there are ZDATUM_PLATES; ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED. Then nothing changes.
zdatum_code zdatum_watch_restore_span(zdatum_watch *watch, uint32_t plate, const zdatum_charts *charts);

#ifdef __cplusplus
}  // extern "C"
#endif  // __cplusplus

#endif  /* ZDATUM_H */
