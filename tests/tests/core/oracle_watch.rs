//! The watch against the oracle: every score, chart, alarm and diagnosis of whole lives of machines.

use std::cell::Cell;

use num_traits::Signed;
use proptest::collection::vec;
use proptest::prelude::*;
use zdatum::watch::{
    Cause, Change, Chart, Charts, Cusum, Design, Ewma, Observed, Reading, Score, Side, Watch,
};
use zdatum::{Length, Ratio, Uncertainty, Variance};
use zdatum_tests::allowed::{Ledger, Operation};
use zdatum_tests::case::{ToExact, u_bits};
use zdatum_tests::generate::property;
use zdatum_tests::oracle::watch::{Evidence, Line, chi_square_99, ewma_limit, fit};
use zdatum_tests::oracle::{Exact, error, of_bits, to_f64, watch as exact, whole};

type Plates = Watch<u8, 3>;

fn ratio_of(ratio: Ratio) -> Exact {
    of_bits(ratio.to_bits(), 16)
}

fn exact_design([weight, limit, reference, decision]: [Ratio; 4]) -> exact::Design {
    let [weight, limit, reference, decision] = [weight, limit, reference, decision].map(ratio_of);
    exact::Design { weight, limit, reference, decision }
}

fn ratios() -> impl Strategy<Value = [Ratio; 4]> {
    let ratio = |bits: u32| Ratio::from_bits(i64::from(bits)).expect("held");
    let small = (1_u32..=65_536, 0_u32..8 << 16, 0_u32..2 << 16, 0_u32..20 << 16);
    let wide = (1_u32..=65_536, 0_u32..256 << 16, 0_u32..256 << 16, 0_u32..256 << 16);
    prop_oneof![small, wide].prop_map(move |(weight, limit, k, h)| [weight, limit, k, h].map(ratio))
}

/// Standard numbers for lives.
fn standard() -> [Ratio; 4] {
    ["0.25", "3.55", "0.25", "11"].map(|text| Ratio::parse(text).expect("a ratio"))
}

/// What happens in a cycle, beside noise.
#[derive(Clone, Debug)]
enum Event {
    /// T, d and every span move by so many bits.
    Move([i32; 3]),
    /// One plate's span moves.
    MovePlate(i32),
    Tell(usize),
    Dismiss,
}

#[derive(Clone, Debug)]
struct Life {
    /// Noise of T, d, span, in bits; each a sum of two uniforms.
    noise: [i64; 3],
    /// u of the readings, at least 0.1 µm, in bits of an uncertainty.
    u: [Uncertainty; 3],
    /// For each cycle a plate and three draws.
    cycles: Vec<(u8, [i16; 6])>,
    events: Vec<(usize, Event)>,
}

fn lives() -> impl Strategy<Value = Life> {
    let u = || (1_700_i64..60_000).prop_map(u_bits);
    let noise = || (2_u32..13).prop_map(|size| 1_i64 << size);
    let size = || -12_000_i32..12_000;
    let event = prop_oneof![
        4 => (size(), 0_usize..6).prop_map(|(by, cause)| Event::Move([[by, -by, 0], [by, 0, 0], [0, by, 0], [by, 0, -by], [0, 0, by], [by, by / 2, -by]][cause])),
        1 => size().prop_map(Event::MovePlate),
        1 => (0_usize..7).prop_map(Event::Tell),
        1 => Just(Event::Dismiss),
    ];
    let draws = any::<[i16; 6]>();
    (
        [noise(), noise(), noise()],
        [u(), u(), u()],
        vec((0_u8..3, draws), 20..90),
        vec((8_usize..90, event), 0..4),
    )
        .prop_map(|(noise, u, cycles, events)| Life { noise, u, cycles, events })
}

/// The oracle's watch: T, d, and the spans of the plates seen.
struct Right {
    design: exact::Design,
    tip: Line,
    drop: Line,
    spans: Vec<(u8, Line)>,
}

impl Right {
    fn alarmed(&self) -> bool {
        [&self.tip, &self.drop]
            .into_iter()
            .chain(self.spans.iter().map(|(_, line)| line))
            .any(|line| line.alarm.is_some())
    }

    fn span(&mut self, plate: u8) -> &mut Line {
        let place = self.spans.iter().position(|(known, _)| *known == plate).unwrap_or_else(|| {
            self.spans.push((plate, Line::default()));
            self.spans.len() - 1
        });
        &mut self.spans[place].1
    }

    fn each(&mut self) -> Vec<&mut Line> {
        let mut all = vec![&mut self.tip, &mut self.drop];
        all.extend(self.spans.iter_mut().map(|(_, line)| line));
        all
    }

