//! One station's touches: first approach, lift, settle, fine touches, and which of them count.
//!
//! ```text
//!   first ─ lift ─┬─ settle ─ lift ─┐      (settle times)
//!                 └────────◄────────┘
//!                 ─┬─ fine ─ lift ─┐     until the newest `least` are within the band (and meet the target),
//!                  └───────◄───────┘     or `most` fine touches have been taken
//! ```

use crate::arith;
use crate::series::{Series, Station};
use crate::setup::{Setup, Touch};
use crate::units::{Length, Speed, Temperature, Uncertainty};

use super::request::{Do, Seconds, Temperatures, within};

/// How many touches of each kind.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Plan {
    pub(super) settle: u8,
    pub(super) least: u8,
    pub(super) most: u8,
}

impl Plan {
    /// The setup's.
    pub(super) const fn full(touch: &Touch) -> Self {
        Self { settle: touch.settle, least: touch.least, most: touch.most }
    }

    /// One fine touch after the first approach.
    pub(super) const ONE: Self = Self { settle: 0, least: 1, most: 1 };
}

/// What the machine is doing at the station.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Phase {
    /// On its way down; how often it has settled tells which touch this is.
    Down(Kind),
    /// On its way up after a touch of that kind.
    Up(Kind),
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Kind {
    First,
    Settle,
    Fine,
}

/// What became of an answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Step {
    /// Go on touching.
    Again,
    /// The series is complete: its counted touches stand in the series.
    Complete,
    /// `most` touches brought no run within the band; the spread of the newest `least`.
    Unsteady(Length),
    /// The height is not one that this approach can have met.
    OutsideApproach,
}

/// A temperature beside each fine touch, in bits; [`NOT_READ`] where there was none. Empty as long as nothing
/// was read.
type Beside<const N: usize> = heapless::Vec<i32, N, u8>;

/// Below the absolute zero.
const NOT_READ: i32 = i32::MIN;

/// The machine of one station. 9 touches: 140 bytes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Touching<const N: usize> {
    /// All fine touches, in their order; only the counted ones once complete.
    series: Series<N>,
    /// Beside each: the tool's temperature at the tip, the bed's at the plate.
    first_reading: Beside<N>,
    /// Beside each: the chamber's temperature at the plate.
    second_reading: Beside<N>,
    station: Station,
    phase: Phase,
    plan: Plan,
    settled: u8,
    complete: bool,
    /// Longest time of the pending approach.
    within: Seconds,
    floor: Length,
    /// From where the pending approach goes down.
    top: Length,
    /// To where the pending lift goes up.
    lift_to: Length,
}

impl<const N: usize> Touching<N> {
    /// Before anything is touched.
    pub(super) const fn idle() -> Self {
        Self {
            series: Series::new(),
            first_reading: heapless::Vec::new(),
            second_reading: heapless::Vec::new(),
            station: Station::Tip,
            phase: Phase::Down(Kind::First),
            plan: Plan::ONE,
            settled: 0,
            complete: false,
            within: Seconds(0),
            floor: Length::ZERO,
            top: Length::ZERO,
            lift_to: Length::ZERO,
        }
    }

    /// Begins a series at a station, from anywhere in the travel.
    pub(super) fn begin(&mut self, station: Station, plan: Plan, floor: Length, setup: &Setup) {
        let top = setup.draft().travel.z.high;
        let within = time_for(top, floor, setup.draft().touch.first_speed);
        self.series.clear();
        self.first_reading.clear();
        self.second_reading.clear();
        self.phase = Phase::Down(Kind::First);
        (self.settled, self.complete) = (0, false);
        (self.station, self.plan, self.floor, self.top, self.within) = (station, plan, floor, top, within);
    }

    /// The counted touches, once complete.
    pub(super) const fn series(&self) -> &Series<N> {
        &self.series
    }

