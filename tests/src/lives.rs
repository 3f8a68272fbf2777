//! Lives of the demo's machine, cycle after cycle, for run lengths: what its watch would see.
//!
//! Noise, step, study and reseat are those of `docs/demo/machine.toml`: each station's reading is the mean of
//! five touches, each rounded to a motor step; the machine is homed anew before each cycle, to within a step.
//! Three plates come in any order.

use zdatum::watch::{Design, Observed, Reading, Watch};
use zdatum::{Length, Uncertainty, Variance};

/// Motor step, mm.
const STEP: f64 = 6.0 / 3_200.0;
/// Switch noise and latency jitter at 2 mm/s, one standard deviation, for tip, shoulder and plate, mm.
const NOISE: [f64; 3] = [0.0011, 0.0012, 0.0024];
const JITTER: f64 = 0.0002 * 2.0;
/// How differently the probe seats, mm.
const RESEAT: f64 = 0.018;
/// The study's s of the stations, mm.
const STUDY: [f64; 3] = [0.0014, 0.0015, 0.0026];
const TOUCHES: usize = 5;
/// Spans of the plates, mm.
const PLATES: [f64; 3] = [0.706, 0.347, 0.888];

/// A quantity that a step is put on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Moves {
    /// T alone.
    Tip,
    /// d alone.
    Drop,
    /// The span of one plate, the only one that is fitted from then on.
    Span,
}

/// xorshift64*, with normals by Box and Muller.
#[derive(Clone, Debug)]
struct Random(u64);

impl Random {
    fn new(seed: u64) -> Self {
        let mut random = Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1);
        for _ in 0..8 {
            let _ = random.uniform();
        }
        random
    }

    fn uniform(&mut self) -> f64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        let bits = self.0.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 11;
        (bits as f64 + 0.5) / 9_007_199_254_740_992.0
    }

    fn normal(&mut self) -> f64 {
        let (radius, angle) = ((-2.0 * self.uniform().ln()).sqrt(), self.uniform() * std::f64::consts::TAU);
        radius * angle.cos()
    }
}

/// One machine with its watch.
#[derive(Clone, Debug)]
pub struct Life {
    random: Random,
    watch: Watch<u8, 3>,
    u2: [Variance; 3],
}

impl Life {
    /// A new machine with a watch that knows nothing.
    pub fn new(seed: u64, design: Design) -> Self {
        let u2 = STUDY.map(|s| {
            let u = s / (TOUCHES as f64).sqrt();
            Uncertainty::from_bits((u * 16_777_216.0).round() as i64).expect("held").variance().expect("held")
        });
        Self { random: Random::new(seed), watch: Watch::new(design, Uncertainty::ZERO), u2 }
    }

    /// The watch, to be told something.
    pub const fn watch_mut(&mut self) -> &mut Watch<u8, 3> {
        &mut self.watch
    }

    /// One accepted cycle with heights moved by so much (T, d, span), mm; whether an alarm stands.
    pub fn cycle(&mut self, moved: [f64; 3], plate: Option<u8>) -> bool {
        let plate = plate.unwrap_or_else(|| (self.random.uniform() * 3.0) as u8);
        let tip = 0.6 + moved[0] + STEP * self.random.uniform();
        let shoulder = tip + 5.1 + moved[1] + RESEAT * self.random.normal();
        let span = PLATES.get(usize::from(plate)).copied().unwrap_or(0.0) + moved[2];
        let [t, s, p] = [(tip, 0), (shoulder, 1), (shoulder + span, 2)]
            .map(|(height, station)| self.station(height, station));
        let reading = |upper: f64, lower: f64, variance: Variance| {
            let value = Length::from_bits(((upper - lower) * 65_536.0).round() as i64).expect("held");
            Some(Reading { value, variance })
        };
        let [tip_u2, shoulder_u2, plate_u2] = self.u2;
        let observed = Observed {
            tip: reading(t, 0.0, tip_u2),
            drop: reading(s, t, shoulder_u2.plus(tip_u2).expect("held")),
            span: reading(p, s, plate_u2.plus(shoulder_u2).expect("held")),
        };
        self.watch.see(Some(plate), &observed).expect("a cycle that can be charted")
    }

    /// The mean of five touches.
    fn station(&mut self, height: f64, station: usize) -> f64 {
        let noise = NOISE[station].hypot(JITTER);
        let touch = |random: &mut Random| ((height + noise * random.normal()) / STEP).round() * STEP;
        (0..TOUCHES).map(|_| touch(&mut self.random)).sum::<f64>() / TOUCHES as f64
    }
}

/// Cycles until the first alarm of a sound machine, from its first cycle on; `most` where none came.
pub fn until_false_alarm(seed: u64, design: Design, most: u32) -> u32 {
    let mut life = Life::new(seed, design);
    (1..most).find(|_| life.cycle([0.0; 3], None)).unwrap_or(most)
}

/// Cycles with a step of so many mm until an alarm, after `learnt` cycles with each plate; `None` for a
/// machine that gave a false alarm before, `most` where the step was not seen.
pub fn until_seen(seed: u64, design: Design, moves: Moves, step: f64, learnt: u32, most: u32) -> Option<u32> {
    let mut life = Life::new(seed, design);
    if (0..learnt * 3).any(|n| life.cycle([0.0; 3], Some((n % 3) as u8))) {
        return None;
    }
    let moved = match moves {
        Moves::Tip => [step, 0.0, 0.0],
        Moves::Drop => [0.0, step, 0.0],
        Moves::Span => [0.0, 0.0, step],
    };
    Some((1..most).find(|_| life.cycle(moved, Some(0))).unwrap_or(most))
}
