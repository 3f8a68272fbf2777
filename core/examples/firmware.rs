//! A whole touch cycle through the `Machine` trait, on a tiny made-up machine: `cargo run -p zdatum --example
//! firmware`.
//!
//! Copy `Printer` and replace what stands behind its fields (here a few lines of geometry) by motors,
//! switches and heaters. The cycle owns the order, the floors and the decisions; the machine does as asked
//! and tells what it met.

use core::num::NonZeroU32;

use zdatum::cycle::{Cycle, Edge, Fault, Job, Machine, ProbeState, Seconds, Temperatures, run};
use zdatum::setup::{
    Accept, DatumSwitch, Delay, Draft, LengthRange, Place, Places, Plates, Probe, Studied, Touch, Travel,
};
use zdatum::{Centre, Coverage, Latency, Length, Pooled, Setup, Speed, Station, Temperature, Uncertainty};

/// Room for nine fine touches per station: half a kilobyte, in a `static` where the firmware likes it.
type TouchCycle<'s> = Cycle<'s, 9>;

fn main() -> Result<(), Box<dyn core::error::Error>> {
    // 1. The setup, checked once. Nothing moves on a draft.
    let setup = Setup::check(draft()?)?;

    // 2. A cycle, and a machine to run it on.
    let mut cycle = TouchCycle::new(&setup, Job::full())?;
    let mut printer = Printer::new(setup.draft().stations);
    let outcome = run(&mut cycle, &mut printer).ok_or("the cycle was not started")?;

    // 3. Only an accepted landing may be used.
    println!("requests carried out: {}", printer.requests);
    println!("ended: {:?}", outcome.ending);
    match outcome.landing() {
        Some(landing) => println!(
            "make {} mm the zero of the height axis; it is sure to ± {} mm",
            landing.height, landing.uncertainty.expanded
        ),
        None => {
            for refusal in outcome.refusals() {
                println!("refused: {}. {}", refusal.kind.text(), refusal.kind.advice());
            }
        }
    }

    // The made-up machine knows the truth.
    let landing = outcome.landing().ok_or("refused")?;
    let error = landing.height.minus(Length::parse("0.7")?)?;
    if error.to_bits().abs() > Length::parse("0.005")?.to_bits() {
        return Err(format!("the landing is {error} mm off").into());
    }
    Ok(())
}

/// The made-up machine: T = 0.6, S = 6.7, P = 7.35, in millimetres.
struct Printer {
    places: Places,
    at: Option<Station>,
    z: Length,
    fetched: bool,
    requests: u32,
}

impl Printer {
    fn new(places: Places) -> Self {
        Self { places, at: None, z: Length::ZERO, fetched: false, requests: 0 }
    }

    /// The height at which the awaited switch trips. A real machine latches it in hardware or in the switch's
    /// interrupt.
    fn trip_height(&self, station: Station) -> Result<Length, Fault> {
        let text = match (station, self.fetched) {
            (Station::Tip, false) => "0.6",
            (Station::Shoulder, true) => "6.7",
            (Station::Plate, true) => "7.35",
            _ => return Err(Fault::Probe),
        };
        // Switches are not perfect: a few micrometres from touch to touch.
        let noise = [0, 90, -60, 30, -90, 60][self.requests as usize % 6];
        let z = Length::parse(text).map_err(|_| Fault::Position)?;
        Length::from_bits(i64::from(z.to_bits()) + noise).map_err(|_| Fault::Position)
    }

    fn rise_to(&mut self, height: Length) {
        self.z = self.z.max(height);
        self.requests += 1;
    }
}

impl Machine for Printer {
    fn find_probe(&mut self, _: Seconds) -> Result<ProbeState, Fault> {
        self.requests += 1;
        Ok(if self.fetched { ProbeState::Fetched } else { ProbeState::PutBack })
    }

    fn home(&mut self, _: Seconds) -> Result<(), Fault> {
        self.at = None;
        self.rise_to(Length::from_mm(20));
        Ok(())
    }

    fn level(&mut self, lowest: Length, _: Seconds) -> Result<(), Fault> {
        self.rise_to(lowest);
        Ok(())
    }

    fn warm(&mut self, _: Temperature, _: Seconds) -> Result<(), Fault> {
        self.requests += 1;
        Ok(())
    }

    fn fetch(&mut self, lowest: Length, _: Seconds) -> Result<(), Fault> {
        self.rise_to(lowest);
        (self.at, self.fetched) = (None, true);
        Ok(())
    }

