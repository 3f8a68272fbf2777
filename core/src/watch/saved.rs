//! A watch's charts as plain numbers, for a firmware's own memory.

use super::chart::{Cusum, Ewma, Side};
use super::charts::{Alarm, Chart, Charts, LONGEST, Run};
use super::{Watch, WatchError};
use crate::arith::Bounded;
use crate::level::{LevelSums, MOST};
use crate::units::{Length, Variance};

/// Words of one quantity's charts.
pub const WORDS: usize = 26;

/// Beyond these no sum ever is; see the fields of [`Charts`].
const MOST_SCATTER: u64 = 1 << 61;
const MOST_LEVEL: u64 = 1 << 45;

impl Charts {
    /// All that is known, as plain numbers. The last score is left out.
    pub fn to_words(&self) -> [u32; WORDS] {
        let (known, parts) = match &self.level {
            Some(level) => (1, level.parts()),
            None => (0, (Length::ZERO, 0, 0, 0)),
        };
        let (first, count, sum, squares) = parts;
        let [sum, squares] = [halves(sum as u64), halves(squares)];
        let [scatter, floor] = [halves(self.earlier.0), halves(self.floor.to_bits())];
        let level = halves(self.ewma.to_bits() as u64);
        let (up, down) = self.cusum.sums();
        let alarm = match &self.alarm {
            None => 0,
            Some(alarm) => {
                let side = u32::from(alarm.side == Side::Down) << 1;
                let chart = u32::from(alarm.chart == Chart::Cusum) << 2;
                1 | side | chart
            }
        };
        let run = |run: &Run| (run.count, halves(run.sum as u64));
        let [(n_up, s_up), (n_down, s_down), (n_since, s_since)] =
            [run(&self.up), run(&self.down), run(&self.since)];
        [
            known,
            first.to_bits() as u32,
            count,
            sum.0,
            sum.1,
            squares.0,
            squares.1,
            scatter.0,
            scatter.1,
            self.earlier.1,
            floor.0,
            floor.1,
            level.0,
            level.1,
            up.to_bits(),
            down.to_bits(),
            n_up,
            s_up.0,
            s_up.1,
            n_down,
            s_down.0,
            s_down.1,
            n_since,
            s_since.0,
            s_since.1,
            alarm,
        ]
    }

    /// Takes back what [`Charts::to_words`] gave; `None` for words that it would not give back.
    pub fn from_words(words: &[u32; WORDS]) -> Option<Self> {
        let [
            known,
            first,
            count,
            sum0,
            sum1,
            squares0,
            squares1,
            scatter0,
            scatter1,
            dof,
            floor0,
            floor1,
            level0,
            level1,
            up,
            down,
            n_up,
            up0,
            up1,
            n_down,
            down0,
            down1,
            n_since,
            since0,
            since1,
            alarm,
        ] = *words;
        let level = match known {
            0 => None,
            1 => {
                let first = Length::from_bits(i64::from(first as i32)).ok()?;
                Some(LevelSums::restored(first, count, whole(sum0, sum1) as i64, whole(squares0, squares1))?)
            }
            _ => return None,
        };
        let earlier = (whole(scatter0, scatter1), dof);
        let average = whole(level0, level1) as i64;
        if earlier.0 > MOST_SCATTER || dof >= MOST || average.unsigned_abs() > MOST_LEVEL {
            return None;
        }
        let run = |count: u32, low: u32, high: u32| {
            let sum = whole(low, high) as i64;
            let held = count <= LONGEST && LevelSums::is_near(sum, count);
            held.then_some(Run { count, sum })
        };
        let alarm = (alarm & 1 == 1).then_some(Alarm {
            side: if alarm & 2 == 0 { Side::Up } else { Side::Down },
            chart: if alarm & 4 == 0 { Chart::Ewma } else { Chart::Cusum },
        });
        let charts = Self {
            level,
            earlier,
            floor: Variance::from_bits(whole(floor0, floor1)),
            score: None,
            ewma: Ewma::of_bits(average),
            cusum: Cusum::of_bits(up, down),
            up: run(n_up, up0, up1)?,
            down: run(n_down, down0, down1)?,
            since: run(n_since, since0, since1)?,
            alarm,
        };
        // Words of a level that is not known, or an alarm's bits without one, would not come back.
        (charts.to_words() == *words).then_some(charts)
    }
}

impl<K: PartialEq, const N: usize> Watch<K, N> {
    /// Puts charts back that were saved: of tip and drop.
    pub fn restore(&mut self, tip: Charts, drop: Charts) {
        (self.tip, self.drop) = (tip, drop);
    }

    /// Puts the charts of a plate's span back, in the place of any that it has.
    ///
    /// # Errors
    /// [`WatchError::Full`].
    pub fn restore_span(&mut self, plate: K, charts: Charts) -> Result<(), WatchError> {
        match self.spans.iter_mut().find(|(known, _)| *known == plate) {
            Some((_, own)) => {
                *own = charts;
                Ok(())
            }
            None => self.spans.push((plate, charts)).map_err(|_| WatchError::Full),
        }
    }
}

/// Low and high word.
const fn halves(x: u64) -> (u32, u32) {
    (x as u32, (x >> 32) as u32)
}

fn whole(low: u32, high: u32) -> u64 {
    (u64::from(high) << 32).plus(u64::from(low))
}
