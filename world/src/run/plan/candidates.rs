//! Ways to touch that this machine allows.

use std::collections::BTreeSet;

use zdatum::setup::Touch;
use zdatum::{Centre, Length, Setup, Speed, Station, Uncertainty};

use super::way::{Key, key};
use crate::Noise;
use crate::contact::lift_needed;

const LEAST: [u8; 8] = [3, 4, 5, 8, 12, 20, 32, 48];
const SETTLE: [u8; 3] = [0, 1, 2];
const CENTRES: [Centre; 3] = [Centre::Mean, Centre::Median, Centre::HodgesLehmann];
/// Times the file's fine speed.
const FINE: [f64; 3] = [0.5, 1.0, 2.0];
/// Times the file's first speed.
const FIRST: [f64; 2] = [1.5, 2.0];
/// Times the pooled s of the noisiest station; the last stands for the file's own band.
const BANDS: [f64; 2] = [7.0, 10.0];
/// Fewest standard deviations that a band may hold: narrower ones refuse sound series.
const LEAST_BAND: f64 = 6.0;
/// Times what a switch needs to open (*common practice*).
const LIFT_MARGIN: f64 = 2.0;
/// 0.3 mm: switches may need some tenths of a millimetre to open again (*common practice*). A setup that lifts less is warned of.
pub const SMALL_LIFT: Length = match Length::from_bits(19_661) {
    Ok(length) => length,
    Err(_) => Length::ZERO,
};
/// Fewest counted touches in which filament that is squashed could be seen as a walk, where the station's scatter is known from a study.
/// A setup that counts fewer is warned of.
pub const FEWEST_STUDIED: u8 = 3;
/// The same where it is not.
pub const FEWEST_UNSTUDIED: u8 = 5;

/// What all candidates have in common.
pub(super) struct Allowed<'a> {
    own: &'a Setup,
    /// s of the noisiest station, mm: its study's, else the world's.
    s: f64,
    least_lift: Length,
    /// Counted touches.
    fewest: u8,
    /// Whether anything changes from touch to touch.
    settles: bool,
}

impl<'a> Allowed<'a> {
    pub(super) fn new(own: &'a Setup, noise: &Noise) -> Self {
        let pooled = &own.draft().pooled;
        let studied = Station::ALL.iter().filter_map(|at| pooled.of(*at)).map(|study| study.s.to_f64());
        let true_noise = [noise.tip_switch, noise.shoulder_switch, noise.plate_switch];
        let s = studied.chain(true_noise).fold(0.0, f64::max);
        let opens = Station::ALL.map(|at| lift_needed(noise, at)).into_iter().fold(0.0, f64::max);
        let settles = noise.tip_filament > 0.0 || noise.drift != 0.0;
        let least_lift = mm(LIFT_MARGIN * opens).map_or(SMALL_LIFT, |lift| lift.max(SMALL_LIFT));
        let is_studied = Station::ALL.iter().all(|at| pooled.of(*at).is_some());
        let fewest = if is_studied { FEWEST_STUDIED } else { FEWEST_UNSTUDIED };
        Self { own, s, least_lift, fewest, settles }
    }

    /// The coarse grid, the file's own way first.
    pub(super) fn grid(&self, seen: &mut BTreeSet<Key>) -> Vec<Setup> {
        let own = self.own.draft().touch;
        let mut all = vec![self.own.clone()];
        seen.insert(key(&own));
        let bands: Vec<Length> = BANDS.iter().filter_map(|at| mm(at * self.s)).chain([own.band]).collect();
        let lifts = [self.least_lift, own.lift];
        for least in LEAST {
            for centre in CENTRES {
                for settle in SETTLE {
                    for fine in FINE {
                        for lift in lifts {
                            for band in &bands {
                                let touch = Touch { centre, settle, lift, band: *band, ..own };
                                if let Some(fine_speed) = speed(own.fine_speed.to_f64() * fine) {
                                    let touch = self.counted(Touch { fine_speed, ..touch }, least);
                                    self.push(seen, &mut all, touch);
                                }
                            }
                        }
                    }
                }
            }
        }
        all
    }

