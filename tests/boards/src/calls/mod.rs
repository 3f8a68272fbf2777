//! One file per module of the core. Values are invented; they lead through the accepted way, so that a run
//! meets most of the code.
//!
//! Every argument is [`given`], `self` included: a firmware keeps these values in statics, where the
//! optimiser knows nothing of them either.

mod budget;
mod cycle;
mod landing;
#[cfg(not(target_arch = "avr"))]
mod plates;
mod refusal;
mod series;
mod setup;
mod trim;
mod units;
mod verdict;
#[cfg(not(target_arch = "avr"))]
mod watch;

use core::fmt::{self, Display, Write};

use zdatum::{Length, Speed, Temperature, Uncertainty};

use crate::{given, keep};

/// Every public function of the core, once or more.
pub fn all() {
    units::all();
    series::all();
    budget::all();
    refusal::all();
    setup::all();
    landing::all();
    verdict::all();
    trim::all();
    cycle::all();
    // On AVR all of it together is more than the largest part's 256 KiB of flash.
    #[cfg(not(target_arch = "avr"))]
    {
        plates::all();
        watch::all();
    }
}

/// Most touches per station; a firmware's choice.
const TOUCHES: usize = 9;

fn mm(text: &str) -> Length {
    Length::parse(given(text)).unwrap_or_default()
}

fn u(text: &str) -> Uncertainty {
    Uncertainty::parse(given(text)).unwrap_or_default()
}

fn speed(text: &str) -> Speed {
    Speed::parse(given(text)).unwrap_or_default()
}

fn degrees(text: &str) -> Temperature {
    Temperature::parse(given(text)).unwrap_or_default()
}

/// Writes a text through the library's formatting, to where a firmware would send its bytes.
fn show(value: &dyn Display) {
    struct Line(u8);

    impl Write for Line {
        fn write_str(&mut self, text: &str) -> fmt::Result {
            for byte in text.bytes() {
                self.0 ^= given(byte);
            }
            Ok(())
        }
    }

    let mut line = Line(0);
    keep(fmt::write(&mut line, format_args!("{}", given(value))));
    keep(line.0);
}