    fn put_back(&mut self, lowest: Option<Length>, _: Seconds) -> Result<(), Fault> {
        self.rise_to(lowest.unwrap_or(self.z));
        (self.at, self.fetched) = (None, false);
        Ok(())
    }

    fn move_to(&mut self, to: Place, lowest: Length, _: Seconds) -> Result<(), Fault> {
        // Up first, then sideways; never down.
        self.rise_to(lowest);
        let stations = [
            (self.places.tip, Station::Tip),
            (self.places.shoulder, Station::Shoulder),
            (self.places.plate, Station::Plate),
        ];
        self.at = stations.into_iter().find(|(place, _)| *place == to).map(|(_, station)| station);
        self.at.map(|_| ()).ok_or(Fault::Move)
    }

    fn approach(&mut self, station: Station, floor: Length, _: Speed, _: Seconds) -> Result<Edge, Fault> {
        self.requests += 1;
        if self.at != Some(station) {
            return Err(Fault::Position);
        }
        let trip = self.trip_height(station)?;
        if self.z < trip {
            return Ok(Edge::Already);
        }
        // Down, both switches watched; the floor is a limit for the stop after the trip too.
        self.z = trip.max(floor);
        if trip < floor {
            return Ok(Edge::Floor);
        }
        Ok(Edge::Tripped { z: trip, at: Temperatures::default() })
    }

    fn lift(&mut self, to: Length, _: Seconds) -> Result<bool, Fault> {
        self.rise_to(to);
        let open = match self.at {
            Some(station) => self.z > self.trip_height(station)?,
            None => true,
        };
        Ok(open)
    }

    fn halt(&mut self) {
        self.requests += 1;
    }
}

/// What the owner wrote; every number is invented.
fn draft() -> Result<Draft, Box<dyn core::error::Error>> {
    let mm = Length::parse;
    let range = |low, high| Ok::<_, zdatum::ParseError>(LengthRange { low: mm(low)?, high: mm(high)? });
    let place = |x, y| Ok::<_, zdatum::ParseError>(Place { x: mm(x)?, y: mm(y)? });
    let study = |s| {
        let dof = NonZeroU32::new(40).unwrap_or(NonZeroU32::MIN);
        Ok::<_, zdatum::ParseError>(Some(Pooled { s: Uncertainty::parse(s)?, dof }))
    };
    let delay = |latency, u| {
        Ok::<_, zdatum::ParseError>(Delay {
            latency: Latency::parse(latency)?,
            latency_u: Latency::parse(u)?,
        })
    };
    Ok(Draft {
        travel: Travel {
            x: range("0", "200")?,
            y: range("0", "200")?,
            z: range("-3", "40")?,
            steps: (400, 1),
        },
        stations: Places {
            tip: place("190", "190")?,
            shoulder: place("190", "160")?,
            plate: place("100", "100")?,
        },
        datum_switch: DatumSwitch {
            tip_height: range("0.1", "1.1")?,
            overtravel: mm("2.5")?,
            delay: delay("0.0004", "0.0001")?,
        },
        probe: Probe {
            trip_depth: mm("0.55")?,
            trip_depth_u: Uncertainty::parse("0.004")?,
            trimmed_at_speed: Speed::parse("1.5")?,
            drop: range("5.5", "6.75")?,
            free_height: mm("1.25")?,
            delay: delay("0.0012", "0.0003")?,
        },
        plates: Plates { rise: range("-0.5", "0.75")?, margin: mm("0.5")? },
        touch: Touch {
            first_speed: Speed::parse("6")?,
            fine_speed: Speed::parse("1.5")?,
            lift: mm("0.75")?,
            stop: mm("0.08")?,
            settle: 1,
            least: 4,
            most: 9,
            band: mm("0.025")?,
            centre: Centre::Mean,
            target_u: Uncertainty::ZERO,
            tip_again: true,
        },
        growth: Default::default(),
        soak_left: Length::ZERO,
        unseen: Uncertainty::ZERO,
        accept: Accept {
            landing: range("-1.25", "1.75")?,
            shift: mm("0.2")?,
            expanded_u: Uncertainty::parse("0.025")?,
            coverage: Coverage::P95,
        },
        pooled: Studied {
            tip: study("0.0015")?,
            shoulder: study("0.0015")?,
            plate: study("0.003")?,
            ..Studied::default()
        },
    })
}
