//! The charts of one quantity, with what was learnt of it.

use super::chart::{Cusum, Design, Ewma, Score, Side};
use super::score::{self, LEAST_DOF};
use super::{Reading, cause};
use crate::arith::Bounded;
use crate::budget::Dof;
use crate::level::{LevelSums, MOST, mean_square, over};
use crate::units::{Length, OutOfRange, Uncertainty, Variance, Wide};

/// Three standard uncertainties, squared, in 2⁻¹⁶: a change beyond is seen from the readings since the alarm
/// alone.
const PLAIN: u64 = 9 << 16;

/// Readings that a run counts at most.
pub(super) const LONGEST: u32 = 1 << 16;

/// Which chart gave the alarm.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Chart {
    /// The moving average: it sees what is large.
    Ewma,
    /// The cumulative sum: it sees what is small and stays.
    Cusum,
}

/// An alarm, as it stands until it is answered.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Alarm {
    /// Which way the quantity went.
    pub side: Side,
    /// Which chart saw it first; the moving average where both did.
    pub chart: Chart,
}

/// Readings since something, by their number and Σδ.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub(super) struct Run {
    pub(super) count: u32,
    pub(super) sum: i64,
}

impl Run {
    pub(super) const NONE: Self = Self { count: 0, sum: 0 };

    fn push(&mut self, offset: i64) {
        if self.count < LONGEST {
            self.count = self.count.plus(1);
            self.sum = self.sum.plus(offset);
        }
    }
}

/// The charts of one quantity: mean and scatter learnt from its own readings, and both charts of how each
/// next one stands to them.
///
/// Memory is constant; a reading takes some 130 steps of a division and 48 squarings of 64 bits, whatever the
/// number before.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Charts {
    /// Readings at the present level.
    pub(super) level: Option<LevelSums>,
    /// Sum of squares at the levels before, in 2⁻⁴⁴ mm², with its degrees of freedom, below 4,096.
    pub(super) earlier: (u64, u32),
    /// u² below which a reading's scatter is not taken to be.
    pub(super) floor: Variance,
    pub(super) score: Option<Score>,
    pub(super) ewma: Ewma,
    pub(super) cusum: Cusum,
    /// Readings since C⁺, and since C⁻, last stood at 0.
    pub(super) up: Run,
    pub(super) down: Run,
    /// Readings since learning was stopped.
    pub(super) since: Run,
    pub(super) alarm: Option<Alarm>,
}

impl Default for Charts {
    fn default() -> Self {
        Self::new()
    }
}

impl Charts {
    /// Nothing is known yet.
    pub const fn new() -> Self {
        Self {
            level: None,
            earlier: (0, 0),
            floor: Variance::ZERO,
            score: None,
            ewma: Ewma::new(),
            cusum: Cusum::new(),
            up: Run::NONE,
            down: Run::NONE,
            since: Run::NONE,
            alarm: None,
        }
    }

    /// δ of a reading; `None` for the first of a level.
    pub(super) fn offset(&self, reading: &Reading) -> Result<Option<i64>, OutOfRange> {
        self.level.as_ref().map(|level| level.offset(reading.value)).transpose()
    }

    /// Charts a reading by its δ, and says whether an alarm is active.
    pub(super) fn chart(&mut self, design: &Design, offset: Option<i64>, variance: Variance) -> bool {
        self.floor = variance;
        self.score = offset.and_then(|offset| self.scored(offset, variance));
        let (Some(offset), Some(score)) = (offset, self.score) else { return self.alarm.is_some() };
        self.ewma.push(design, score);
        self.cusum.push(design, score);
        let (up, down) = self.cusum.sums();
        for (run, sum) in [(&mut self.up, up), (&mut self.down, down)] {
            if sum.to_bits() == 0 {
                *run = Run::NONE;
            } else {
                run.push(offset);
            }
        }
        if self.alarm.is_none() {
            let by = |chart| move |side| Alarm { side, chart };
            let ewma = self.ewma.beyond(design).map(by(Chart::Ewma));
            self.alarm = ewma.or_else(|| self.cusum.beyond(design).map(by(Chart::Cusum)));
        }
        self.alarm.is_some()
    }

    /// Learns from a reading that was charted.
    pub(super) fn learn(&mut self, offset: Option<i64>, value: Length) {
        match (&mut self.level, offset) {
            (Some(level), Some(offset)) => {
                // Runs are told in readings of the history: where that is halved they begin anew.
                if level.push(offset) {
                    (self.up, self.down) = (Run::NONE, Run::NONE);
                }
            }
            _ => self.level = Some(LevelSums::new(value)),
        }
    }

    /// Keeps a reading as evidence of what has changed, without learning from it. The first of a level is
    /// learnt always.
    pub(super) fn hold(&mut self, offset: Option<i64>, value: Length) {
        match offset {
            Some(offset) => self.since.push(offset),
            None => self.learn(None, value),
        }
    }