    /// Means of the readings beside the counted touches.
    pub(super) fn mean_readings(&self) -> (Option<Temperature>, Option<Temperature>) {
        (mean(&self.first_reading), mean(&self.second_reading))
    }

    /// Whether a lift is pending; else an approach is.
    pub(super) const fn is_lifting(&self) -> bool {
        matches!(self.phase, Phase::Up(_))
    }

    /// The pending request.
    #[inline]
    pub(super) fn request(&self, touch: &Touch) -> Do {
        match self.phase {
            Phase::Down(kind) => {
                let speed = if kind == Kind::First { touch.first_speed } else { touch.fine_speed };
                Do::Approach { station: self.station, floor: self.floor, speed, within: self.within }
            }
            Phase::Up(_) => Do::Lift { to: self.lift_to, within: within::LIFT },
        }
    }

    /// The switch tripped at `z`.
    #[inline(always)]
    pub(super) fn tripped(&mut self, z: Length, at: &Temperatures, setup: &Setup) -> Step {
        let touch = &setup.draft().touch;
        let Phase::Down(kind) = self.phase else { return Step::OutsideApproach };
        if z < self.floor || z > self.top {
            return Step::OutsideApproach;
        }
        self.phase = Phase::Up(kind);
        // The whole lift each time, within the travel: a low reading must not shorten those that follow.
        let highest = setup.draft().travel.z.high;
        self.lift_to = z.plus(touch.lift).unwrap_or(highest).min(highest);
        if kind != Kind::Fine {
            return Step::Again;
        }

        if self.series.push(z).is_err() {
            // `start` has seen to it that `most` fits; a full series can only mean that.
            return Step::OutsideApproach;
        }
        self.read(at);
        let (taken, least) = (self.series.len(), usize::from(self.plan.least));
        if taken < least {
            return Step::Again;
        }
        let tail = self.tail_within(touch.band);
        let exhausted = taken >= usize::from(self.plan.most);
        if tail >= least && (exhausted || self.meets_target(tail, setup)) {
            self.keep_newest(tail);
            self.complete = true;
            return Step::Again;
        }
        if exhausted { Step::Unsteady(self.spread_of_newest(least)) } else { Step::Again }
    }

    /// Whether the touch just made completed the series.
    pub(super) const fn is_complete(&self) -> bool {
        self.complete
    }

    /// The last lift leads up to where the carriage may go sideways.
    pub(super) fn lift_clear(&mut self, clear: Length) {
        self.lift_to = clear.max(self.lift_to);
    }

    /// The carriage has been lifted and the switch is open.
    #[inline(always)]
    pub(super) fn lifted(&mut self, touch: &Touch) -> Step {
        let Phase::Up(kind) = self.phase else { return Step::OutsideApproach };
        if self.complete {
            return Step::Complete;
        }
        if kind == Kind::Settle {
            self.settled = self.settled.saturating_add(1);
        }
        if kind == Kind::First {
            // All later approaches begin at about this height.
            self.within = time_for(self.lift_to, self.floor, touch.fine_speed);
        }
        self.top = self.lift_to;
        let next = if self.settled < self.plan.settle { Kind::Settle } else { Kind::Fine };
        self.phase = Phase::Down(next);
        Step::Again
    }

    /// Keeps what was read beside the touch that has just been pushed.
    #[inline(always)]
    fn read(&mut self, at: &Temperatures) {
        let (first, second) = match self.station {
            Station::Tip => (at.tool, None),
            Station::Shoulder => (None, None),
            Station::Plate => (at.bed, at.chamber),
        };
        let touch = self.series.len();
        note(&mut self.first_reading, first, touch);
        note(&mut self.second_reading, second, touch);
    }

    /// How many of the newest touches lie within the band, unbroken.
    fn tail_within(&self, band: Length) -> usize {
        // On a sound machine that is all of them.
        if self.series.spread().is_ok_and(|spread| spread <= band) {
            return self.series.len();
        }
        let mut newest_first = self.series.touches().iter().rev().copied();
        let Some(newest) = newest_first.next() else { return 0 };
        let (mut low, mut high, mut count) = (newest, newest, 1_usize);
        for z in newest_first {
            (low, high) = (low.min(z), high.max(z));
            if high.minus(low).map_or(true, |spread| spread > band) {
                break;
            }
            count = count.saturating_add(1);
        }
        count
    }

