/*
 * The library from C++17, under the sanitizers and valgrind: a small owner of the storage, the cycles of
 * printer.c, recorded touches, a gauge check, plates and drift, and arguments of any bytes.
 */
#include <array>
#include <cstdio>
#include <cstring>
#include <memory>
#include <string_view>

#include "printer.h"
#include "zdatum.h"

extern "C" void put(const char *bytes, size_t length)
{
    std::fwrite(bytes, 1, length, stdout);
}

namespace {

int failures = 0;

void expect(bool holds, const char *what)
{
    if (!holds) {
        std::printf("FAILED: %s\n", what);
        failures++;
    }
}

#define EXPECT(condition) expect((condition), #condition)

std::string_view view(zdatum_text text)
{
    return {text.bytes, text.length};
}

std::int64_t parsed(std::uint8_t quantity, std::string_view text)
{
    std::int64_t bits = 0;
    EXPECT(zdatum_parse(quantity, text.data(), text.size(), &bits) == ZDATUM_OK);
    return bits;
}

/* Storage on the heap, so that one byte too far is seen. */
struct Kept {
    std::unique_ptr<zdatum_setup> setup = std::make_unique<zdatum_setup>();
    std::unique_ptr<zdatum_cycle> cycle = std::make_unique<zdatum_cycle>();
    std::array<std::unique_ptr<zdatum_series>, 3> series = {
        std::make_unique<zdatum_series>(), std::make_unique<zdatum_series>(),
        std::make_unique<zdatum_series>()};
};

zdatum_draft invented()
{
    zdatum_draft draft = {};
    draft.travel_x = draft.travel_y = {ZDATUM_MM(0), ZDATUM_MM(200)};
    draft.travel_z = {ZDATUM_MM(-3), ZDATUM_MM(40)};
    draft.travel_steps = 400;
    draft.travel_steps_mm = 1;
    draft.station_tip = {ZDATUM_MM(190), ZDATUM_MM(190)};
    draft.station_shoulder = {ZDATUM_MM(190), ZDATUM_MM(160)};
    draft.station_plate = {ZDATUM_MM(100), ZDATUM_MM(100)};
    draft.datum_tip_height = {ZDATUM_MM(0.1), ZDATUM_MM(1.1)};
    draft.datum_overtravel = ZDATUM_MM(2.5);
    draft.datum_delay = {ZDATUM_SECONDS(0.0004), ZDATUM_SECONDS(0.0001)};
    draft.probe_trip_depth = ZDATUM_MM(0.55);
    draft.probe_trip_depth_u = ZDATUM_U_MM(0.004);
    draft.probe_trimmed_at_speed = ZDATUM_MM_PER_S(1.5);
    draft.probe_drop = {ZDATUM_MM(5.5), ZDATUM_MM(6.75)};
    draft.probe_free_height = ZDATUM_MM(1.25);
    draft.probe_delay = {ZDATUM_SECONDS(0.0012), ZDATUM_SECONDS(0.0003)};
    draft.plates_rise = {ZDATUM_MM(-0.5), ZDATUM_MM(0.75)};
    draft.plates_margin = ZDATUM_MM(0.5);
    draft.touch_first_speed = ZDATUM_MM_PER_S(6);
    draft.touch_fine_speed = ZDATUM_MM_PER_S(1.5);
    draft.touch_lift = ZDATUM_MM(0.75);
    draft.touch_stop = ZDATUM_MM(0.08);
    draft.touch_least = 3;
    draft.touch_most = 9;
    draft.touch_band = ZDATUM_MM(0.025);
    draft.accept_landing = {ZDATUM_MM(-1.25), ZDATUM_MM(1.75)};
    draft.accept_shift = ZDATUM_MM(0.2);
    draft.accept_expanded_u = ZDATUM_U_MM(0.025);
    return draft;
}

/* The macros give what the library reads from the same text. */
void numbers()
{
    EXPECT(parsed(ZDATUM_LENGTH, "0.55") == ZDATUM_MM(0.55));
    EXPECT(parsed(ZDATUM_LENGTH, "-1.25") == ZDATUM_MM(-1.25));
    EXPECT(parsed(ZDATUM_LENGTH, "-0.3") == ZDATUM_MM(-0.3));
    EXPECT(parsed(ZDATUM_SPEED, "1.7") == ZDATUM_MM_PER_S(1.7));
    EXPECT(parsed(ZDATUM_LATENCY, "0.0012") == ZDATUM_SECONDS(0.0012));
    EXPECT(parsed(ZDATUM_TEMPERATURE, "-12.3") == ZDATUM_CELSIUS(-12.3));
    EXPECT(parsed(ZDATUM_GROWTH, "-0.26") == ZDATUM_UM_PER_K(-0.26));
    EXPECT(parsed(ZDATUM_UNCERTAINTY, "0.0015") == ZDATUM_U_MM(0.0015));
    EXPECT(view(zdatum_unit(ZDATUM_SPEED)) == "mm/s");

    const auto exact = std::make_unique<char[]>(5);
    EXPECT(zdatum_write(ZDATUM_LENGTH, ZDATUM_MM(0.55), exact.get(), 5) == ZDATUM_OK);
    EXPECT(std::strcmp(exact.get(), "0.55") == 0);
    EXPECT(zdatum_write(ZDATUM_LENGTH, ZDATUM_MM(0.55), exact.get(), 4) == ZDATUM_NO_ROOM);
    std::int64_t bits = 0;
    EXPECT(zdatum_parse(ZDATUM_LENGTH, exact.get(), 0, &bits) == ZDATUM_NOT_A_NUMBER);
    EXPECT(view(zdatum_code_text(ZDATUM_NOT_A_NUMBER)) == "not a decimal number");
}

/* A firmware that owns its own order: touches in, verdict out. */
void recorded(Kept &kept)
{
    const std::array<std::int32_t, 3> middles = {ZDATUM_MM(0.6), ZDATUM_MM(6.7), ZDATUM_MM(7.35)};
    const auto outcome = std::make_unique<zdatum_outcome>();
    zdatum_summary summary = {};
    for (std::size_t i = 0; i < 3; i++) {
        zdatum_series *series = kept.series[i].get();
        EXPECT(zdatum_series_push(series, 0) == ZDATUM_NOT_STARTED);
        EXPECT(zdatum_series_start(series) == ZDATUM_OK);
        for (std::int32_t touch = 0; touch < ZDATUM_TOUCHES; touch++) {
            EXPECT(zdatum_series_push(series, middles[i] + ((touch * 37) % 100 - 50) * 8) == ZDATUM_OK);
        }
        EXPECT(zdatum_series_push(series, 0) == ZDATUM_NO_ROOM);
        const auto station = static_cast<std::uint8_t>(ZDATUM_TIP + i);
        EXPECT(zdatum_series_close(series, kept.setup.get(), station, &summary) == ZDATUM_OK);
        EXPECT(summary.count == ZDATUM_TOUCHES && summary.dof == ZDATUM_TOUCHES - 1);
    }
    EXPECT(zdatum_assess(kept.setup.get(), kept.series[0].get(), kept.series[1].get(), kept.series[2].get(),
                         nullptr, outcome.get()) == ZDATUM_OK);
    zdatum_landing landing = {};
    EXPECT(zdatum_outcome_landing(outcome.get(), &landing) == ZDATUM_OK);
    EXPECT(landing.height > ZDATUM_MM(0.697) && landing.height < ZDATUM_MM(0.703));
}

void gauge_check()
{
    const zdatum_depth known = {ZDATUM_MM(0.55), ZDATUM_U_MM(0.1), ZDATUM_MM_PER_S(1.5)};
    const zdatum_delay latency = {ZDATUM_SECONDS(0.0012), ZDATUM_SECONDS(0.0003)};
    zdatum_gauge_check check = {};
    zdatum_trimmed trimmed = {};
    check.too_high = ZDATUM_MM(0.035);
    check.made_with = known.t;
    check.speed = known.speed;
    check.feel_u = ZDATUM_U_MM(0.01);
    EXPECT(zdatum_trim(&known, &latency, &check, &trimmed) == ZDATUM_OK);
    EXPECT(trimmed.accepted == 1 && trimmed.change > ZDATUM_MM(0.034) && trimmed.change < ZDATUM_MM(0.035));
}

/* From cycle to cycle: which plate it is, and whether anything has drifted. */
void remembered()
{
    const auto book = std::make_unique<zdatum_book>();
    const auto watch = std::make_unique<zdatum_watch>();
    const std::uint32_t slate = 7;
    std::uint8_t alarm = 0;
    EXPECT(zdatum_book_start(book.get(), ZDATUM_SEATING) == ZDATUM_OK);
    EXPECT(zdatum_watch_start(watch.get(), 0) == ZDATUM_OK);
    for (std::uint32_t cycle = 0; cycle < 20; cycle++) {
        zdatum_landing landing = {};
        const std::int32_t noise = static_cast<std::int32_t>(cycle * 37 % 100) - 50;
        landing.tip = ZDATUM_MM(0.6) + noise;
        landing.drop = ZDATUM_MM(6.1) - 5 * noise;
        landing.span = ZDATUM_MM(0.65) + noise / 2;
        landing.tip_variance = landing.drop_variance = landing.span_variance = std::uint64_t{1} << 40;
        zdatum_last_span accepted = {};
        accepted.variance = landing.span_variance;
        accepted.span = landing.span;
        EXPECT(zdatum_book_record(book.get(), slate, &accepted, cycle) == ZDATUM_OK);
        EXPECT(zdatum_watch_see(watch.get(), &landing, &slate, 0, &alarm) == ZDATUM_OK && alarm == 0);
    }
    zdatum_recognised recognised = {};
    zdatum_last_span seen = {};
    seen.variance = std::uint64_t{1} << 40;
    seen.span = ZDATUM_MM(0.651);
    EXPECT(zdatum_book_recognise(book.get(), &seen, &recognised) == ZDATUM_OK);
    EXPECT(recognised.kind == ZDATUM_ONE_FITS && recognised.name == slate);
    zdatum_landing moved = {};
    moved.tip = ZDATUM_MM(0.6);
    moved.drop = ZDATUM_MM(6.1);
    moved.span = ZDATUM_MM(0.75);
    moved.tip_variance = moved.drop_variance = moved.span_variance = std::uint64_t{1} << 40;
    std::array<zdatum_fit, ZDATUM_CAUSES> fits = {};
    std::uint8_t count = 0;
    EXPECT(zdatum_watch_see(watch.get(), &moved, &slate, 0, &alarm) == ZDATUM_OK && alarm == 1);
    EXPECT(zdatum_watch_diagnosis(watch.get(), fits.data(), &count) == ZDATUM_OK && count > 0);
    EXPECT(!view(zdatum_cause_advice(fits[0].cause)).empty());
}

/* Whatever the bytes of the arguments are, there is an answer, and never a landing that nobody accepted. */
void any_bytes(Kept &kept)
{
    std::uint32_t state = 1;
    const auto fill = [&state](void *bytes, std::size_t size) {
        for (std::size_t i = 0; i < size; i++) {
            state = state * 1664525u + 1013904223u;
            /* Small numbers as often as any, since they get further in. */
            static_cast<unsigned char *>(bytes)[i] =
                static_cast<unsigned char>(state & 0x8000u ? state >> 24 : state >> 30);
        }
    };
    std::array<unsigned, 12> seen = {};
    const auto count = [&seen](zdatum_code code) {
        EXPECT(code >= ZDATUM_OK && code <= ZDATUM_REFUSED);
        seen[static_cast<std::size_t>(code)]++;
    };
    for (int round = 0; round < 3000; round++) {
        zdatum_draft draft = invented();
        zdatum_job job;
        zdatum_event event;
        zdatum_request request;
        zdatum_bad_setup bad;
        zdatum_outcome outcome;
        const auto scratch = std::make_unique<zdatum_setup>();
        /* A few spoilt bytes somewhere in a good draft. */
        fill(reinterpret_cast<unsigned char *>(&draft) + state % (sizeof draft - 4), 4);
        count(zdatum_setup_check(scratch.get(), &draft, &bad));
        fill(&job, sizeof job);
        if (round % 2 == 0) {
            job = {};
        }
        count(zdatum_cycle_start(kept.cycle.get(), kept.setup.get(), &job));
        for (int i = 0; i < 60; i++) {
            fill(&event, sizeof event);
            event.kind = static_cast<std::uint8_t>(event.kind % 10);
            event.detail = static_cast<std::uint8_t>(event.detail % 3);
            count(zdatum_cycle_poll(kept.cycle.get(), &request));
            if (request.kind == ZDATUM_DO_APPROACH && i % 8 != 0) {
                event.z = request.height + ZDATUM_MM(0.3);
                event.readings = 0;
                event.kind = ZDATUM_EVENT_TRIPPED;
            }
            count(zdatum_cycle_handle(kept.cycle.get(), &event));
        }
        const zdatum_code code = zdatum_cycle_outcome(kept.cycle.get(), &outcome);
        count(code);
        EXPECT(code != ZDATUM_OK || outcome.refusal_count > 0 || outcome.has_quick || outcome.accepted);
    }
    EXPECT(seen[ZDATUM_OK] > 0 && seen[ZDATUM_OUT_OF_TURN] > 0 && seen[ZDATUM_OUT_OF_RANGE] > 0);
    EXPECT(seen[ZDATUM_BAD_SETUP] > 0 && seen[ZDATUM_NOT_FINISHED] > 0);
    EXPECT(seen[ZDATUM_NULL] == 0 && seen[ZDATUM_MISALIGNED] == 0);
}

/* Sizes and alignments, for the documents. */
void sizes()
{
#define SIZE(type) std::printf("%-16s %4zu bytes, aligned to %zu\n", #type, sizeof(type), alignof(type))
    SIZE(zdatum_setup);
    SIZE(zdatum_cycle);
    SIZE(zdatum_series);
    SIZE(zdatum_book);
    SIZE(zdatum_watch);
    SIZE(zdatum_draft);
    SIZE(zdatum_outcome);
    SIZE(zdatum_landing);
    SIZE(zdatum_request);
    SIZE(zdatum_event);
}

} // namespace

int main(int count, char **arguments)
{
    if (count == 2 && std::strcmp(arguments[1], "--sizes") == 0) {
        sizes();
        return 0;
    }
    Kept kept;
    const zdatum_draft draft = invented();
    EXPECT(zdatum_abi() == ZDATUM_ABI);
    EXPECT(zdatum_setup_check(kept.setup.get(), &draft, nullptr) == ZDATUM_OK);
    EXPECT(zdatum_setup_check(nullptr, &draft, nullptr) == ZDATUM_NULL);
    EXPECT(zdatum_cycle_poll(kept.cycle.get(), nullptr) == ZDATUM_NOT_STARTED);
    numbers();
    recorded(kept);
    gauge_check();
    remembered();
    any_bytes(kept);
    EXPECT(run_cycles() == 0);
    return failures == 0 ? 0 : 1;
}