    /// From now on readings stand elsewhere, and scatter as before.
    pub(super) fn begin_level(&mut self) {
        if let Some(level) = self.level.take() {
            let (scatter, dof) = self.earlier;
            let (scatter, dof) = (scatter.plus(level.scatter()), dof.plus(level.dof()));
            self.earlier = if dof < MOST { (scatter, dof) } else { (scatter >> 1, dof >> 1) };
        }
        self.settle();
    }

    /// The alarm is answered; what was learnt stays.
    pub(super) fn settle(&mut self) {
        (self.score, self.ewma, self.cusum) = (None, Ewma::new(), Cusum::new());
        (self.up, self.down, self.since, self.alarm) = (Run::NONE, Run::NONE, Run::NONE, None);
    }

    /// Forgets what was kept as evidence. Runs that hold readings which were not learnt begin anew with it.
    pub(super) fn let_go(&mut self) {
        if self.since.count > 0 {
            (self.up, self.down, self.since) = (Run::NONE, Run::NONE, Run::NONE);
        }
    }

    /// By how much the quantity has moved since the alarm of the watch, to 2⁻³² mm, with the u² of that;
    /// `None` without readings since, or too few before.
    pub(super) fn moved(&self) -> Option<(Wide, Variance)> {
        let level = self.level.as_ref()?;
        let (_, dof) = self.scatter();
        if dof < LEAST_DOF || self.since.count == 0 {
            return None;
        }
        let s2 = self.variance().ok()??;
        let change = |run: Run, before: u32, mean: Wide| {
            let change = level.height(run.sum, run.count).minus(mean);
            Some((change, over(s2, run.count).plus(over(s2, before)).ok()?))
        };
        let (by, variance) = change(self.since, level.count(), level.mean())?;
        match self.alarm {
            Some(alarm) if cause::significance(by, variance) < PLAIN => {
                let crept = self.crept(level, alarm.side);
                crept.and_then(|(run, before, mean)| change(run, before, mean)).or(Some((by, variance)))
            }
            _ => Some((by, variance)),
        }
    }

    /// What crept was learnt on the way: the run that led to the alarm counts as evidence, and the mean is
    /// that before it. The run may hold readings from before the change, so it serves only where those since
    /// the alarm are too few to show anything.
    fn crept(&self, level: &LevelSums, side: Side) -> Option<(Run, u32, Wide)> {
        let run = match side {
            Side::Up => self.up,
            Side::Down => self.down,
        };
        let learnt = run.count.checked_sub(self.since.count)?;
        let (before, mean) = level.mean_without(learnt, run.sum.minus(self.since.sum))?;
        Some((run, before, mean))
    }

    fn scored(&self, offset: i64, variance: Variance) -> Option<Score> {
        let level = self.level.as_ref()?;
        let (scatter, dof) = self.scatter();
        if dof < LEAST_DOF {
            return None;
        }
        let size = score::size(level.added(offset), score::base(scatter, dof, variance), dof);
        if level.is_below_mean(offset) {
            Score::from_bits(0_i32.minus(size.to_bits())).ok()
        } else {
            Some(size)
        }
    }

    /// Sum of squares over all levels with its degrees of freedom.
    fn scatter(&self) -> (u64, u32) {
        let (scatter, dof) = self.earlier;
        self.level
            .as_ref()
            .map_or((scatter, dof), |level| (scatter.plus(level.scatter()), dof.plus(level.dof())))
    }

    fn variance(&self) -> Result<Option<Variance>, OutOfRange> {
        let (scatter, dof) = self.scatter();
        mean_square(score::base(scatter, dof, self.floor), dof)
    }

    /// The mean of the readings at the present level; `None` before the first.
    ///
    /// # Errors
    /// *Out of range* beyond ±32,768 mm, which no mean of lengths reaches.
    pub fn mean(&self) -> Result<Option<Length>, OutOfRange> {
        self.level.as_ref().map(|level| level.mean().round()).transpose()
    }

    /// How much readings scatter about their means, one standard deviation, never below what they say of
    /// themselves, with its degrees of freedom; `None` before the second reading.
    ///
    /// # Errors
    /// *Out of range* from 4 mm up.
    pub fn s(&self) -> Result<Option<(Uncertainty, Dof)>, OutOfRange> {
        let (_, dof) = self.scatter();
        let Some(dof) = core::num::NonZeroU32::new(dof) else { return Ok(None) };
        Ok(self.variance()?.map(|variance| (variance.root(), Dof::new(dof))))
    }

    /// How many readings were learnt from at the present level, halved at 4,096.
    pub fn learnt(&self) -> u32 {
        self.level.as_ref().map_or(0, LevelSums::count)
    }

    /// U of the last reading; `None` where it was one to learn from alone.
    pub const fn score(&self) -> Option<Score> {
        self.score
    }

    /// The moving average.
    pub const fn ewma(&self) -> Ewma {
        self.ewma
    }

    /// The cumulative sums.
    pub const fn cusum(&self) -> Cusum {
        self.cusum
    }

    /// The alarm, where one stands.
    pub const fn alarm(&self) -> Option<Alarm> {
        self.alarm
    }
}
