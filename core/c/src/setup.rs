//! The setup: a plain struct in, a checked one kept.

use core::num::NonZeroU32;

use zdatum::setup::{
    Accept, DatumSwitch, Delay, Draft, Follows, Grows, Key, LengthRange, Place, Places, Plates, Probe,
    Studied, Touch, Travel,
};
use zdatum::{
    BadSetup, Centre, Coverage, Growth, Latency, Length, OutOfRange, Pooled, Setup, Speed, Temperature,
    Uncertainty, Warming,
};

use crate::codes::{ZDATUM_BAD_SETUP, ZDATUM_OUT_OF_RANGE, zdatum_code, zdatum_text};
use crate::memory::{No, Storage, code, flag, see, start, started, writable, write};

/// Most growing parts that a setup may name.
pub const ZDATUM_MOST_GROWTH: usize = 8;

/// A series' centre is its arithmetic mean.
pub const ZDATUM_MEAN: u8 = 0;
/// It is the median, which tolerates almost half wild touches.
pub const ZDATUM_MEDIAN: u8 = 1;
/// It is the Hodges–Lehmann estimator, the median of all pair means (Hodges and Lehmann, 1963).
pub const ZDATUM_HODGES_LEHMANN: u8 = 2;

/// A part's temperature is that of the tool, read at the tip's touches.
pub const ZDATUM_FOLLOWS_TOOL: u8 = 0;
/// That of the bed, read at the plate's touches.
pub const ZDATUM_FOLLOWS_BED: u8 = 1;
/// That of the chamber, read at the plate's touches.
pub const ZDATUM_FOLLOWS_CHAMBER: u8 = 2;

/// Lowest and highest value of what may vary; lengths.
#[derive(Clone, Copy, Default)]
#[repr(C)]
pub struct zdatum_length_range {
    /// Lowest, 2^-16 mm.
    pub low: i32,
    /// Highest, 2^-16 mm.
    pub high: i32,
}

/// A carriage position in the plane of the plate.
#[derive(Clone, Copy, Default)]
#[repr(C)]
pub struct zdatum_place {
    /// Across, 2^-16 mm.
    pub x: i32,
    /// Along, 2^-16 mm.
    pub y: i32,
}

/// How late a switch's trip is seen.
#[derive(Clone, Copy, Default)]
#[repr(C)]
pub struct zdatum_delay {
    /// The latency, 2^-32 s.
    pub latency: u32,
    /// Its standard uncertainty, 2^-32 s.
    pub latency_u: u32,
}

/// A part that is longer when printing than when touching.
#[derive(Clone, Copy, Default)]
#[repr(C)]
pub struct zdatum_grows {
    /// What it adds to the landing per kelvin, 2^-32 mm/K; may be negative.
    pub rate: i32,
    /// Its standard uncertainty, 2^-32 mm/K, not negative.
    pub rate_u: i32,
    /// Its temperature at the touch where none is read, 2^-16 degrees Celsius.
    pub touch: i32,
    /// Its temperature at the first layer, 2^-16 degrees Celsius.
    pub print: i32,
    /// Standard uncertainty of print less the temperature read at the touch, 2^-16 K, not negative.
    pub delta_u: i32,
    /// Warming that the trip depth has taken up, 2^-16 K, from `zdatum_trim`; 0 for a trip depth from a sheet.
    pub trimmed: i32,
    /// ZDATUM_FOLLOWS_TOOL, ZDATUM_FOLLOWS_BED or ZDATUM_FOLLOWS_CHAMBER.
    pub follows: u8,
}

/// A study's standard deviation of single touches at a station.
#[derive(Clone, Copy, Default)]
#[repr(C)]
pub struct zdatum_pooled {
    /// The pooled standard deviation, 2^-24 mm.
    pub s: u32,
    /// Degrees of freedom behind it; 0: there is no study.
    pub dof: u32,
}

