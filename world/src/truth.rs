//! What is true of one run: geometry and the values drawn once.
//!
//! With Z the carriage height: T = E + n; S = T + d; P = T + r + d + t + v₀·τ_plate; L = T + r, and at print
//! L + Σ g·(θ_print − θ_touch). What is wrong about a g has been trimmed away at
//! its warming w: T, S, P read as if t were larger by (g_true − g)·w.

use super::Over;
use super::clock;
use super::faults::Faults;
use super::noise::Noise;
use super::plates;
use super::random::Random;
use super::switches::{Steps, Switches};
use super::unshown::Touched;
use zdatum::setup::{Grows, LengthRange, Place};
use zdatum::{Draft, Setup, Station, Uncertainty};

/// The machine that runs are drawn from: the setup's values and the noise, in double precision, worked out
/// once.
#[derive(Clone, Debug)]
pub struct Machine {
    /// The noise.
    pub noise: Noise,
    pub(super) switches: Switches,
    pub(super) steps: Steps,
    pub(super) stop: f64,
    /// Height at which the carriage rests between cycles.
    pub(super) rest: f64,
    places: [Place; 3],
    /// Seconds sideways, from each station (row) to each.
    ways: [[f64; 3]; 3],
    tip_middle: f64,
    pub(super) drop_middle: f64,
    rise_middle: f64,
    /// Width of the middle fifth of the plates' rises.
    rise_width: f64,
    trip_depth: f64,
    /// Of trip depth and unseen together: both add to P alone, so their sum is drawn as one normal.
    trip_depth_u: f64,
    trimmed_at: f64,
    latencies: [(f64, f64); 2],
    /// Σ g·Δθ over the growing parts.
    growth: f64,
    /// √Σ (u(g)·Δθ)²: the parts' errors are independent normals, so their sum is drawn as one.
    growth_u: f64,
    /// √Σ (u(g)·w)², as one draw with `growth_u` and one of its own.
    trimmed_u: [f64; 2],
    pub(super) touched: Touched,
}

/// Middle of a range of the setup, mm.
pub fn middle(range: LengthRange) -> f64 {
    (range.low.to_f64() + range.high.to_f64()) / 2.0
}

/// Width of a range of the setup, mm.
pub(crate) fn width(range: LengthRange) -> f64 {
    range.high.to_f64() - range.low.to_f64()
}

impl Machine {
    /// Works the machine out.
    pub fn new(setup: &Setup, noise: &Noise) -> Self {
        let draft = setup.draft();
        let latency = |delay: &zdatum::setup::Delay| (delay.latency.to_f64(), delay.latency_u.to_f64());
        let places = [draft.stations.tip, draft.stations.shoulder, draft.stations.plate];
        let parts = draft.growth.iter().map(|part| {
            let warming = part.print.to_f64() - part.touch.to_f64();
            (part.rate.to_f64() * warming, part.rate_u.to_f64() * warming)
        });
        let (growth, growth_u) =
            parts.fold((0.0, 0.0), |(sum, sum_u), (size, u)| (sum + size, libm::hypot(sum_u, u)));
        let trimmed_u = trimmed(&draft.growth, growth_u);
        Self {
            noise: *noise,
            switches: Switches::new(setup, noise),
            steps: Steps::new(setup.step()),
            stop: draft.touch.stop.to_f64(),
            rest: setup.floors().clear.to_f64(),
            places,
            ways: places.map(|from| places.map(|to| clock::sideways(from, to))),
            tip_middle: middle(draft.datum_switch.tip_height),
            drop_middle: middle(draft.probe.drop),
            rise_middle: middle(draft.plates.rise),
            rise_width: width(draft.plates.rise) / 5.0,
            trip_depth: draft.probe.trip_depth.to_f64(),
            trip_depth_u: libm::hypot(trip_depth_u(draft), noise.unseen),
            trimmed_at: draft.probe.trimmed_at_speed.to_f64(),
            latencies: [latency(&draft.datum_switch.delay), latency(&draft.probe.delay)],
            growth,
            growth_u,
            trimmed_u,
            touched: Touched::of(setup, noise),
        }
    }

    /// Standard deviation of a fine touch at each station, mm, and the fine speed, mm/s.
    pub fn fine_sd(&self) -> (impl Fn(Station) -> f64 + use<>, f64) {
        self.switches.fine_sd()
    }

    /// What growth adds to the landing from touch to print, as the setup knows it, mm: Σ g·Δθ.
    pub fn growth(&self) -> f64 {
        self.growth
    }

    /// Δ, mm.
    pub fn step(&self) -> f64 {
        self.steps.size
    }

    /// What one standard deviation of trip depth, of the plate switch's latency and of growth adds to the
    /// first-layer error at a speed, mm; of growth what goes with its error at print.
    pub(super) fn effects(&self, v: f64) -> (f64, f64, f64) {
        let [_, (_, plate_u)] = self.latencies;
        (self.trip_depth_u, (self.trimmed_at - v) * plate_u, self.trimmed_u[0] - self.growth_u)
    }

    /// The station at a place.
    #[inline]
    pub(super) fn station_at(&self, place: Place) -> Over {
        let at = Station::ALL.into_iter().find(|station| of_station(&self.places, *station) == place);
        at.map_or(Over::Elsewhere, Over::Station)
    }