    fn unsure(&self) -> bool {
        self.tip.unsure || self.drop.unsure || self.spans.iter().any(|(_, line)| line.unsure)
    }

    fn see(&mut self, plate: u8, readings: &[(Exact, Exact); 3]) -> [Option<Exact>; 3] {
        let design = self.design.clone();
        let [tip, drop, span] = readings;
        let scores = [
            self.tip.chart(&design, &tip.0, &tip.1),
            self.drop.chart(&design, &drop.0, &drop.1),
            self.span(plate).chart(&design, &span.0, &span.1),
        ];
        let alarm = self.alarmed();
        self.tip.finish(&tip.0, alarm);
        self.drop.finish(&drop.0, alarm);
        self.span(plate).finish(&span.0, alarm);
        scores
    }

    fn tell(&mut self, change: &Change<u8>) {
        let spans_alarmed = self.spans.iter().any(|(_, line)| line.alarm.is_some());
        let (tip, drop, spans) = match change {
            Change::Nozzle => (true, true, false),
            Change::Homing => (true, false, false),
            Change::Probe => (false, true, true),
            Change::DatumSwitch | Change::Speed => (true, false, true),
            Change::Trim => (false, false, spans_alarmed),
            Change::Plate(_) => (false, false, false),
        };
        if tip {
            self.tip.begin_level();
        }
        if drop {
            self.drop.begin_level();
        }
        for (plate, line) in &mut self.spans {
            if spans || matches!(change, Change::Plate(one) if *one == *plate) {
                line.begin_level();
            }
        }
        if !self.alarmed() {
            self.each().into_iter().for_each(Line::let_go);
        }
    }

    fn dismiss(&mut self) {
        for line in self.each() {
            if line.alarm.is_some() {
                (line.sums, line.runs, line.alarm) = (Default::default(), Default::default(), None);
            }
            line.let_go();
        }
    }

    /// Causes that fit with δ and χ², and whether none was at the edge.
    fn diagnosis(&mut self) -> (Vec<(Cause, Exact, Exact)>, bool) {
        let mut moved: Vec<(usize, Exact, Exact, bool)> = Vec::new();
        for (quantity, line) in self.each().into_iter().enumerate() {
            if let Some((by, u2)) = line.moved() {
                moved.push((quantity, by, u2, line.alarm.is_some()));
            }
        }
        let far = |by: &Exact, u2: &Exact| to_f64(&(by * by / u2));
        let most = moved.iter().filter(|m| m.0 >= 2).map(|m| far(&m.1, &m.2)).fold(0.0, f64::max);
        let mut clear = moved.iter().filter(|m| m.0 >= 2 && far(&m.1, &m.2) > most - 1e-3).count() <= 1;
        let mut fits = Vec::new();
        let limit = match moved.len() {
            0 | 1 => 1.0 / 64.0,
            n if n <= 9 => chi_square_99(n - 1),
            _ => panic!("at most five quantities here"),
        };
        for cause in Cause::ALL {
            let sign = |quantity: usize, most: bool| match (cause, quantity) {
                (Cause::Nozzle | Cause::Homing | Cause::DatumSwitch, 0) | (Cause::ProbeSeat, 1) => 1,
                (Cause::Nozzle, 1) => -1,
                (Cause::DatumSwitch, q) if q >= 2 => -1,
                (Cause::TripDepth, q) if q >= 2 => 1,
                (Cause::Plate, q) if q >= 2 => i32::from(most),
                _ => 0,
            };
            let evidence: Vec<Evidence> = moved
                .iter()
                .map(|(q, by, u2, alarmed)| {
                    (sign(*q, *q >= 2 && far(by, u2) >= most - 1e-3), by.clone(), u2.clone(), *alarmed)
                })
                .collect();
            if let Some((delta, misfit)) = fit(&evidence) {
                let x = to_f64(&misfit);
                clear &= moved.len() < 2 || (x / limit - 1.0).abs() > 0.01;
                if x <= limit {
                    fits.push((*cause, delta, misfit));
                }
            }
        }
        (fits, clear)
    }
}

fn change(number: usize) -> Change<u8> {
    [
        Change::Nozzle,
        Change::Homing,
        Change::Probe,
        Change::DatumSwitch,
        Change::Speed,
        Change::Trim,
        Change::Plate(1),
    ][number]
}