/// A machine as its owner wrote it, unchecked. Fields have the names of the machine file's keys
/// (`docs/files.md`).
///
/// Start from zeroes: leave out what may be zero; `zdatum_setup_check` refuses what may not.
#[derive(Clone, Copy, Default)]
#[repr(C)]
pub struct zdatum_draft {
    /// `travel.x`: reach across.
    pub travel_x: zdatum_length_range,
    /// `travel.y`: reach along.
    pub travel_y: zdatum_length_range,
    /// `travel.z`: reach in height.
    pub travel_z: zdatum_length_range,
    /// `travel.steps`: so many motor steps of the height axis …
    pub travel_steps: u32,
    /// … move the carriage by so many whole millimetres.
    pub travel_steps_mm: u32,
    /// `stations.tip`: the tip stands over the datum switch.
    pub station_tip: zdatum_place,
    /// `stations.shoulder`: the shoulder stands over the datum switch.
    pub station_shoulder: zdatum_place,
    /// `stations.plate`: the plunger stands over the point of the plate.
    pub station_plate: zdatum_place,
    /// `datum_switch.tip_height`: carriage heights at which the tip may trip it.
    pub datum_tip_height: zdatum_length_range,
    /// `datum_switch.overtravel`: how far past its trip it may be pressed, 2^-16 mm.
    pub datum_overtravel: i32,
    /// `datum_switch.latency`: when its edge is seen.
    pub datum_delay: zdatum_delay,
    /// `probe.trip_depth`: how far the plunger's end stands below the shoulder at the trip, 2^-16 mm.
    pub probe_trip_depth: i32,
    /// `probe.trip_depth_u`: its standard uncertainty, 2^-24 mm.
    pub probe_trip_depth_u: u32,
    /// `probe.trimmed_at_speed`: the speed at which it was trimmed, 2^-16 mm/s; 0 for a value from a sheet.
    pub probe_trimmed_at_speed: u32,
    /// `probe.drop`: how far the shoulder of a properly seated probe hangs below the tip.
    pub probe_drop: zdatum_length_range,
    /// `probe.free_height`: the trip depth where nothing presses the plunger, 2^-16 mm.
    pub probe_free_height: i32,
    /// `probe.latency`: when its switch's edge is seen.
    pub probe_delay: zdatum_delay,
    /// `plates.rise`: how far any plate may stand above the datum switch's trip height.
    pub plates_rise: zdatum_length_range,
    /// `plates.margin`: clearance kept under the tip, 2^-16 mm.
    pub plates_margin: i32,
    /// `touch.first_speed`: speed of the first approach, 2^-16 mm/s, above 0.
    pub touch_first_speed: u32,
    /// `touch.fine_speed`: speed of the others, 2^-16 mm/s, above 0 and at most the first's.
    pub touch_fine_speed: u32,
    /// `touch.lift`: how far the carriage backs off between touches, 2^-16 mm.
    pub touch_lift: i32,
    /// `touch.stop`: longest travel after a trip, 2^-16 mm.
    pub touch_stop: i32,
    /// `touch.band`: widest spread of the counted touches, 2^-16 mm.
    pub touch_band: i32,
    /// `touch.target_u`: go on until a station's u is at most this, 2^-24 mm; 0: no target.
    pub touch_target_u: u32,
    /// `touch.settle`: slow touches thrown away, 0 to 16.
    pub touch_settle: u8,
    /// `touch.least`: fewest counted touches, from 1 (2 without a study).
    pub touch_least: u8,
    /// `touch.most`: most fine touches, up to ZDATUM_TOUCHES.
    pub touch_most: u8,
    /// `touch.centre`: ZDATUM_MEAN, ZDATUM_MEDIAN or ZDATUM_HODGES_LEHMANN.
    pub touch_centre: u8,
    /// `touch.tip_again`: 1 touches the tip once more at the end of the cycle.
    pub touch_tip_again: u8,
    /// How many of `growth` are used, 0 to ZDATUM_MOST_GROWTH.
    pub growth_count: u8,
    /// Coverage at which U is stated, in per cent: 90, 95 or 99; 0 stands for 95.
    pub accept_coverage: u8,
    /// `growth`: parts that grow between touch and print.
    pub growth: [zdatum_grows; ZDATUM_MOST_GROWTH],
    /// `soak.left`: most that the landing may still rise before the first layer, 2^-16 mm; negative where it sinks.
    pub soak_left: i32,
    /// `unseen.u`: what three touches cannot show, 2^-24 mm.
    pub unseen: u32,
    /// `accept.landing`: window for the landing.
    pub accept_landing: zdatum_length_range,
    /// `accept.shift`: largest change of a plate's span, 2^-16 mm.
    pub accept_shift: i32,
    /// `accept.expanded_u`: largest U, 2^-24 mm.
    pub accept_expanded_u: u32,
    /// `pooled.tip`: the study of the tip's station.
    pub pooled_tip: zdatum_pooled,
    /// `pooled.shoulder`: the study of the shoulder's station.
    pub pooled_shoulder: zdatum_pooled,
    /// `pooled.plate`: the study of the plate's station.
    pub pooled_plate: zdatum_pooled,
    /// `pooled.tip_between`: the tip from series to series, beyond the scatter within.
    pub pooled_tip_between: zdatum_pooled,
    /// `pooled.span_between`: plate less shoulder, likewise.
    pub pooled_span_between: zdatum_pooled,
}

