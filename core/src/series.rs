//! Touches at one station → centre, spread, s, trend.
//!
//! Heights are held as they came; every sum is taken over the differences from the first touch, in whole
//! bits, so nothing cancels: 1,000 mm of offset cost no digit of a 1 µm noise.

mod sorted;
mod summary;
mod sums;

pub use summary::Summary;

use core::num::NonZeroU32;

use crate::budget::Dof;
use crate::tables;
use crate::units::{Length, OutOfRange, Speed, Temperature, Uncertainty, Variance, Wide};
use sorted::Sorted;
use sums::{Sums, offset};

/// Most counted touches that a station can hold.
pub const MOST_TOUCHES: usize = 64;

/// Where a series of touches is taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Station {
    /// The tip presses the datum switch.
    Tip,
    /// The probe's shoulder presses the datum switch.
    Shoulder,
    /// The plunger presses the plate.
    Plate,
}

impl Station {
    /// All stations, in the order of the cycle's log.
    pub const ALL: [Station; 3] = [Station::Tip, Station::Shoulder, Station::Plate];

    /// The word of the formats: `tip`, `shoulder`, `plate`.
    pub const fn word(self) -> &'static str {
        match self {
            Station::Tip => "tip",
            Station::Shoulder => "shoulder",
            Station::Plate => "plate",
        }
    }
}

/// Which centre of a series stands for its height.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Centre {
    /// Arithmetic mean: the least variance under normal noise.
    #[default]
    Mean,
    /// Middle touch (mean of the middle two): bears almost half wild touches.
    Median,
    /// Median of all pair means i ≤ j (Hodges and Lehmann, 1963): bears 29 % wild touches for a few per cent
    /// of variance.
    HodgesLehmann,
}

/// A study's standard deviation of single touches at a station, with its degrees of freedom.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pooled {
    /// Pooled standard deviation of one touch.
    pub s: Uncertainty,
    /// Degrees of freedom behind it, from 1 up.
    pub dof: NonZeroU32,
}

/// What was read beside the heights: means over the counted touches that carried a reading.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub struct Readings {
    /// Mean approach speed.
    pub speed: Option<Speed>,
    /// Mean temperature of what moves with the tool.
    pub tool: Option<Temperature>,
    /// Mean temperature of the bed.
    pub bed: Option<Temperature>,
    /// Mean temperature of the chamber.
    pub chamber: Option<Temperature>,
}

/// The counted touches of one station, in their order; at most `N`, and `N` at most [`MOST_TOUCHES`].
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Series<const N: usize> {
    touches: heapless::Vec<Length, N>,
}

/// How a series becomes a height and an uncertainty.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Method {
    /// Which centre.
    pub centre: Centre,
    /// A study's s, where there is one.
    pub pooled: Option<Pooled>,
    /// Δ²/12 of the motor step: no station's variance is below it.
    pub floor: Variance,
}

impl Method {
    /// u² that `count` touches would have by the study's s; `None` without a study or touches.
    pub fn variance_for(&self, count: usize) -> Option<Variance> {
        let of_mean = sums::of_mean(self.pooled?.s.variance().ok()?, u32::try_from(count).ok()?)?;
        let variance = summary::scale_by_factor(of_mean, variance_factor(self.centre, count)).ok()?;
        Some(variance.max(self.floor))
    }
}

impl<const N: usize> Series<N> {
    const FITS: () = assert!(N >= 1 && N <= MOST_TOUCHES, "a series holds 1 to 64 touches");

    /// An empty series.
    pub const fn new() -> Self {
        let () = Self::FITS;
        Self { touches: heapless::Vec::new() }
    }

    /// Adds a touch.
    ///
    /// # Errors
    /// Gives the touch back where the series is full.
    pub fn push(&mut self, z: Length) -> Result<(), Length> {
        self.touches.push(z)
    }

    /// Forgets all touches.
    pub fn clear(&mut self) {
        self.touches.clear();
    }

    /// Forgets the oldest `count` touches.
    pub fn drop_oldest(&mut self, count: usize) {
        let mut kept = heapless::Vec::new();
        for z in self.touches.get(count..).unwrap_or_default() {
            let _ = kept.push(*z);
        }
        self.touches = kept;
    }

    /// The touches in their order.
    pub fn touches(&self) -> &[Length] {
        &self.touches
    }

    /// How many touches there are.
    pub fn len(&self) -> usize {
        self.touches.len()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.touches.is_empty()
    }

