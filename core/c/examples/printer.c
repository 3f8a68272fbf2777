/*
 * A firmware's side of a touch cycle, in C11, on an invented machine. Copy `carry_out` and replace its body
 * by motors, switches and heaters: it does what the cycle asks for, and reports what happened. All numbers
 * are invented.
 */
#include "printer.h"

#include "zdatum.h"

/* What the owner wrote. A real firmware reads it from its settings, with zdatum_parse. */
static const zdatum_draft draft = {
    .travel_x = {ZDATUM_MM(0), ZDATUM_MM(200)},
    .travel_y = {ZDATUM_MM(0), ZDATUM_MM(200)},
    .travel_z = {ZDATUM_MM(-3), ZDATUM_MM(40)},
    .travel_steps = 400,
    .travel_steps_mm = 1,
    .station_tip = {ZDATUM_MM(190), ZDATUM_MM(190)},
    .station_shoulder = {ZDATUM_MM(190), ZDATUM_MM(160)},
    .station_plate = {ZDATUM_MM(100), ZDATUM_MM(100)},
    .datum_tip_height = {ZDATUM_MM(0.1), ZDATUM_MM(1.1)},
    .datum_overtravel = ZDATUM_MM(2.5),
    .datum_delay = {ZDATUM_SECONDS(0.0004), ZDATUM_SECONDS(0.0001)},
    .probe_trip_depth = ZDATUM_MM(0.55),
    .probe_trip_depth_u = ZDATUM_U_MM(0.004),
    .probe_trimmed_at_speed = ZDATUM_MM_PER_S(1.5),
    .probe_drop = {ZDATUM_MM(5.5), ZDATUM_MM(6.75)},
    .probe_free_height = ZDATUM_MM(1.25),
    .probe_delay = {ZDATUM_SECONDS(0.0012), ZDATUM_SECONDS(0.0003)},
    .plates_rise = {ZDATUM_MM(-0.5), ZDATUM_MM(0.75)},
    .plates_margin = ZDATUM_MM(0.5),
    .touch_first_speed = ZDATUM_MM_PER_S(6),
    .touch_fine_speed = ZDATUM_MM_PER_S(1.5),
    .touch_lift = ZDATUM_MM(0.75),
    .touch_stop = ZDATUM_MM(0.08),
    .touch_settle = 1,
    .touch_least = 4,
    .touch_most = 9,
    .touch_band = ZDATUM_MM(0.025),
    .touch_centre = ZDATUM_MEAN,
    .touch_tip_again = 1,
    .growth = {{.rate = ZDATUM_UM_PER_K(0.26),
                .rate_u = ZDATUM_UM_PER_K(0.02),
                .touch = ZDATUM_CELSIUS(150),
                .print = ZDATUM_CELSIUS(215),
                .follows = ZDATUM_FOLLOWS_TOOL}},
    .growth_count = 1,
    .soak_left = ZDATUM_MM(0.002),
    .unseen = ZDATUM_U_MM(0.005),
    .accept_landing = {ZDATUM_MM(-1.25), ZDATUM_MM(1.75)},
    .accept_shift = ZDATUM_MM(0.2),
    .accept_expanded_u = ZDATUM_U_MM(0.025),
    .accept_coverage = 95,
    .pooled_tip = {ZDATUM_U_MM(0.0015), 40},
    .pooled_shoulder = {ZDATUM_U_MM(0.0015), 40},
    .pooled_plate = {ZDATUM_U_MM(0.003), 40},
};

/* The library's storage: yours, and zero at the start like everything static. */
static zdatum_setup setup;
static zdatum_cycle cycle;
static zdatum_outcome outcome;

/* What goes wrong on the invented machine. */
enum trouble { NONE, DEAD_PLUNGER, STICKING_DATUM, HEATER, STOPPED };

/* The invented machine: T = 0.6, S = 6.7, P = 7.35 in millimetres, each touch a few micrometres off. */
static struct {
    int32_t x, y, z;
    int fetched;
    uint32_t noise;
    enum trouble trouble;
} machine;

static int32_t trip_height(uint8_t station)
{
    const int32_t heights[] = {0, ZDATUM_MM(0.6), ZDATUM_MM(6.7), ZDATUM_MM(7.35)};
    /* One step of a linear congruential generator (Numerical Recipes, ranqd1). Its top bits give -128 to 127
     * bits, 2 micrometres. */
    machine.noise = machine.noise * 1664525u + 1013904223u;
    return heights[station] + (int32_t)(machine.noise >> 24) - 128;
}

static void rise_to(const zdatum_request *request)
{
    if (request->has_height && machine.z < request->height) {
        machine.z = request->height;
    }
}