/// Why a setup is refused.
#[derive(Clone, Copy)]
#[repr(C)]
pub struct zdatum_bad_setup {
    /// The machine file's key, such as `touch.band`.
    pub key: zdatum_text,
    /// What is wrong with it, in English.
    pub fault: zdatum_text,
    /// What was seen, 2^-16 mm; 0 without `has_amounts`.
    pub seen: i32,
    /// The limit, 2^-16 mm; 0 without `has_amounts`.
    pub limit: i32,
    /// 1 where `seen` and `limit` are set.
    pub has_amounts: u8,
}

impl zdatum_bad_setup {
    fn of(bad: &BadSetup) -> Self {
        let (seen, limit, has_amounts) = match (bad.seen, bad.limit) {
            (Some(seen), Some(limit)) => (seen.to_bits(), limit.to_bits(), 1),
            _ => (0, 0, 0),
        };
        let (key, fault) = (zdatum_text::of(bad.key.text()), zdatum_text::of(bad.fault.text()));
        Self { key, fault, seen, limit, has_amounts }
    }

    fn beyond(key: &'static str) -> Self {
        let fault = zdatum_text::of("a number outside its range");
        Self { key: zdatum_text::of(key), fault, seen: 0, limit: 0, has_amounts: 0 }
    }
}

/// How many words a setup's storage takes.
pub const ZDATUM_SETUP_WORDS: usize = 72;

/// Storage for a checked setup; yours, and zeroed before its first use. Its contents belong to the library.
#[repr(C)]
pub struct zdatum_setup {
    /// Do not touch.
    pub words: [u64; ZDATUM_SETUP_WORDS],
}

impl Storage for zdatum_setup {
    type Inner = Setup;
    const TAG: u32 = 0x7A53_0001;
}

const _: () = zdatum_setup::FITS;

fn length(bits: i32) -> Length {
    // Every 32-bit number is a length.
    Length::from_bits(i64::from(bits)).unwrap_or(Length::ZERO)
}

fn range(s: &zdatum_length_range) -> LengthRange {
    LengthRange { low: length(s.low), high: length(s.high) }
}

fn place(p: &zdatum_place) -> Place {
    Place { x: length(p.x), y: length(p.y) }
}

fn uncertainty(bits: u32) -> Uncertainty {
    // Every unsigned 32-bit number is an uncertainty.
    Uncertainty::from_bits(i64::from(bits)).unwrap_or(Uncertainty::ZERO)
}

fn pooled(p: &zdatum_pooled) -> Option<Pooled> {
    NonZeroU32::new(p.dof).map(|dof| Pooled { s: uncertainty(p.s), dof })
}

pub(crate) fn delay(d: &zdatum_delay) -> Result<Delay, OutOfRange> {
    let latency = |bits: u32| Latency::from_bits(i64::from(bits));
    Ok(Delay { latency: latency(d.latency)?, latency_u: latency(d.latency_u)? })
}

