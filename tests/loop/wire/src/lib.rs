//! What firmware and simulated machine say to each other, and how it is framed. Who owns what:
//! `docs/boards.md`.
//!
//! A frame is `COBS(postcard(frame) ++ CRC-32) ++ 0`, at most 1,200 bytes long. COBS (Cheshire and Baker,
//! *Consistent Overhead Byte Stuffing*, IEEE/ACM Transactions on Networking 7(2), 1999) takes every zero out
//! of the bytes, so that a zero ends a frame and nothing else. `postcard` is a binary format for `serde` with
//! a [published specification](https://postcard.jamesmunns.com). The check is CRC-32/ISO-HDLC, that of IEEE
//! 802.3, its lowest byte first.
//!
//! Each frame has a `session` (given by the machine, counting up; 0 before there is one), a `seq` (number of
//! the request in its session, from 1; an answer carries its request's) and a body:
//!
//! - `Hello`, from the firmware: idle, and the version; its first frame, repeated.
//! - `Start`, from the machine: version; number of the invented machine; whether homed and level; the
//!   dead-man's time, ms; whether a session broke off; whether stop is pressed.
//! - `Ask`, from the firmware: a request of the cycle; repeated every 20 ms until answered.
//! - `Answer`, from the machine: what came of it; whether stop is pressed.
//! - `Outcome`, from the firmware: every bit of outcome and closed series; repeated until taken, for ten
//!   seconds.
//! - `Taken`, from the machine: the outcome is taken.
//!
//! Heights, speeds and temperatures travel as the bits of the fixed-point number; an answer with one out of
//! its range counts as *position*, which ends the cycle without a move. A frame whose check fails is dropped,
//! as if lost. A lost request is repeated; if its answer was lost, the machine repeats the answer that it
//! kept and carries out nothing twice. A request, start or answer with an old number or session is ignored.

#![cfg_attr(not(test), no_std)]

mod frame;
mod message;

pub use frame::{Bad, MOST, Reader, decode, encode};
pub use message::{Answer, Ask, Body, Frame, Words};

/// Of this protocol; in the first frame of both sides. Another version is not talked to.
pub const VERSION: u16 = 1;

/// An invented machine, which follows from its number alone: both sides make it for themselves.
pub fn draft(case: u32) -> zdatum::Draft {
    zdatum_boards_cases::machine::draft(&mut zdatum_boards_cases::numbers::Numbers::of(case, 0x10))
}

/// All words of an outcome and its closed series; `None` where there are more than a frame holds.
pub fn words(outcome: &zdatum::cycle::Outcome, touches: Option<&zdatum::Touches>) -> Option<Words> {
    struct All(Option<Words>);
    impl zdatum_boards_cases::Sink for All {
        fn put(&mut self, _: &'static str, word: u32) {
            self.0 = self.0.take().and_then(|mut words| words.push(word).ok().map(|()| words));
        }
    }
    let mut all = All(Some(Words::new()));
    zdatum_boards_cases::cycle::ended(outcome, touches, &mut all);
    all.0
}