    /// Whether the tail's u is at most the target, where one is set; a single touch that was asked for has
    /// none.
    fn meets_target(&self, tail: usize, setup: &Setup) -> bool {
        let target = setup.draft().touch.target_u;
        if target == Uncertainty::ZERO || self.plan.most <= 1 {
            return true;
        }
        let variance = setup.method(self.station).variance_for(tail);
        // A target needs a study and is below 4 mm: the setup's check has seen to both.
        variance.zip(target.variance().ok()).is_none_or(|(variance, target)| variance <= target)
    }

    /// Leaves the newest `count` touches and what was read beside them.
    fn keep_newest(&mut self, count: usize) {
        let extra = self.series.len().saturating_sub(count);
        if extra == 0 {
            return;
        }
        self.series.drop_oldest(extra);
        for readings in [&mut self.first_reading, &mut self.second_reading] {
            let mut kept = heapless::Vec::new();
            for reading in readings.get(extra..).unwrap_or_default() {
                let _ = kept.push(*reading);
            }
            *readings = kept;
        }
    }

    fn spread_of_newest(&self, count: usize) -> Length {
        let mut newest = Series::<N>::new();
        for z in self.series.touches().iter().rev().take(count) {
            let _ = newest.push(*z);
        }
        // Heights of one approach: their spread is within its way.
        newest.spread().unwrap_or(Length::ZERO)
    }
}

/// Adds what was read beside the `touch`-th touch, counted from 1. Once there is a reading there are as many
/// as touches, so that what is kept later belongs to the touches that are kept.
#[inline(always)]
fn note<const N: usize>(readings: &mut Beside<N>, reading: Option<Temperature>, touch: usize) {
    if reading.is_none() && readings.is_empty() {
        return;
    }
    if readings.len().saturating_add(1) < touch {
        catch_up(readings, touch);
    }
    let _ = readings.push(reading.map_or(NOT_READ, Temperature::to_bits));
}

/// The first reading comes late: the touches before it had none.
#[cold]
#[inline(never)]
fn catch_up<const N: usize>(readings: &mut Beside<N>, touch: usize) {
    while readings.len().saturating_add(1) < touch && readings.push(NOT_READ).is_ok() {}
}

/// Mean of the readings that there are, to the nearest bit, ties up.
fn mean(readings: &[i32]) -> Option<Temperature> {
    let there_are = readings.iter().filter(|bits| **bits != NOT_READ);
    let (sum, count) = there_are.fold((0_i64, 0_u32), |(sum, count), bits| {
        (sum.saturating_add(i64::from(*bits)), count.saturating_add(1))
    });
    Temperature::from_bits(arith::div_round(sum, core::num::NonZeroU32::new(count)?)).ok()
}

/// The time that the way down takes, and some.
fn time_for(top: Length, floor: Length, speed: Speed) -> Seconds {
    let way = i64::from(top.to_bits()).saturating_sub(i64::from(floor.to_bits()));
    let way = u32::try_from(way).unwrap_or(0);
    let seconds = way.checked_div(speed.to_bits()).unwrap_or(0);
    Seconds(u16::try_from(seconds).unwrap_or(u16::MAX).saturating_add(within::APPROACH))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reading_that_comes_late_stands_beside_its_touch() {
        let mut readings = Beside::<4>::new();
        catch_up(&mut readings, 3);
        assert_eq!(readings.as_slice(), [NOT_READ; 2]);
        catch_up(&mut readings, 3);
        assert_eq!(readings.len(), 2);
        catch_up(&mut readings, 9);
        assert_eq!(readings.len(), 4, "room for no more");
    }
}