fn grows(g: &zdatum_grows) -> Result<Grows, No> {
    Ok(Grows {
        follows: match g.follows {
            ZDATUM_FOLLOWS_TOOL => Follows::Tool,
            ZDATUM_FOLLOWS_BED => Follows::Bed,
            ZDATUM_FOLLOWS_CHAMBER => Follows::Chamber,
            _ => return Err(No(ZDATUM_OUT_OF_RANGE)),
        },
        rate: Growth::from_bits(i64::from(g.rate))?,
        rate_u: Growth::from_bits(i64::from(g.rate_u))?,
        touch: Temperature::from_bits(i64::from(g.touch))?,
        print: Temperature::from_bits(i64::from(g.print))?,
        delta_u: Warming::from_bits(i64::from(g.delta_u))?,
        trimmed: Warming::from_bits(i64::from(g.trimmed))?,
    })
}

/// The core's draft; the error is the key whose number is no such quantity at all.
fn draft(d: &zdatum_draft) -> Result<Draft, &'static str> {
    fn at<T, E>(key: &'static str, value: Result<T, E>) -> Result<T, &'static str> {
        value.map_err(|_| key)
    }
    let speed = |key, bits: u32| at(key, Speed::from_bits(i64::from(bits)));

    let mut growth = heapless::Vec::new();
    let count = usize::from(d.growth_count);
    for part in at("growth", d.growth.get(..count).ok_or(()))? {
        let part = at("growth", grows(part))?;
        at("growth", growth.push(part))?;
    }
    Ok(Draft {
        travel: Travel {
            x: range(&d.travel_x),
            y: range(&d.travel_y),
            z: range(&d.travel_z),
            steps: (d.travel_steps, d.travel_steps_mm),
        },
        stations: Places {
            tip: place(&d.station_tip),
            shoulder: place(&d.station_shoulder),
            plate: place(&d.station_plate),
        },
        datum_switch: DatumSwitch {
            tip_height: range(&d.datum_tip_height),
            overtravel: length(d.datum_overtravel),
            delay: at("datum_switch.latency", delay(&d.datum_delay))?,
        },
        probe: Probe {
            trip_depth: length(d.probe_trip_depth),
            trip_depth_u: uncertainty(d.probe_trip_depth_u),
            trimmed_at_speed: speed("probe.trimmed_at_speed", d.probe_trimmed_at_speed)?,
            drop: range(&d.probe_drop),
            free_height: length(d.probe_free_height),
            delay: at("probe.latency", delay(&d.probe_delay))?,
        },
        plates: Plates { rise: range(&d.plates_rise), margin: length(d.plates_margin) },
        touch: Touch {
            first_speed: speed(Key::FirstSpeed.text(), d.touch_first_speed)?,
            fine_speed: speed(Key::FineSpeed.text(), d.touch_fine_speed)?,
            lift: length(d.touch_lift),
            stop: length(d.touch_stop),
            settle: d.touch_settle,
            least: d.touch_least,
            most: d.touch_most,
            band: length(d.touch_band),
            centre: match d.touch_centre {
                ZDATUM_MEAN => Centre::Mean,
                ZDATUM_MEDIAN => Centre::Median,
                ZDATUM_HODGES_LEHMANN => Centre::HodgesLehmann,
                _ => return Err("touch.centre"),
            },
            target_u: uncertainty(d.touch_target_u),
            tip_again: at("touch.tip_again", flag(d.touch_tip_again))?,
        },
        growth,
        soak_left: length(d.soak_left),
        unseen: uncertainty(d.unseen),
        accept: Accept {
            landing: range(&d.accept_landing),
            shift: length(d.accept_shift),
            expanded_u: uncertainty(d.accept_expanded_u),
            coverage: match d.accept_coverage {
                90 => Coverage::P90,
                0 | 95 => Coverage::P95,
                99 => Coverage::P99,
                _ => return Err("accept.coverage"),
            },
        },
        pooled: Studied {
            tip: pooled(&d.pooled_tip),
            shoulder: pooled(&d.pooled_shoulder),
            plate: pooled(&d.pooled_plate),
            tip_between: pooled(&d.pooled_tip_between),
            span_between: pooled(&d.pooled_span_between),
        },
    })
}