    /// Seconds sideways; away from the stations everything is equally far.
    #[inline]
    pub(super) fn way(&self, from: Over, to: Over) -> f64 {
        match (from, to) {
            (Over::Station(from), Over::Station(to)) => of_station(&of_station(&self.ways, from), to),
            _ => clock::FROM_ELSEWHERE,
        }
    }
}

/// The entry of a station in a table of three.
#[inline]
fn of_station<T: Copy>(table: &[T; 3], station: Station) -> T {
    let [tip, shoulder, plate] = *table;
    match station {
        Station::Tip => tip,
        Station::Shoulder => shoulder,
        Station::Plate => plate,
    }
}

/// u(t), mm; 0 for the least that a setup takes, which stands for *known exactly*.
pub(crate) fn trip_depth_u(draft: &Draft) -> f64 {
    let u = draft.probe.trip_depth_u;
    if u <= Uncertainty::LEAST { 0.0 } else { u.to_f64() }
}

/// The sum of the parts' trimmed doubts, Σ u(g)·w·z, beside that of their doubts at print, Σ u(g)·Δθ·z, with the same
/// normals z: how much of it goes with the latter's draw, and how much has one of its own.
fn trimmed(parts: &[Grows], growth_u: f64) -> [f64; 2] {
    let doubts = parts.iter().map(|part| {
        let u = part.rate_u.to_f64();
        (u * (part.print.to_f64() - part.touch.to_f64()), u * part.trimmed.to_f64())
    });
    let (both, own) = doubts.fold((0.0, 0.0), |(both, own), (a, b)| (both + a * b, own + b * b));
    let along = if growth_u > 0.0 { both / growth_u } else { 0.0 };
    let across = own - along * along;
    // Parts in proportion leave a rounding here, which is no draw of its own.
    [along, if across > 1e-12 * own { libm::sqrt(across) } else { 0.0 }]
}

/// What was drawn for one run, mm and s.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Truth {
    /// E + n.
    pub tip: f64,
    /// d, drawn anew at each fetch.
    pub drop: f64,
    /// r.
    pub rise: f64,
    /// t + v₀·τ_plate + Σ (g_true − g)·w: so that at speed v₀ and warming w a wrong τ or g does no harm.
    pub trip_depth_seen: f64,
    /// τ of the datum switch.
    pub datum_latency: f64,
    /// τ of the probe's switch.
    pub plate_latency: f64,
    /// L at print, without the frame's drift.
    pub landing: f64,
}

/// The numbers that a truth is made of.
#[derive(Clone, Copy, Debug)]
pub(super) struct Numbers {
    /// Standard normal: trip depth, latency of the datum switch and of the probe's, growth.
    pub(super) normal: [f64; 4],
    /// In [−½, ½): where the tip stands in a motor step, which plate is fitted.
    pub(super) centred: [f64; 2],
    /// Standard normal: the part of the trimmed growths' error that printing does not share.
    pub(super) trimmed: f64,
}

impl Numbers {
    #[inline]
    fn draw(machine: &Machine, random: &mut Random) -> Self {
        let normal = [random.normal(), random.normal(), random.normal(), random.normal()];
        let centred = [random.centred(), random.centred()];
        // Drawn only where it counts, so that most machines' runs stay as they were.
        let trimmed = if machine.trimmed_u[1] > 0.0 { random.normal() } else { 0.0 };
        Self { normal, centred, trimmed }
    }
}

impl Truth {
    pub(super) fn draw(machine: &Machine, faults: &Faults, random: &mut Random) -> Self {
        Self::of(machine, faults, &Numbers::draw(machine, random))
    }

    #[inline]
    pub(super) fn of(machine: &Machine, faults: &Faults, numbers: &Numbers) -> Self {
        let [(datum, datum_u), (plate, plate_u)] = machine.latencies;
        let ([trip_depth, datum_off, plate_off, growth], [tip, rise]) = (numbers.normal, numbers.centred);
        let trip_depth = machine.trip_depth + machine.trip_depth_u * trip_depth;
        let datum_latency = datum + datum_u * datum_off;
        let plate_latency = plate + plate_u * plate_off;
        let [along, across] = machine.trimmed_u;
        let trimmed = along * growth + across * numbers.trimmed;
        let growth = machine.growth + machine.growth_u * growth;
        let tip = machine.tip_middle + machine.steps.size * tip;
        let rise = plates::rise(machine.rise_middle, machine.rise_width, rise);
        let mut truth = Self {
            tip: tip + faults.tip_offset(),
            drop: machine.drop_middle,
            rise,
            trip_depth_seen: trip_depth + machine.trimmed_at * plate_latency + trimmed,
            datum_latency,
            plate_latency,
            landing: 0.0,
        };
        truth.rise += faults.plate_raised();
        truth.landing = truth.tip + truth.rise + growth - faults.landing_hidden();
        truth
    }

    /// Moves what was drawn by so many standard deviations: trip depth, latency of datum switch and plate
    /// switch, growth.
    pub(super) fn move_by(&mut self, machine: &Machine, [trip_depth, datum, plate, growth]: [f64; 4]) {
        let [(_, datum_u), (_, plate_u)] = machine.latencies;
        let plate = plate_u * plate;
        self.trip_depth_seen += machine.trip_depth_u * trip_depth + machine.trimmed_at * plate;
        self.datum_latency += datum_u * datum;
        self.plate_latency += plate;
        self.trip_depth_seen += machine.trimmed_u[0] * growth;
        self.landing += machine.growth_u * growth;
    }
}
