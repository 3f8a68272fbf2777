//! Which cause fits what has moved.
//!
//! Each cause moves the quantities by one and the same amount δ, up, down or not at all (`docs/geometry.md`,
//! *What changes what*):
//!
//! | | T | d | span |
//! |---|---|---|---|
//! | a nozzle longer by δ | +δ | −δ | |
//! | homed δ lower than before | +δ | | |
//! | the probe seats δ lower | | +δ | |
//! | the datum switch stands δ higher | +δ | | −δ, every plate |
//! | one plate is thicker by δ, or lies on it | | | +δ, that plate |
//! | the true trip depth is larger by δ | | | +δ, every plate |
//!
//! With mᵢ what a quantity has moved by, vᵢ its u² and cᵢ the cause's −1, 0 or +1, δ is the least-squares one
//! and χ² what is left:
//!
//! ```text
//!     δ = Σ cᵢ·mᵢ/vᵢ / Σ cᵢ²/vᵢ          χ² = Σ (mᵢ − cᵢ·δ)²/vᵢ
//! ```
//!
//! A cause fits where it moves all that is in alarm and χ² is at most its 99 % point for one degree of
//! freedom less than quantities seen. More than one can fit: the drop scatters so much that a new nozzle and
//! a homing that is off look alike at first.

use crate::arith::{self, Bounded};
use crate::units::{Length, Ratio, Variance, Wide};

/// Declares the causes with what they move and what to do.
macro_rules! causes {
    ($($(#[$doc:meta])* $variant:ident = $word:literal, $pattern:expr, $text:literal, $advice:literal;)*) => {
        /// What can move the quantities.
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub enum Cause { $($(#[$doc])* $variant,)* }

        impl Cause {
            /// All of them.
            pub const ALL: &'static [Cause] = &[$(Cause::$variant,)*];

            /// Its word, such as `nozzle`.
            pub const fn word(self) -> &'static str {
                match self { $(Cause::$variant => $word,)* }
            }

            /// What has happened, in a few words.
            pub const fn text(self) -> &'static str {
                match self { $(Cause::$variant => $text,)* }
            }

            /// What to do about it (usual causes are common practice).
            pub const fn advice(self) -> &'static str {
                match self { $(Cause::$variant => $advice,)* }
            }

            const fn pattern(self) -> Pattern {
                match self { $(Cause::$variant => $pattern,)* }
            }
        }
    };
}

causes! {
    /// The nozzle is longer (δ above zero) or shorter.
    Nozzle = "nozzle", Pattern { tip: 1, drop: -1, span: 0, one_plate: false },
        "the nozzle now hangs lower or higher",
        "If the nozzle was changed, enter that; otherwise look for filament on the tip or a nozzle working \
            loose.";
    /// The machine's heights begin elsewhere.
    Homing = "homing", Pattern { tip: 1, drop: 0, span: 0, one_plate: false },
        "the homed height has shifted",
        "Check for dirt on the homing switch and for lost steps, home again, and let the machine warm up \
            fully.";
    /// The probe hangs lower (δ above zero) or higher in its mount.
    ProbeSeat = "probe-seat", Pattern { tip: 0, drop: 1, span: 0, one_plate: false },
        "the probe sits differently in its mount",
        "Check for a loose mount and for dirt between probe and mount.";
    /// The datum switch stands higher (δ above zero) or lower.
    DatumSwitch = "datum-switch", Pattern { tip: 1, drop: 0, span: -1, one_plate: false },
        "the datum switch has moved",
        "Tighten the datum switch and clean its pin. It need not go back to where it was: landings allow \
            for that.";
    /// One plate is thicker (δ above zero) or thinner.
    Plate = "plate", Pattern { tip: 0, drop: 0, span: 1, one_plate: true },
        "one plate sits higher or lower than before",
        "Look for debris under that plate and for wear, and check that it is the plate you named.";
    /// The plunger trips at another depth.
    TripDepth = "trip-depth", Pattern { tip: 0, drop: 0, span: 1, one_plate: false },
        "the probe's trip depth has changed",
        "Clean the plunger, then make a gauge check and trim: until then landings are wrong by this change.";
}

/// What a cause of δ moves, in δ.
#[derive(Clone, Copy)]
struct Pattern {
    tip: i8,
    drop: i8,
    span: i8,
    one_plate: bool,
}

/// What has moved.
#[derive(Clone, Copy)]
pub(super) enum Quantity {
    Tip,
    Drop,
    /// A plate's span; whether of the plate that has moved most.
    Span {
        most: bool,
    },
}

/// One quantity's evidence.
#[derive(Clone, Copy)]
pub(super) struct Moved {
    pub(super) quantity: Quantity,
    pub(super) by: Wide,
    pub(super) variance: Variance,
    pub(super) alarmed: bool,
}

/// A cause that fits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Fit {
    /// Which.
    pub cause: Cause,
    /// δ, with the sign of the table.
    pub shift: Length,
    /// χ²; the last value of its range stands for all above.
    pub misfit: Ratio,
}

/// What has moved, and which causes fit.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Diagnosis {
    fits: heapless::Vec<Fit, 6>,
}

