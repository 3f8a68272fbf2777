//! Owners by the ten thousand: each trims by gauge checks at one warming and speed, and lands at another. How often the
//! stated interval holds, by the core's own trim and terms against truths drawn once per owner (handbook figures are
//! printed with `-- --nocapture owners`).

use zdatum::setup::{Delay, Follows, Grows};
use zdatum::trim::{COMMON_U, Check, Depth, Warmed, Weighing, enter_growth, exchange, trim};
use zdatum::{Growth, Length, Speed, Temperature, Uncertainty, Warming};
use zdatum_tests::machine::{growth, latency, mm, speed, u};
use zdatum_world::random::Random;

const OWNERS: u64 = 12_000;
/// τ and u(τ) of the probe's switch, s.
const LATE: [f64; 2] = [0.001, 0.0005];

fn kelvin(k: f64) -> Warming {
    Warming::from_f64(k).expect("in range")
}

/// What an owner does: checks at a warming and speed, then a landing at others.
#[derive(Clone, Copy, Debug)]
struct Habit {
    growth_u: &'static str,
    checks: u32,
    check_at: (f64, &'static str),
    land_at: (f64, &'static str),
}

/// Share of owners whose landing lies within k = 1.96 of its stated u.
fn covered(habit: Habit) -> f64 {
    let delay = Delay { latency: latency("0.001"), latency_u: latency("0.0005") };
    let (rate_u, landing_u) = (growth(habit.growth_u), u("0.003"));
    let (gauge_u, feel_u, start_u) = (u("0.002"), u("0.010"), u("0.058"));
    let felt = f64::hypot(gauge_u.to_f64(), feel_u.to_f64());
    let common = COMMON_U.to_f64();
    let mut held = 0;
    for owner in 0..OWNERS {
        let mut random = Random::of_run(77, owner);
        let mut normal = |sd: f64| sd * random.normal();
        // What is wrong, once per owner: t at no speed, τ, g, and what gauge and feel have in common.
        let depth_off = normal(start_u.to_f64());
        let late_off = normal(LATE[1]);
        let growth_off = normal(rate_u.to_f64());
        let bias = normal(common);
        let mut known = Depth { t: mm("0.64"), u: start_u, speed: Speed::ZERO };
        let mut trimmed = Warming::ZERO;
        // The first-layer error of a landing by what is known: t at no speed is 0.64 + depth_off.
        let error = |known: &Depth, warming: f64, at: Speed| {
            let v = at.to_f64();
            let corrected = (v - known.speed.to_f64()) * LATE[0] - v * (LATE[0] + late_off);
            0.64 + depth_off - known.t.to_f64() + corrected - growth_off * warming
        };
        let (check_warming, check_speed) = (habit.check_at.0, speed(habit.check_at.1));
        for _ in 0..habit.checks {
            let own = normal((felt * felt - common * common).sqrt()) + normal(landing_u.to_f64());
            let too_high = error(&known, check_warming, check_speed) + bias + own;
            let check = Check {
                too_high: Length::from_f64(too_high).expect("near"),
                wish: Length::ZERO,
                made_with: known.t,
                speed: check_speed,
                gauge_u,
                feel_u,
                landing_u,
            };
            let part = Warmed { rate_u, trimmed, under_test: kelvin(check_warming) };
            let done = trim(&known, &[part], &delay, &check, Weighing::Weighed).expect("held");
            (known, trimmed) = (done.depth, done.warmings[0]);
        }
        let (warming, at) = (habit.land_at.0, speed(habit.land_at.1));
        let seen = error(&known, warming, at) + normal(landing_u.to_f64());
        let late = (at.to_f64() - known.speed.to_f64()) * LATE[1];
        let grown = (warming - trimmed.to_f64()) * rate_u.to_f64();
        let stated =
            [known.u.to_f64(), late, grown, landing_u.to_f64()].iter().map(|u| u * u).sum::<f64>().sqrt();
        held += u64::from(seen.abs() <= 1.96 * stated);
    }
    held as f64 / OWNERS as f64
}

/// 94 to 97.5 % in every cell, whatever the growth's doubt, the warmings and speeds of checks and landings, and the
/// number of checks.
#[test]
fn owners_intervals_hold_at_any_warming() {
    for growth_u in ["0.02", "0.06", "0.2"] {
        for checks in [1, 3, 12] {
            for (check_at, land_at) in [
                ((85.0, "2"), (85.0, "2")),
                ((85.0, "2"), (0.0, "2")),
                ((0.0, "2"), (85.0, "2")),
                ((85.0, "2"), (190.0, "2")),
                ((85.0, "2"), (40.0, "4")),
            ] {
                let habit = Habit { growth_u, checks, check_at, land_at };
                let share = covered(habit);
                println!(
                    "u(g) {growth_u} um/K, {checks:>2} checks at {check_at:?}, landing at {land_at:?}: {:.1} %",
                    100.0 * share
                );
                assert!((0.94..=0.975).contains(&share), "{habit:?}: {share}");
            }
        }
    }
}

/// A part exchanged: its error is the trip depth's from then on. A growth entered anew leaves landings at the trimmed
/// warming where they are.
#[test]
fn owners_exchange_parts_and_enter_growths() {
    let known = Depth { t: mm("0.5"), u: u("0.004"), speed: speed("2") };
    let part = Grows {
        follows: Follows::Tool,
        rate: growth("0.25"),
        rate_u: growth("0.04"),
        touch: Temperature::from_bits(150 << 16).expect("°C"),
        print: Temperature::from_bits(235 << 16).expect("°C"),
        delta_u: Warming::ZERO,
        trimmed: kelvin(75.0),
    };
    // √(4² + (75·0.04)²) = 5 µm.
    let other = exchange(&known, &part).expect("held");
    assert_eq!((other.t, other.speed), (known.t, known.speed));
    assert!((other.u.to_f64() - 0.005).abs() < 1e-6, "{}", other.u);
    // 0.05 µm/K more over 75 K: t is 3.75 µm larger, as much as the landing's growth.
    let moved = enter_growth(&known, &part, growth("0.3")).expect("held");
    let by = moved.t.to_f64() - known.t.to_f64();
    assert!((by - 0.003_75).abs() < 1.0 / 65_536.0, "{by}");
    assert_eq!((moved.u, moved.speed), (known.u, known.speed));
    let least = Growth::from_bits(1).expect("held");
    assert_eq!(exchange(&known, &Grows { rate_u: least, ..part }).map(|depth| depth.u), Ok(known.u));
    assert!(Uncertainty::LEAST > Uncertainty::ZERO);
}