fn compare_charts(
    ledger: &Ledger,
    charts: &Charts,
    line: &Line,
    score: Option<&Exact>,
) -> Result<(), TestCaseError> {
    prop_assert_eq!(charts.score().is_some(), score.is_some());
    if let (Some(seen), Some(right)) = (charts.score(), score) {
        let off = error(seen.to_bits(), right, 16) - to_f64(&right.abs()) * 0.65536;
        ledger.see(Operation::Score, off.max(0.0))?;
    }
    prop_assert_eq!(charts.alarm().map(|a| (a.side == Side::Up, a.chart == Chart::Ewma)), line.alarm);
    prop_assert_eq!(charts.learnt() as usize, line.level.len());
    let (scatter, dof) = line.scatter();
    if let (Some((s, nu)), Some(floor)) = (charts.s().expect("held"), &line.floor) {
        prop_assert_eq!(nu.finite(), Some(dof));
        let right = exact_root(&(scatter.max(floor * whole(dof)) / whole(dof)));
        ledger.see(Operation::PlateSpread, error(s.to_bits(), &right, 24))?;
    }
    Ok(())
}

fn exact_root(x: &Exact) -> Exact {
    zdatum_tests::oracle::root(x)
}

fn live(ledger: &Ledger, life: &Life, count: &Cell<[u32; 4]>) -> Result<(), TestCaseError> {
    let numbers = standard();
    let [weight, limit, reference, decision] = numbers;
    let design = Design::new(weight, limit, reference, decision).expect("held");
    let mut watch = Plates::new(design, Uncertainty::ZERO);
    let mut right = Right {
        design: exact_design(numbers),
        tip: Line::default(),
        drop: Line::default(),
        spans: Vec::new(),
    };
    let mut at = [32_000_i64, 330_000, 46_000];
    let mut plates = [0_i64, 9_000, -14_000];
    for (n, (plate, draws)) in life.cycles.iter().enumerate() {
        for (when, event) in &life.events {
            match event {
                _ if *when != n => {}
                Event::Move(by) => at.iter_mut().zip(by).for_each(|(at, by)| *at += i64::from(*by)),
                Event::MovePlate(by) => plates[1] += i64::from(*by),
                Event::Tell(number) => {
                    watch.tell(change(*number));
                    right.tell(&change(*number));
                }
                Event::Dismiss => {
                    watch.dismiss();
                    right.dismiss();
                }
            }
        }
        let value = |q: usize| {
            let noise = ((i64::from(draws[2 * q]) + i64::from(draws[2 * q + 1])) * life.noise[q]) >> 15;
            at[q] + noise + if q == 2 { plates[usize::from(*plate)] } else { 0 }
        };
        let variance = life.u.map(|u| u.variance().expect("held"));
        let reading =
            |q: usize| Reading { value: Length::from_bits(value(q)).expect("held"), variance: variance[q] };
        let observed = Observed { tip: Some(reading(0)), drop: Some(reading(1)), span: Some(reading(2)) };
        let alarm = watch.see(Some(*plate), &observed).expect("held");
        let scores = right.see(*plate, &[0, 1, 2].map(|q| (of_bits(value(q), 16), variance[q].exact())));
        if right.unsure() {
            return Ok(());
        }
        let mut seen = count.get();
        seen[0] += 1;
        prop_assert_eq!(alarm, right.alarmed());
        compare_charts(ledger, watch.tip(), &right.tip, scores[0].as_ref())?;
        compare_charts(ledger, watch.drop(), &right.drop, scores[1].as_ref())?;
        compare_charts(ledger, watch.span(plate).expect("known"), right.span(*plate), scores[2].as_ref())?;
        if alarm {
            let (fits, clear) = right.diagnosis();
            if clear && !right.unsure() {
                seen[1] += 1;
                seen[2] += u32::from(fits.len() == 1);
                seen[3] += u32::from(fits.is_empty());
                let diagnosis = watch.diagnosis();
                prop_assert_eq!(diagnosis.fits().len(), fits.len(), "{:?} against {:?}", diagnosis, fits);
                prop_assert!(diagnosis.fits().is_sorted_by_key(|fit| fit.misfit));
                for (cause, delta, misfit) in &fits {
                    let Some(found) = diagnosis.fits().iter().find(|fit| fit.cause == *cause) else {
                        return Err(TestCaseError::fail(format!("{cause:?} is missing")));
                    };
                    let off =
                        error(found.shift.to_bits(), delta, 16) - to_f64(&delta.abs()) * 65_536.0 * 2e-4;
                    ledger.see(Operation::Shift, off.max(0.0))?;
                    let misfit = to_f64(misfit);
                    let off = (f64::from(found.misfit.to_bits()) / 65_536.0 - misfit).abs() - 0.01;
                    ledger.see(Operation::Misfit, (off / misfit.max(1e-3)).max(0.0))?;
                }
            }
        }
        count.set(seen);
    }
    Ok(())
}

