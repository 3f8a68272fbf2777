//! What firmware and simulated machine say to each other, and how it is framed: see `docs/boards.md`.

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