/* Does what is asked for. A real machine takes its time here; the cycle waits. */
static zdatum_event carry_out(const zdatum_request *request)
{
    zdatum_event event = {.kind = ZDATUM_EVENT_DONE};
    switch (request->kind) {
    case ZDATUM_DO_FIND_PROBE:
        event.kind = ZDATUM_EVENT_PROBE;
        event.detail = machine.fetched ? ZDATUM_PROBE_FETCHED : ZDATUM_PROBE_PUT_BACK;
        break;
    case ZDATUM_DO_HOME:
        machine.z = ZDATUM_MM(20);
        break;
    case ZDATUM_DO_WARM:
        if (machine.trouble == HEATER) {
            event.kind = ZDATUM_EVENT_FAILED;
            event.detail = ZDATUM_FAULT_HEAT;
        }
        break;
    case ZDATUM_DO_FETCH:
        rise_to(request);
        machine.fetched = 1;
        break;
    case ZDATUM_DO_PUT_BACK:
        rise_to(request);
        machine.fetched = 0;
        break;
    case ZDATUM_DO_MOVE:
        rise_to(request);
        machine.x = request->x;
        machine.y = request->y;
        break;
    case ZDATUM_DO_APPROACH: {
        /* The height is latched at the edge, by hardware or in the switch's interrupt, not after stopping. */
        const int32_t trip = trip_height(request->station);
        const int dead = request->station == ZDATUM_PLATE && machine.trouble == DEAD_PLUNGER;
        if (dead || trip < request->height) {
            machine.z = request->height;
            event.kind = ZDATUM_EVENT_FLOOR_REACHED;
        } else {
            machine.z = trip;
            event.kind = ZDATUM_EVENT_TRIPPED;
            event.z = trip;
            event.readings = ZDATUM_READ_TOOL;
            event.tool = ZDATUM_CELSIUS(149.5);
        }
        break;
    }
    case ZDATUM_DO_LIFT:
        rise_to(request);
        event.kind = ZDATUM_EVENT_LIFTED;
        event.detail = machine.trouble != STICKING_DATUM;
        break;
    default: /* Level, halt: nothing to do here. */
        break;
    }
    return event;
}

static void put_text(const char *text)
{
    size_t length = 0;
    while (text[length] != 0) {
        length++;
    }
    put(text, length);
}

static void put_view(zdatum_text text)
{
    put(text.bytes, text.length);
}

/* The number with its unit and, since the check compares bits, all its bits. */
static void put_number(const char *label, uint8_t quantity, int64_t bits)
{
    char text[ZDATUM_TEXT_ROOM];
    char hex[] = " [................]";
    put_text(label);
    if (zdatum_write(quantity, bits, text, sizeof text) == ZDATUM_OK) {
        put_text(text);
        put_text(" ");
        put_view(zdatum_unit(quantity));
    }
    for (unsigned i = 0; i < 16; i++) {
        hex[2 + i] = "0123456789abcdef"[((uint64_t)bits >> (60 - 4 * i)) & 15];
    }
    put_text(hex);
}

static void show(void)
{
    const zdatum_landing *seen = &outcome.landing_seen;
    const char *endings[] = {"none", "lifted and put back", "lifted, probe state unknown", "halted"};
    put_text("  ended: ");
    put_text(endings[outcome.ending & 3]);
    put_text(outcome.accepted ? "; accepted\n" : "; refused\n");
    if (outcome.has_landing_seen) {
        put_number("  landing ", ZDATUM_LENGTH, seen->height);
        put_number(", U ", ZDATUM_UNCERTAINTY, seen->expanded);
        put_number(", u ", ZDATUM_UNCERTAINTY, seen->u);
        put_number(", k ", ZDATUM_RATIO, seen->factor);
        put_number("\n  drop ", ZDATUM_LENGTH, seen->drop);
        put_number(", rise ", ZDATUM_LENGTH, seen->rise);
        put_number(", span ", ZDATUM_LENGTH, seen->span);
        put_number("\n  growth ", ZDATUM_LENGTH, seen->growth_correction);
        put_number(", degrees of freedom and span's variance ", 0, seen->dof);
        put_number("", 0, (int64_t)seen->span_variance);
        put_text("\n");
    }
    if (outcome.has_quick) {
        put_number("  span ", ZDATUM_LENGTH, outcome.quick_span);
        put_number(", drop ", ZDATUM_LENGTH, outcome.quick_drop);
        put_text(outcome.full_cycle_needed ? ", touch a full cycle\n" : ", as known\n");
    }
    for (unsigned i = 0; i < outcome.refusal_count; i++) {
        const zdatum_refusal *refusal = &outcome.refusals[i];
        put_text("  ");
        put_view(zdatum_refusal_word(refusal->kind));
        put_text(": ");
        put_view(zdatum_refusal_text(refusal->kind));
        if (refusal->seen_quantity != 0) {
            put_number("; seen ", refusal->seen_quantity, refusal->seen);
        }
        if (refusal->limit_quantity != 0) {
            put_number(", limit ", refusal->limit_quantity, refusal->limit);
        }
        put_text(". ");
        put_view(zdatum_refusal_advice(refusal->kind));
        put_text("\n");
    }
}

