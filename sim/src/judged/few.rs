//! Where the stated interval holds the true landing less often than it says.
//!
//! The scatter of few touches says little of itself. Where nothing else is known of a station (no study) and
//! its part of u² leads beside parts that are known exactly, the effective degrees of freedom
//! (Welch–Satterthwaite, JCGM 100 G.4.1) promise more than they hold, most of all where the noise is not
//! normal but rectangular. `zdatum simulate --coverage` counts it.

use zdatum::{Ratio, Setup, Source, Station};

use crate::judged::BudgetShare;

/// From seven touches on, an interval of 95 % holds at least 94 %.
const ENOUGH: u8 = 7;

/// An interval that rests on few touches.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Few {
    /// The station that leads.
    pub station: Station,
    /// Its counted touches.
    pub touches: u8,
}

impl Few {
    /// Whether an interval rests on few touches, by its budget, largest share first. From n touches at a
    /// station without a study, that is where their part of u² is at least (n + 1)/10: found by simulation of
    /// normal and rectangular scatter beside a normal part known exactly.
    pub fn of(
        setup: &Setup,
        budget: &[BudgetShare],
        touches: impl Fn(Station) -> Option<u8>,
    ) -> Option<Self> {
        budget.iter().find_map(|share| {
            let Source::Touches(station) = share.kind else { return None };
            let touches = touches(station).filter(|n| *n < ENOUGH)?;
            let leads = u64::from(share.share.to_bits()) * 10
                >= u64::from(Ratio::ONE.to_bits()) * (u64::from(touches) + 1);
            let studied = setup.draft().pooled.of(station).is_some();
            (leads && !studied).then_some(Self { station, touches })
        })
    }

    /// How often an interval of 95 % holds the true landing at the worst, in whole per cent (`zdatum simulate
    /// --coverage`, and touches at one station beside a part known exactly, rectangular scatter, all shares).
    const fn fewest(self) -> u8 {
        match self.touches {
            0..=2 => 83,
            3 => 89,
            4 => 92,
            _ => 93,
        }
    }

    /// What to know of it, and what to do.
    pub fn text(self) -> String {
        format!(
            "the interval rests on {} touches of the {} without a study: where 95 % is stated, it may hold in as few as {} %. Make a study \
             (zdatum study), or take {ENOUGH} touches or more",
            self.touches,
            self.station.word(),
            self.fewest()
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::files::{FileText, MachineFile};
    use zdatum::Uncertainty;

    const DEMO: &str = crate::demo::MACHINE;

    fn of(text: &str, share: f64, touches: u8) -> Option<Few> {
        let setup = MachineFile::of(FileText::of("machine.toml", text)).expect("a sound setup").setup;
        let budget = [BudgetShare {
            kind: Source::Touches(Station::Plate),
            source: String::new(),
            u: Uncertainty::ZERO,
            share: Ratio::from_f64(share).expect("a share"),
            reduced_by: "",
        }];
        Few::of(&setup, &budget, |_| Some(touches))
    }

    #[test]
    fn few_touches_that_lead_without_a_study_are_named() {
        let unstudied = DEMO.split("[pooled]").next().expect("what is before it").to_owned();
        for touches in 2..ENOUGH {
            let least = f64::from(touches + 1) / 10.0;
            let few = of(&unstudied, least + 1e-3, touches).expect("they lead");
            assert_eq!((few.station, few.touches), (Station::Plate, touches));
            assert!(few.text().contains(&format!("{touches} touches of the plate")), "{}", few.text());
            assert_eq!(of(&unstudied, least - 1e-3, touches), None, "{touches}");
            assert_eq!(of(DEMO, 1.0, touches), None, "a study says what they scatter");
        }
        assert_eq!(of(&unstudied, 1.0, ENOUGH), None);
    }
}
