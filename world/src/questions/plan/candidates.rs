//! Ways of touching that this machine allows.

use zdatum::series::MOST_TOUCHES;
use zdatum::setup::Touch;
use zdatum::{Centre, Draft, Length, Setup, Speed, Station, Uncertainty};

use crate::Noise;
use crate::contact::lift_needed;

const LEAST: [u8; 7] = [3, 4, 5, 8, 12, 20, 32];
const SETTLE: [u8; 3] = [0, 1, 2];
const CENTRES: [Centre; 3] = [Centre::Mean, Centre::Median, Centre::HodgesLehmann];
/// Times the file's fine speed.
const FINE: [f64; 4] = [0.5, 1.0, 2.0, 3.0];
/// Times the file's first speed.
const FIRST: [f64; 2] = [1.0, 2.0];
/// Times the pooled s of the noisiest station: such a band refuses few sound series.
const BAND: f64 = 8.0;
/// Fewest standard deviations that the file's own band must hold to be tried with other touchings.
const LEAST_BAND: f64 = 6.0;
/// Times what a switch needs to open (*common practice*).
const LIFT_MARGIN: f64 = 2.0;
/// 0.3 mm: switches may need some tenths of a millimetre to open again (*common practice*). A setup that
/// lifts less is warned of.
pub const SMALL_LIFT: Length = match Length::from_bits(19_661) {
    Ok(length) => length,
    Err(_) => Length::ZERO,
};
/// Fewest counted touches in which filament that is squashed could be seen as a walk, where the station's
/// scatter is known from a study. A setup that counts fewer is warned of.
pub const FEWEST_STUDIED: u8 = 3;
/// The same where it is not.
pub const FEWEST_UNSTUDIED: u8 = 5;

/// Every combination that the machine allows and of whose lift and touches `setup` does not warn unless it
/// warns of the file's; the file's own way first.
pub(super) fn candidates(own: &Setup, noise: &Noise) -> Vec<Setup> {
    let file = own.draft().touch;
    let pooled = &own.draft().pooled;
    let studied = Station::ALL.iter().filter_map(|at| pooled.of(*at)).map(|study| study.s.to_f64());
    // s of the noisiest station, mm: its study's, else the world's.
    let s = studied.chain([noise.tip_switch, noise.shoulder_switch, noise.plate_switch]).fold(0.0, f64::max);
    let is_studied = Station::ALL.iter().all(|at| pooled.of(*at).is_some());
    let fewest = if is_studied { FEWEST_STUDIED } else { FEWEST_UNSTUDIED };
    // Settling touches are for what changes from touch to touch, other centres for wild ones.
    let settles = noise.tip_filament > 0.0 || noise.drift != 0.0;
    let is_wild = noise.outlier_rate > 0.0;

    // Lower lifts only where every switch still opens; the file's own where it is lower.
    let opens = Station::ALL.map(|at| lift_needed(noise, at)).into_iter().fold(0.0, f64::max);
    let least_lift = mm(LIFT_MARGIN * opens).map_or(SMALL_LIFT, |lift| lift.max(SMALL_LIFT));
    let lift = least_lift.min(file.lift);
    let keeps_band = file.band.to_f64() >= LEAST_BAND * s;
    let bands = mm(BAND * s).into_iter().chain(keeps_band.then_some(file.band));

    let mut all = vec![Touch { lift, target_u: Uncertainty::ZERO, ..file }];
    let least = LEAST.into_iter().filter(|least| *least >= fewest.min(file.least)).chain([file.least]);
    cross(&mut all, least, |touch, least| {
        // As many to spare, in proportion, as the file allows.
        let most = (u32::from(least) * u32::from(file.most)).div_ceil(u32::from(file.least).max(1));
        Some(Touch { least, most: most.min(MOST_TOUCHES as u32) as u8, ..touch })
    });
    cross(&mut all, SETTLE.into_iter().take(if settles { SETTLE.len() } else { 1 }), |touch, settle| {
        Some(Touch { settle, ..touch })
    });
    cross(&mut all, CENTRES.into_iter().take(if is_wild { CENTRES.len() } else { 1 }), |touch, centre| {
        Some(Touch { centre, ..touch })
    });
    cross(&mut all, bands, |touch, band| Some(Touch { band, ..touch }));
    cross(&mut all, FINE.into_iter(), |touch, times| {
        Some(Touch { fine_speed: speed(file.fine_speed.to_f64() * times)?, ..touch })
    });
    cross(&mut all, FIRST.into_iter(), |touch, times| {
        // A carriage's way to stand still grows with the square of its speed.
        let stop = mm(file.stop.to_f64() * times * times)?;
        Some(Touch { first_speed: speed(file.first_speed.to_f64() * times)?, stop, ..touch })
    });
    all.insert(0, file);
    let mut each: Vec<Touch> = Vec::new();
    for touch in all {
        if !each.contains(&touch) {
            each.push(touch);
        }
    }
    let with = |touch| Setup::check(Draft { touch, ..own.draft().clone() }).ok();
    each.into_iter().filter_map(with).collect()
}

/// Each touching so far with each of these values; what cannot be held is left out.
fn cross<T: Copy>(
    all: &mut Vec<Touch>,
    values: impl Iterator<Item = T> + Clone,
    with: impl Fn(Touch, T) -> Option<Touch>,
) {
    let with = &with;
    *all = all.iter().flat_map(|touch| values.clone().filter_map(move |value| with(*touch, value))).collect();
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
