//! Ways to touch that this machine allows.

use zdatum::setup::Touch;
use zdatum::{Centre, Length, Setup, Speed, Station, Uncertainty};

use crate::Noise;

const LEAST: [u8; 7] = [1, 2, 3, 4, 5, 8, 12];
const SETTLE: [u8; 3] = [0, 1, 2];
const CENTRES: [Centre; 3] = [Centre::Mean, Centre::Median, Centre::HodgesLehmann];
/// Times the file's fine speed.
const FINE: [f64; 3] = [0.5, 1.0, 2.0];
/// Times the file's first speed.
const FIRST: [f64; 2] = [1.0, 2.0];
/// Times the pooled s of the noisiest station; the last stands for the file's own band.
const BANDS: [f64; 2] = [7.0, 10.0];
/// Fewest standard deviations that a band may hold: narrower ones refuse sound series.
const LEAST_BAND: f64 = 6.0;
/// Times what a switch needs to open (*common practice*).
const LIFT_MARGIN: f64 = 2.0;
/// Least lift, mm (*common practice*): room to come up to speed.
const LEAST_LIFT: f64 = 0.2;
/// Upwards, mm/s, while a contact bounces: the world's own.
const UP_MM_PER_S: f64 = 15.0;

/// A checked way to touch.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Candidate {
    pub(super) setup: Setup,
}

/// What all candidates have in common.
pub(super) struct Allowed<'a> {
    own: &'a Setup,
    /// s of the noisiest station, mm: its study's, else the world's.
    s: f64,
    /// mm.
    least_lift: f64,
}

impl<'a> Allowed<'a> {
    pub(super) fn new(own: &'a Setup, noise: &Noise) -> Self {
        let pooled = &own.draft().pooled;
        let studied = Station::ALL.iter().filter_map(|at| pooled.of(*at)).map(|study| study.s.to_f64());
        let true_noise = [noise.tip_switch, noise.shoulder_switch, noise.plate_switch];
        let s = studied.chain(true_noise).fold(0.0, f64::max);
        let opens = noise.datum_differential.max(noise.plate_differential) + noise.bounce_s * UP_MM_PER_S;
        Self { own, s, least_lift: (LIFT_MARGIN * opens).max(LEAST_LIFT) }
    }

    /// The coarse grid, the file's own way first.
    pub(super) fn grid(&self) -> Vec<Candidate> {
        let own = self.own.draft().touch;
        let mut all = vec![Candidate { setup: self.own.clone() }];
        let bands: Vec<Length> = BANDS.iter().filter_map(|at| mm(at * self.s)).chain([own.band]).collect();
        let lifts: Vec<Length> = mm(self.least_lift).into_iter().chain([own.lift]).collect();
        for least in LEAST {
            for centre in CENTRES.into_iter().filter(|centre| least > 2 || *centre == Centre::Mean) {
                for settle in SETTLE {
                    for fine in FINE {
                        for first in FIRST {
                            for lift in &lifts {
                                for band in &bands {
                                    let touch = Touch { centre, settle, lift: *lift, band: *band, ..own };
                                    let touch = self.counted(touch, least);
                                    let touch = self.speeds(touch, fine, first);
                                    touch.into_iter().for_each(|touch| self.push(&mut all, touch));
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
    pub(super) fn near(&self, candidate: &Candidate, all: &mut Vec<Candidate>) {
        let touch = candidate.setup.draft().touch;
        let add = |all: &mut Vec<Candidate>, touch| self.push(all, touch);
        for least in [touch.least.saturating_sub(1), touch.least.saturating_add(1)] {
            add(all, self.counted(touch, least));
        }
        for settle in [touch.settle.saturating_sub(1), touch.settle.saturating_add(1)] {
            add(all, Touch { settle, ..touch });
        }
        for times in [0.75, 1.25] {
            if let Some(fine_speed) = speed(touch.fine_speed.to_f64() * times) {
                add(all, Touch { fine_speed, ..touch });
            }
            if let Some(lift) = mm(touch.lift.to_f64() * times) {
                add(all, Touch { lift, ..touch });
            }
            if let Some(band) = mm(touch.band.to_f64() * times) {
                add(all, Touch { band, ..touch });
            }
        }
        // What the counted touches give on average, and somewhat less: so that only unlucky series go on.
        let u = self.s / libm::sqrt(f64::from(touch.least));
        for times in [0.7, 1.0] {
            if let Ok(target_u) = Uncertainty::parse(&format!("{:.5}", u * times)) {
                add(all, Touch { target_u, ..touch });
            }
        }
    }

    /// Another number of touches, with as many to spare as the file allows.
    fn counted(&self, touch: Touch, least: u8) -> Touch {
        let own = self.own.draft().touch;
        let spare = own.most.saturating_sub(own.least);
        Touch { least, most: least.saturating_add(spare), ..touch }
    }

    /// Other speeds: a carriage's way to stand still grows with the square of its speed.
    fn speeds(&self, touch: Touch, fine: f64, first: f64) -> Option<Touch> {
        let fine_speed = speed(touch.fine_speed.to_f64() * fine)?;
        let first_speed = speed(touch.first_speed.to_f64() * first)?;
        let stop = if first > 1.0 { mm(touch.stop.to_f64() * first * first)? } else { touch.stop };
        Some(Touch { fine_speed, first_speed, stop, ..touch })
    }

    /// Adds a way that the machine allows and that is not there yet.
    fn push(&self, all: &mut Vec<Candidate>, touch: Touch) {
        let own = self.own.draft().touch;
        let narrow = touch.band != own.band && touch.band.to_f64() < LEAST_BAND * self.s;
        let low = touch.lift != own.lift && touch.lift.to_f64() < self.least_lift;
        if narrow || low || all.iter().any(|there| there.setup.draft().touch == touch) {
            return;
        }
        let mut draft = self.own.draft().clone();
        draft.touch = touch;
        all.extend(Setup::check(draft).ok().map(|setup| Candidate { setup }));
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