    /// Ways a little different from one, a setting at a time.
    pub(super) fn near(&self, setup: &Setup, seen: &mut BTreeSet<Key>, all: &mut Vec<Setup>) {
        let touch = setup.draft().touch;
        let mut add = |touch| self.push(seen, all, touch);
        let step = (touch.least / 4).max(1);
        for least in [touch.least.saturating_sub(step), touch.least.saturating_add(step)] {
            add(self.counted(touch, least));
        }
        // More to spare: fewer series are refused for a wild touch.
        let spare = touch.most.saturating_sub(touch.least);
        for spare in [spare / 2, spare.saturating_mul(2).max(1)] {
            add(Touch { most: touch.least.saturating_add(spare), ..touch });
        }
        for settle in [touch.settle.saturating_sub(1), touch.settle.saturating_add(1)] {
            add(Touch { settle, ..touch });
        }
        for times in [0.75, 1.25] {
            if let Some(fine_speed) = speed(touch.fine_speed.to_f64() * times) {
                add(Touch { fine_speed, ..touch });
            }
            if let Some(lift) = mm(touch.lift.to_f64() * times) {
                add(Touch { lift, ..touch });
            }
            if let Some(band) = mm(touch.band.to_f64() * times) {
                add(Touch { band, ..touch });
            }
        }
        FIRST.into_iter().filter_map(|times| self.first(touch, times)).for_each(&mut add);
        // What the counted touches give on average, and somewhat less: so that only unlucky series go on.
        let u = self.s / libm::sqrt(f64::from(touch.least));
        for times in [0.7, 1.0] {
            if let Ok(target_u) = Uncertainty::parse(&format!("{:.5}", u * times)) {
                add(Touch { target_u, ..touch });
            }
        }
    }

    /// Another number of touches, with as many to spare as the file allows.
    fn counted(&self, touch: Touch, least: u8) -> Touch {
        let own = self.own.draft().touch;
        let spare = own.most.saturating_sub(own.least);
        Touch { least, most: least.saturating_add(spare), ..touch }
    }

    /// So many times the file's first speed: a carriage's way to stand still grows with the square of its speed.
    fn first(&self, touch: Touch, times: f64) -> Option<Touch> {
        let own = self.own.draft().touch;
        let first_speed = speed(own.first_speed.to_f64() * times)?;
        let stop = mm(own.stop.to_f64() * times * times)?;
        Some(Touch { first_speed, stop, ..touch })
    }

    /// Adds a way that the machine allows, of whose lift and touches `setup` does not warn unless it warns of the file's, and that
    /// has not been seen yet. Settling touches are for what settles.
    fn push(&self, seen: &mut BTreeSet<Key>, all: &mut Vec<Setup>, touch: Touch) {
        let own = self.own.draft().touch;
        let narrow = touch.band != own.band && touch.band.to_f64() < LEAST_BAND * self.s;
        let low = touch.lift != own.lift && touch.lift < self.least_lift;
        let few = touch.least < self.fewest.min(own.least);
        let settling = touch.settle > 0 && !self.settles;
        if narrow || low || few || settling || !seen.insert(key(&touch)) {
            return;
        }
        let mut draft = self.own.draft().clone();
        draft.touch = touch;
        all.extend(Setup::check(draft));
    }
}

/// To a micrometre, as it will be written.
fn mm(mm: f64) -> Option<Length> {
    Length::parse(&format!("{mm:.3}")).ok()
}

/// To a hundredth of a mm/s, as it will be written.
fn speed(mm_per_s: f64) -> Option<Speed> {
    Speed::parse(&format!("{mm_per_s:.2}")).ok()
}

#[cfg(test)]
mod tests;
