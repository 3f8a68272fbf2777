//! Case generators, built from the core's one table of ranges.

use std::num::NonZeroU32;

use proptest::collection::vec;
use proptest::prelude::*;
use proptest::test_runner::{Config, RngSeed, TestRunner};
use zdatum::setup::{Delay, Follows, Grows};
use zdatum::units::{Quantity, Spec};
use zdatum::{
    Centre, Coverage, Draft, Growth, Latency, Length, Pooled, Ratio, Readings, Speed, Step, Temperature,
    Uncertainty, Warming,
};

use crate::machine;

/// Cases of each property, where PROPTEST_CASES says nothing else.
const CASES: u32 = 384;

/// A runner with a fixed seed, so that a failure is the same everywhere. PROPTEST_CASES and PROPTEST_RNG_SEED
/// change it.
pub fn runner() -> TestRunner {
    let mut config = Config { failure_persistence: None, max_shrink_iters: 4_000, ..Config::default() };
    if std::env::var_os("PROPTEST_CASES").is_none() {
        config.cases = CASES;
    }
    if std::env::var_os("PROPTEST_RNG_SEED").is_none() {
        config.rng_seed = RngSeed::Fixed(0x5EED);
    }
    TestRunner::new(config)
}

/// Runs a property.
pub fn property<S: Strategy>(cases: S, check: impl Fn(S::Value) -> Result<(), TestCaseError>)
where
    S::Value: std::fmt::Debug,
{
    runner().run(&cases, check).unwrap_or_else(|failure| panic!("{failure}"));
}

/// Bits within a quantity's range: anywhere, of any size, and its corners.
pub fn bits(spec: &Spec) -> BoxedStrategy<i64> {
    within(spec.min, spec.max_i64())
}

/// Whole numbers in a range: anywhere, of any size, and the range's corners.
pub fn within(min: i64, max: i64) -> BoxedStrategy<i64> {
    let corners = [min, max, min.saturating_add(1), max.saturating_sub(1), 0, 1, -1]
        .into_iter()
        .filter(|x| (min..=max).contains(x))
        .collect::<Vec<_>>();
    let sized = (0_u32..63, any::<i64>()).prop_map(move |(size, x)| (x >> size).clamp(min, max));
    prop_oneof![2 => min..=max, 3 => sized, 1 => proptest::sample::select(corners)].boxed()
}

macro_rules! quantity {
    ($($function:ident $name:ident;)*) => {$(
        /// Any value of the quantity.
        pub fn $function() -> BoxedStrategy<$name> {
            bits(Quantity::$name.spec()).prop_map(|bits| $name::from_bits(bits).expect("in range")).boxed()
        }
    )*};
}

quantity! {
    length Length;
    speed Speed;
    latency Latency;
    temperature Temperature;
    warming Warming;
    growth Growth;
    uncertainty Uncertainty;
    ratio Ratio;
}

/// An uncertainty of up to 1 mm, as a setup may have.
pub fn small() -> BoxedStrategy<Uncertainty> {
    within(0, 1 << 24).prop_map(|bits| Uncertainty::from_bits(bits).expect("in range")).boxed()
}

/// A study with up to 10^6 degrees of freedom.
pub fn pooled() -> BoxedStrategy<Pooled> {
    (small(), within(1, 1_000_000))
        .prop_map(|(s, dof)| Pooled { s, dof: NonZeroU32::new(dof as u32).expect("from 1 up") })
        .boxed()
}

/// A motor step as (steps, mm).
pub fn steps() -> BoxedStrategy<(u32, u32)> {
    let usual = prop_oneof![
        Just((1600, 3)),
        Just((800, 1)),
        Just((400, 1)),
        Just((16_384, 1)),
        Just((1, 1)),
        Just((1_048_576, 1_048_576)),
        Just((1_048_575, 64)),
    ];
    let any = (1..=Step::MAX, 1..=Step::MAX)
        .prop_map(|(steps, mm)| (steps, (mm >> (mm & 15)).clamp(steps.div_ceil(1 << 14), steps)));
    prop_oneof![1 => usual, 1 => any].boxed()
}

/// Differences of a series from its base: up to 2^24 bits (256 mm), of any scale; often few values, sometimes
/// all equal.
pub fn scatter(least: usize, most: usize) -> BoxedStrategy<Vec<i64>> {
    let few = most.min(9);
    let count = prop_oneof![4 => least..=few.max(least), 1 => least..=most];
    (count, 0_u32..=23)
        .prop_flat_map(|(count, scale)| {
            let reach = (1_i64 << scale) - 1;
            vec(-reach / 2..=reach / 2, count)
        })
        .boxed()
}

/// Heights around a base, kept within the range of lengths.
pub fn around(base: i64, scatter: &[i64]) -> Vec<i64> {
    let spec = Quantity::Length.spec();
    scatter.iter().map(|d| (base + d).clamp(spec.min, spec.max_i64())).collect()
}

/// A series anywhere, no touch 256 mm or more from the first.
pub fn series(least: usize, most: usize) -> BoxedStrategy<Vec<i64>> {
    (bits(Quantity::Length.spec()), scatter(least, most))
        .prop_map(|(base, scatter)| around(base, &scatter))
        .boxed()
}

/// A centre.
pub fn centre() -> BoxedStrategy<Centre> {
    prop_oneof![2 => Just(Centre::Mean), 1 => Just(Centre::Median), 1 => Just(Centre::HodgesLehmann)].boxed()
}

/// A coverage.
pub fn coverage() -> BoxedStrategy<Coverage> {
    proptest::sample::select(Coverage::ALL.to_vec()).boxed()
}