impl Diagnosis {
    /// The causes that fit, the best first. None: several things have changed at once, or something that no
    /// single cause explains.
    pub fn fits(&self) -> &[Fit] {
        &self.fits
    }

    /// The cause, where just one fits.
    pub fn only(&self) -> Option<&Fit> {
        match self.fits() {
            [one] => Some(one),
            _ => None,
        }
    }

    pub(super) fn of<'m>(moved: impl Iterator<Item = &'m Moved> + Clone) -> Self {
        let dof = moved.clone().count().saturating_sub(1);
        let mut fits = heapless::Vec::<Fit, 6>::new();
        for cause in Cause::ALL {
            let Some(fit) = cause.fit(moved.clone()) else { continue };
            if fit.misfit > chi_square_99(dof) {
                continue;
            }
            // Kept in order; the last to be moved takes the new place.
            let mut carried = fit;
            for slot in fits.iter_mut() {
                if carried.misfit < slot.misfit {
                    core::mem::swap(&mut carried, slot);
                }
            }
            let _ = fits.push(carried);
        }
        Self { fits }
    }
}

impl Cause {
    /// cᵢ.
    const fn sign(self, quantity: Quantity) -> i8 {
        let pattern = self.pattern();
        match quantity {
            Quantity::Tip => pattern.tip,
            Quantity::Drop => pattern.drop,
            Quantity::Span { most: false } if pattern.one_plate => 0,
            Quantity::Span { .. } => pattern.span,
        }
    }

    /// The best δ and its χ²; `None` where the cause moves nothing that was seen, or leaves something in
    /// alarm unmoved.
    fn fit<'m>(self, moved: impl Iterator<Item = &'m Moved> + Clone) -> Option<Fit> {
        if moved.clone().any(|m| m.alarmed && self.sign(m.quantity) == 0) {
            return None;
        }
        let concerned = moved.clone().filter(|m| self.sign(m.quantity) != 0);
        let least = concerned.clone().map(|m| m.variance.to_bits()).min()?.max(1);
        let (mut sum, mut weights) = (0_i64, 0_u32);
        for m in concerned {
            // At most 2^24, times below 2^27 in 2^-24 mm: 2^51, over fewer than 2^8 quantities.
            let weight = arith::ratio_bits(least >> 1, (m.variance.to_bits() >> 1).max(1), 24).min(1 << 24);
            let by = fine(m.by).times(i64::from(self.sign(m.quantity)));
            sum = sum.plus(by.times(weight as i64));
            weights = weights.plus(weight as u32);
        }
        let shift = arith::div_round(sum, core::num::NonZeroU32::new(weights)?);
        let mut misfit = 0_u64;
        for m in moved {
            let left = fine(m.by).minus(shift.times(i64::from(self.sign(m.quantity)))).unsigned_abs();
            misfit = misfit.saturating_add(over(left, m.variance));
        }
        let misfit = Ratio::from_bits(misfit.min(u64::from(u32::MAX)) as i64).ok()?;
        // From 2^-24 to 2^-16 mm.
        Some(Fit { cause: self, shift: Length::from_bits(arith::shift_round(shift, 8)).ok()?, misfit })
    }
}

/// In 2⁻²⁴ mm, below 2^27: heights of one history are less than 8 mm apart.
fn fine(by: Wide) -> i64 {
    arith::shift_round(by.to_bits(), 8)
}

/// left²/variance in 2⁻¹⁶, at most 2^63; `left` in 2⁻²⁴ mm, below 2^29.
fn over(left: u64, variance: Variance) -> u64 {
    // Both in 2^-48 mm².
    let (square, variance) = (left.times(left), (variance.to_bits() >> 12).max(1));
    if square >> 47 >= variance { 1 << 63 } else { arith::ratio_bits(square, variance, 16) }
}

/// The 99 % point of χ² for so many degrees of freedom: numeric inversion, agrees with NIST/SEMATECH
/// e-Handbook 1.3.6.7.4 (from memory) to three decimals; beyond 8 it is taken a little too high, 2.52 for
/// each.
fn chi_square_99(dof: usize) -> Ratio {
    const POINTS: [u32; 9] =
        [0, 434_825, 603_609, 743_497, 870_102, 988_694, 1_101_784, 1_210_798, 1_316_634];
    let beyond = u32::try_from(dof).map_or(u32::MAX, |dof| dof.saturating_mul(165_151));
    // With nothing left to misfit, what rounding leaves must fit.
    let point = POINTS.get(dof).copied().unwrap_or(beyond).max(1 << 10);
    Ratio::from_bits(i64::from(point)).unwrap_or(Ratio::ONE)
}

/// m²/v in 2⁻¹⁶.
pub(super) fn significance(by: Wide, variance: Variance) -> u64 {
    over(fine(by).unsigned_abs(), variance)
}