/// Checks a draft and keeps it; nothing may move on an unchecked one. The floors are worked out too.
///
/// `bad` may be null; else it gets the first bad key with ZDATUM_BAD_SETUP and ZDATUM_OUT_OF_RANGE.
/// Also ZDATUM_NULL, ZDATUM_MISALIGNED. After any error the storage is as it was before.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn zdatum_setup_check(
    setup: *mut zdatum_setup,
    draft: *const zdatum_draft,
    bad: *mut zdatum_bad_setup,
) -> zdatum_code {
    let tell = |value, code| {
        if !bad.is_null() {
            // SAFETY: the crate's contract.
            unsafe { write(bad, value) }?;
        }
        Err(No(code))
    };
    code(|| {
        writable(setup)?;
        // SAFETY: the crate's contract.
        let plain = unsafe { see(draft) }?;
        if !bad.is_null() {
            writable(bad)?;
        }
        let draft = match self::draft(plain) {
            Ok(draft) => draft,
            Err(key) => return tell(zdatum_bad_setup::beyond(key), ZDATUM_OUT_OF_RANGE),
        };
        match Setup::check(draft) {
            // SAFETY: the crate's contract.
            Ok(checked) => unsafe { start(setup, checked) },
            Err(error) => tell(zdatum_bad_setup::of(&error), ZDATUM_BAD_SETUP),
        }
    })
}

/// The heights that a setup leads to (`docs/geometry.md`), for firmware that runs its own sequence.
#[derive(Clone, Copy, Default)]
#[repr(C)]
pub struct zdatum_floors {
    /// Lowest height of the tip's approach, 2^-16 mm.
    pub tip: i32,
    /// Lowest height of sideways moves with the probe put back, 2^-16 mm.
    pub clear: i32,
    /// The same with the probe fetched, 2^-16 mm.
    pub clear_with_probe: i32,
    /// Furthest past a trip of the datum switch that the carriage may run, 2^-16 mm.
    pub datum_overrun: i32,
    /// The same for the probe's switch, 2^-16 mm.
    pub plate_overrun: i32,
}

/// The floors that are known before anything is touched.
///
/// ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn zdatum_setup_floors(
    setup: *const zdatum_setup,
    floors: *mut zdatum_floors,
) -> zdatum_code {
    code(|| {
        // SAFETY: the crate's contract.
        let known = unsafe { started(setup) }?.floors();
        let told = zdatum_floors {
            tip: known.tip.to_bits(),
            clear: known.clear.to_bits(),
            clear_with_probe: known.clear_with_probe.to_bits(),
            datum_overrun: known.datum_overrun.to_bits(),
            plate_overrun: known.plate_overrun.to_bits(),
        };
        // SAFETY: the crate's contract.
        unsafe { write(floors, told) }
    })
}

/// Lowest height of the shoulder's approach, 2^-16 mm, for the tip's height as measured.
///
/// ZDATUM_OUT_OF_RANGE where it is out of range; ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn zdatum_shoulder_floor(
    setup: *const zdatum_setup,
    tip: i32,
    floor: *mut i32,
) -> zdatum_code {
    code(|| {
        // SAFETY: the crate's contract.
        let floors = unsafe { started(setup) }?.floors();
        let height = floors.shoulder(floors.tip_at_most(length(tip))?)?;
        // SAFETY: the crate's contract.
        unsafe { write(floor, height.to_bits()) }
    })
}

/// Lowest height of the plate's approach, 2^-16 mm, for the heights of tip and shoulder as measured under one
/// fetch.
///
/// ZDATUM_OUT_OF_RANGE where it is out of range; ZDATUM_NOT_STARTED, ZDATUM_NULL, ZDATUM_MISALIGNED.
#[unsafe(no_mangle)]
pub unsafe extern "C" fn zdatum_plate_floor(
    setup: *const zdatum_setup,
    tip: i32,
    shoulder: i32,
    floor: *mut i32,
) -> zdatum_code {
    code(|| {
        // SAFETY: the crate's contract.
        let floors = unsafe { started(setup) }?.floors();
        let (tip, shoulder) = (length(tip), length(shoulder));
        let height = floors.plate(floors.tip_at_most(tip)?, shoulder.minus(tip)?)?;
        // SAFETY: the crate's contract.
        unsafe { write(floor, height.to_bits()) }
    })
}