/// A delay.
pub fn delay() -> BoxedStrategy<Delay> {
    (latency(), latency()).prop_map(|(latency, latency_u)| Delay { latency, latency_u }).boxed()
}

/// What was read at a station.
pub fn readings() -> BoxedStrategy<Readings> {
    let maybe = proptest::option::of::<BoxedStrategy<Temperature>>;
    (proptest::option::of(speed()), maybe(temperature()), maybe(temperature()), maybe(temperature()))
        .prop_map(|(speed, tool, bed, chamber)| Readings { speed, tool, bed, chamber })
        .boxed()
}

/// A growing part.
pub fn part() -> BoxedStrategy<Grows> {
    let follows = prop_oneof![Just(Follows::Tool), Just(Follows::Bed), Just(Follows::Chamber)];
    let rate_u = within(0, Growth::SPEC.max_i64())
        .prop_map(|bits| Growth::from_bits(bits >> (bits & 15)).expect("in range"));
    // Eight parts of 62.5 µm/K come to 2.5 mm: more than 4 mm would be a bad setup.
    let delta_u =
        prop_oneof![Just(0), within(0, 5 << 16)].prop_map(|bits| Warming::from_bits(bits).expect("in range"));
    let trimmed = prop_oneof![Just(Warming::ZERO).boxed(), warming()];
    (follows, growth(), rate_u, temperature(), temperature(), delta_u, trimmed)
        .prop_map(|(follows, rate, rate_u, touch, print, delta_u, trimmed)| Grows {
            follows,
            rate,
            rate_u,
            touch,
            print,
            delta_u,
            trimmed,
        })
        .boxed()
}

/// One cycle: a machine, touches and readings.
#[derive(Clone, Debug)]
pub struct Case {
    /// The machine; passes its check.
    pub draft: Draft,
    /// Heights of tip, shoulder and plate in bits.
    pub touches: [Vec<i64>; 3],
    /// What was read beside them.
    pub readings: [Readings; 3],
}

/// Cycles over all of the ranges: tiny to huge values in every place.
pub fn cycle() -> BoxedStrategy<Case> {
    let known = within(1, 1 << 24).prop_map(|bits| Uncertainty::from_bits(bits).expect("in range"));
    let probe = (within(1, 10_000 << 16), known, speed(), delay());
    let switch = (delay(), steps(), within(1, 1_000 << 16), coverage(), centre());
    let studies = proptest::option::of((pooled(), pooled(), pooled()));
    let parts = vec(part(), 0..=8);
    let left = prop_oneof![Just(0), within(-(1 << 16), 1 << 16)];
    let left = (left, prop_oneof![Just(Uncertainty::ZERO).boxed(), small()]);
    let between = (proptest::option::of(pooled()), proptest::option::of(pooled()));
    let least = 2_usize;
    let stations = (heights_of_three(), scatter(least, 64), scatter(least, 64), scatter(least, 64));
    let read = [readings(), readings(), readings()];
    // Half of the cases look like a machine, so that the range of u is not all millimetres.
    (any::<bool>(), probe, switch, (studies, between), parts, left, stations, read)
        .prop_map(|(usual, probe, switch, (studies, between), parts, (left, unseen), stations, readings)| {
            let mut draft = machine::boundless();
            let (t, t_u, v0, plate_delay) = probe;
            let (datum_delay, steps, fine, coverage, centre) = switch;
            draft.travel.steps = steps;
            draft.probe.trip_depth = Length::from_bits(t).expect("in range");
            draft.touch.fine_speed = Speed::from_bits(fine).expect("in range");
            draft.touch.centre = centre;
            draft.accept.coverage = coverage;
            draft.soak_left = Length::from_bits(left).expect("in range");
            draft.unseen = unseen;
            (draft.pooled.tip_between, draft.pooled.span_between) = between;
            draft.growth = parts.into_iter().collect();
            if !usual {
                draft.probe.trip_depth_u = t_u;
                draft.probe.trimmed_at_speed = v0;
                draft.probe.delay = plate_delay;
                draft.datum_switch.delay = datum_delay;
            } else {
                draft.touch.fine_speed = machine::speed("2");
                draft.soak_left = Length::ZERO;
                draft.unseen = Uncertainty::ZERO;
                (draft.pooled.tip_between, draft.pooled.span_between) = (None, None);
                draft.growth.clear();
                draft.probe.trip_depth_u =
                    Uncertainty::from_bits(i64::from(t_u.to_bits() >> 10).max(1)).expect("small");
            }
            if let Some((tip, shoulder, plate)) = studies {
                draft.pooled.tip = Some(tip);
                draft.pooled.shoulder = Some(shoulder);
                draft.pooled.plate = Some(plate);
            }
            let (bases, tip, shoulder, plate) = stations;
            let touches = [around(bases[0], &tip), around(bases[1], &shoulder), around(bases[2], &plate)];
            let readings = if usual { Default::default() } else { readings };
            Case { draft, touches, readings }
        })
        .boxed()
}

/// Base heights of the three stations: like a machine's, or anywhere.
fn heights_of_three() -> BoxedStrategy<[i64; 3]> {
    let machine = (within(-(100 << 16), 100 << 16), within(0, 100 << 16), within(-(10 << 16), 10 << 16))
        .prop_map(|(t, d, r)| [t, t + d, t + d + r]);
    let any = || bits(Quantity::Length.spec());
    let anywhere = [any(), any(), any()];
    prop_oneof![3 => machine, 1 => anywhere].boxed()
}