/* One cycle to its end: poll, carry out, handle. 0 unless a call was refused. */
static int run(const char *name, const zdatum_job *job, enum trouble trouble)
{
    const char *kinds[] = {"finished", "find probe", "home",     "level", "warm", "fetch",
                           "put back", "move",       "approach", "lift",  "halt"};
    zdatum_request request;
    unsigned requests = 0;
    machine.trouble = trouble;
    machine.noise = 42;
    put_text(name);
    put_text("\n");
    if (zdatum_cycle_start(&cycle, &setup, job) != ZDATUM_OK) {
        return 1;
    }
    for (;;) {
        if (zdatum_cycle_poll(&cycle, &request) != ZDATUM_OK) {
            return 1;
        }
        if (request.kind == ZDATUM_DO_FINISHED) {
            break;
        }
        if (trouble == STOPPED && ++requests == 20) {
            if (zdatum_cycle_cancel(&cycle) != ZDATUM_OK) {
                return 1;
            }
            continue;
        }
        put_text("  ");
        put_text(kinds[request.kind]);
        put_number(request.has_height ? " " : " -", request.has_height ? ZDATUM_LENGTH : 0, request.height);
        put_text("\n");
        const zdatum_event event = carry_out(&request);
        if (zdatum_cycle_handle(&cycle, &event) != ZDATUM_OK) {
            return 1;
        }
    }
    if (zdatum_cycle_outcome(&cycle, &outcome) != ZDATUM_OK) {
        return 1;
    }
    show();
    return 0;
}

static int ended(uint8_t ending, uint8_t refusal)
{
    zdatum_landing landing;
    const int refused = zdatum_outcome_landing(&outcome, &landing) == ZDATUM_REFUSED;
    return refused && outcome.ending == ending && outcome.refusals[0].kind == refusal;
}

int run_cycles(void)
{
    zdatum_bad_setup bad;
    zdatum_landing landing;
    zdatum_draft wrong = draft;

    if (zdatum_abi() != ZDATUM_ABI) {
        put_text("the library is of another version than the header\n");
        return 1;
    }

    /* A setup that would press the datum switch too far is refused, with the key and both numbers. */
    wrong.datum_overtravel = ZDATUM_MM(0.5);
    if (zdatum_setup_check(&setup, &wrong, &bad) != ZDATUM_BAD_SETUP) {
        return 2;
    }
    put_view(bad.key);
    put_text(": ");
    put_view(bad.fault);
    put_number("; seen ", ZDATUM_LENGTH, bad.seen);
    put_number(", limit ", ZDATUM_LENGTH, bad.limit);
    put_text("\n");
    if (zdatum_setup_check(&setup, &draft, &bad) != ZDATUM_OK) {
        return 3;
    }

    /* Only an accepted landing is handed over: make its height the zero of the height axis. */
    zdatum_job job = {.kind = ZDATUM_FULL};
    if (run("a full cycle", &job, NONE) != 0 || zdatum_outcome_landing(&outcome, &landing) != ZDATUM_OK) {
        return 4;
    }
    /* The invented machine knows the truth: P - (S - T) - t, and 65.5 K of growth at 0.26 um/K. */
    const int32_t error = landing.height - ZDATUM_MM(7.35 - 6.1 - 0.55 + 65.5 * 0.00026);
    if (error > ZDATUM_MM(0.003) || error < -ZDATUM_MM(0.003)) {
        return 5;
    }

    /* The plate is known now. */
    job = (zdatum_job){
        .homed = 1, .levelled = 1, .has_last = 1, .last = {landing.span_variance, landing.span}};
    if (run("the same plate again", &job, NONE) != 0 ||
        zdatum_outcome_landing(&outcome, &landing) != ZDATUM_OK) {
        return 6;
    }
    job = (zdatum_job){.kind = ZDATUM_QUICK,
                       .homed = 1,
                       .levelled = 1,
                       .known = {landing.span, ZDATUM_MM(0.03), landing.drop, ZDATUM_MM(0.2)}};
    if (run("a quick check", &job, NONE) != 0 || !outcome.accepted) {
        return 7;
    }

    /* What goes wrong ends lifted, and without a landing. */
    job = (zdatum_job){.kind = ZDATUM_FULL};
    if (run("a dead plunger", &job, DEAD_PLUNGER) != 0 ||
        !ended(ZDATUM_LIFTED_AND_PUT_BACK, ZDATUM_NO_TRIP)) {
        return 8;
    }
    if (run("a sticking switch", &job, STICKING_DATUM) != 0 ||
        !ended(ZDATUM_LIFTED_AND_PUT_BACK, ZDATUM_STILL_TRIPPED)) {
        return 9;
    }
    if (run("a heater fails", &job, HEATER) != 0 ||
        !ended(ZDATUM_LIFTED_AND_PUT_BACK, ZDATUM_MACHINE_FAULT)) {
        return 10;
    }
    if (run("stopped by a person", &job, STOPPED) != 0 ||
        !ended(ZDATUM_LIFTED_AND_PUT_BACK, ZDATUM_CANCELLED)) {
        return 11;
    }
    put_text("every cycle ended as it had to\n");
    return 0;
}