    /// Lowest and highest touch, or `None` without touches.
    pub fn extremes(&self) -> Option<(Length, Length)> {
        let mut touches = self.touches.iter().copied();
        let first = touches.next()?;
        Some(touches.fold((first, first), |(low, high), z| (low.min(z), high.max(z))))
    }

    /// max − min; zero without touches.
    ///
    /// # Errors
    /// *Out of range* where the spread itself is beyond ±32,768 mm.
    pub fn spread(&self) -> Result<Length, OutOfRange> {
        self.extremes().map_or(Ok(Length::ZERO), |(low, high)| high.minus(low))
    }

    /// The series' centre, to 2⁻³² mm; `None` without touches.
    ///
    /// # Errors
    /// *Out of range* where a touch stands 256 mm or more from the first.
    pub fn centre(&self, centre: Centre) -> Result<Option<Wide>, OutOfRange> {
        let Some(first) = self.touches.first().copied() else { return Ok(None) };
        Ok(Some(match centre {
            Centre::Mean => Sums::of(&self.touches, first)?.mean(first),
            Centre::Median => first.widen().plus(self.offsets(first)?.median()),
            Centre::HodgesLehmann => first.widen().plus(self.offsets(first)?.median_of_pair_means()),
        }))
    }

    /// Closes the series: centre, variance with its degrees of freedom, spread, sums.
    ///
    /// u² is s²/n times the centre's factor for small n, with n − 1 degrees of freedom, or the study's s² and
    /// its degrees of freedom; never below Δ²/12, where the degrees of freedom are infinite
    /// (`docs/uncertainty.md`).
    ///
    /// # Errors
    /// [`CannotClose::TooFew`] for no touch, or for one without a study. *Out of range* as
    /// [`Series::centre`], or where u² cannot be held.
    pub fn close(&self, method: &Method) -> Result<Summary, CannotClose> {
        let mut closed = Summary::OPEN;
        self.close_into(method, &mut closed)?;
        Ok(closed)
    }

    /// [`Series::close`] in the caller's memory; after an error the values there mean nothing.
    ///
    /// # Errors
    /// As [`Series::close`].
    #[inline]
    pub fn close_into(&self, method: &Method, closed: &mut Summary) -> Result<(), CannotClose> {
        closed.close(&self.touches, method)?;
        if method.centre != Centre::Mean {
            closed.centre = self.centre(method.centre)?.unwrap_or_default();
        }
        Ok(())
    }

    /// Closes a series whose height alone is asked for: its variance is Δ²/12, `rounding`.
    ///
    /// # Errors
    /// As [`Series::close`], but for a single touch.
    pub fn close_single(&self, rounding: Variance) -> Result<Summary, CannotClose> {
        let mut closed = Summary::OPEN;
        self.close_single_into(rounding, &mut closed)?;
        Ok(closed)
    }

    /// [`Series::close_single`] in the caller's memory.
    pub(crate) fn close_single_into(
        &self,
        rounding: Variance,
        closed: &mut Summary,
    ) -> Result<(), CannotClose> {
        closed.sum_up(&self.touches)?;
        (closed.variance, closed.dof) = (rounding, Dof::INFINITE);
        Ok(())
    }

    /// Differences from the first touch, sorted upwards.
    fn offsets(&self, first: Length) -> Result<Sorted<N>, OutOfRange> {
        let mut sorted = Sorted { values: heapless::Vec::new() };
        for z in &self.touches {
            sorted.insert(offset(*z, first)?);
        }
        Ok(sorted)
    }
}

/// Why a series cannot be closed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CannotClose {
    /// No touch, or a single one without a study's s.
    TooFew,
    /// A value that the arithmetic cannot hold.
    OutOfRange(OutOfRange),
}

impl From<OutOfRange> for CannotClose {
    fn from(e: OutOfRange) -> Self {
        CannotClose::OutOfRange(e)
    }
}

/// The centre's variance for normal noise over that of the mean, in Q15, for n in 1..=64 (tables of the
/// project, computed by order statistics for the median and by simulation for Hodges–Lehmann).
pub fn variance_factor(centre: Centre, count: usize) -> u16 {
    let table = match centre {
        Centre::Mean => return 1 << 15,
        Centre::Median => &tables::MEDIAN_FACTOR,
        Centre::HodgesLehmann => &tables::HODGES_LEHMANN_FACTOR,
    };
    table.get(count.wrapping_sub(1)).copied().unwrap_or(1 << 15)
}