oracle_tests! {
    fn charts_agree(ledger: [Ewma, Cusum, EwmaLimit]) {
        let scores = prop_oneof![3 => -8_i32 << 16..8 << 16, 1 => -Score::MAX_BITS..=Score::MAX_BITS];
        property((ratios(), vec(scores, 1..40)), |(numbers, scores)| {
            let [weight, limit, reference, decision] = numbers;
            let design = Design::new(weight, limit, reference, decision).expect("held");
            let right = exact_design(numbers);
            ledger.see(Operation::EwmaLimit, error(design.ewma_limit().to_bits(), &ewma_limit(&right), 16))?;
            prop_assert_eq!(design.cusum_limit(), decision);
            let (mut ewma, mut cusum) = (Ewma::new(), Cusum::new());
            let (mut z, mut up, mut down) = (whole(0), whole(0), whole(0));
            for bits in scores {
                let score = Score::from_bits(bits).expect("held");
                ewma.push(&design, score);
                cusum.push(&design, score);
                let x = of_bits(bits, 16);
                z = &z + &right.weight * (&x - &z);
                up = (up + &x - &right.reference).max(whole(0));
                down = (down - &x - &right.reference).max(whole(0));
                ledger.see(Operation::Ewma, error(ewma.level().to_bits(), &z, 16))?;
                let (high, low) = cusum.sums();
                let held = |sum: &Exact| *sum < whole(65_536);
                if held(&up) && held(&down) {
                    ledger.see(Operation::Cusum, error(high.to_bits(), &up, 16))?;
                    ledger.see(Operation::Cusum, error(low.to_bits(), &down, 16))?;
                    let beyond = (up.clone().max(down.clone()) > right.decision).then_some(if up >= down { Side::Up } else { Side::Down });
                    prop_assert_eq!(cusum.beyond(&design), beyond);
                }
                let limit = ewma_limit(&right);
                if to_f64(&(z.abs() - &limit)).abs() > 1e-4 {
                    let side = if z.is_positive() { Side::Up } else { Side::Down };
                    prop_assert_eq!(ewma.beyond(&design), (z.abs() > limit).then_some(side));
                }
            }
            Ok(())
        });
    }

    fn lives_agree(ledger: [Score, Shift, Misfit, PlateSpread]) {
        let count = Cell::new([0_u32; 4]);
        property(lives(), |life| live(ledger, &life, &count));
        let [cycles, alarmed, one, none] = count.get();
        println!("{cycles} cycles, {alarmed} with an alarm, {one} with one cause, {none} with none");
        assert!(cycles > 3_000 && alarmed > 500 && one > 200 && none > 20, "{:?}", count.get());
    }
}

/// Whatever words a memory gives back, charts made of them work on or are refused.
#[test]
fn damaged_words_do_no_harm() {
    let readings = vec((any::<i32>(), 0_u32..31, any::<u64>(), 0_u32..63), 1..30);
    let sized = (any::<u32>(), 0_u32..33).prop_map(|(word, shift)| word.checked_shr(shift).unwrap_or(0));
    let words = proptest::array::uniform26(sized);
    property((words, any::<bool>(), readings), |(mut words, plain, readings)| {
        if plain {
            // Signs and high halves that can pass, so that some charts are made.
            (words[0], words[25]) = (words[0] & 1, words[25] & 7);
            for high in [4, 6, 8, 11, 13, 18, 21, 24] {
                words[high] = 0;
            }
            (words[2], words[9]) = ((words[2] & 4_095).max(1), words[9] & 4_095);
            (words[16], words[19], words[22]) = (words[16] & 65_535, words[19] & 65_535, words[22] & 65_535);
            (words[3], words[5]) = (words[3] >> 20, words[5] | 1 << 31);
            if words[0] == 0 {
                words[1..7].fill(0);
            }
            if words[25] & 1 == 0 {
                words[25] = 0;
            }
        }
        let Some(charts) = Charts::from_words(&words) else { return Ok(()) };
        prop_assert_eq!(charts.to_words(), words);
        let mut watch = Plates::new(Design::STANDARD, Uncertainty::ZERO);
        watch.restore(charts, charts);
        watch.restore_span(1, charts).expect("room");
        for (bits, shift, variance, small) in readings {
            let value = Length::from_bits(i64::from(bits >> shift)).expect("held");
            let reading = Some(Reading { value, variance: Variance::from_bits(variance >> small) });
            let before = watch.clone();
            let seen =
                watch.see(Some(bits as u8 % 4), &Observed { tip: reading, drop: reading, span: reading });
            prop_assert!(seen.is_ok() || watch == before);
            let _ = (watch.diagnosis(), watch.tip().s(), watch.tip().mean());
        }
        Ok(())
    });
}
