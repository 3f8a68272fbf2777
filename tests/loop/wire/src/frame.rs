//! One frame: COBS(postcard(frame) ++ CRC-32, lower byte first) ++ 0.

use crate::Frame;

/// Longest frame, its closing zero included.
pub const MOST: usize = 1_200;

/// CRC-32 as in ISO-HDLC (IEEE 802.3).
const CHECK: crc::Crc<u32, crc::NoTable> = crc::Crc::<u32, crc::NoTable>::new(&crc::CRC_32_ISO_HDLC);

/// Bytes that are no frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bad {
    /// Not COBS, or shorter than a CRC.
    Framing,
    /// The CRC is another.
    Check,
    /// The CRC fits and the content does not: another version's.
    Content,
}

/// Writes a frame; `None` where it has no room.
pub fn encode(frame: &Frame, to: &mut [u8; MOST]) -> Option<usize> {
    let mut plain = [0; MOST - 16];
    let used = postcard::to_slice(frame, plain.get_mut(..MOST - 20)?).ok()?.len();
    let check = CHECK.checksum(plain.get(..used)?).to_le_bytes();
    plain.get_mut(used..used + 4)?.copy_from_slice(&check);
    let used = cobs::encode(plain.get(..used + 4)?, to);
    *to.get_mut(used)? = 0;
    Some(used + 1)
}

/// Reads what stood before a zero; works in place.
///
/// # Errors
/// Whatever is not a whole frame of this protocol.
pub fn decode(bytes: &mut [u8]) -> Result<Frame, Bad> {
    let used = cobs::decode_in_place(bytes).map_err(|_| Bad::Framing)?;
    let (body, check) = bytes.get(..used).and_then(|all| all.split_last_chunk::<4>()).ok_or(Bad::Framing)?;
    if !cfg!(feature = "broken-crc") && CHECK.checksum(body).to_le_bytes() != *check {
        return Err(Bad::Check);
    }
    match postcard::take_from_bytes::<Frame>(body) {
        Ok((frame, [])) => Ok(frame),
        _ => Err(Bad::Content),
    }
}

/// Gathers bytes into frames. What is longer than any frame is dropped up to the next zero.
#[derive(Debug)]
pub struct Reader {
    held: [u8; MOST],
    used: usize,
    /// Frames that were not taken.
    pub bad: u32,
}

impl Default for Reader {
    fn default() -> Self {
        Self::new()
    }
}

impl Reader {
    /// Nothing held.
    pub const fn new() -> Self {
        Self { held: [0; MOST], used: 0, bad: 0 }
    }

    /// Takes a byte; a frame where it was the last of one.
    pub fn take(&mut self, byte: u8) -> Option<Frame> {
        if byte != 0 {
            if let Some(place) = self.held.get_mut(self.used) {
                *place = byte;
            }
            self.used = self.used.saturating_add(1);
            return None;
        }
        let used = core::mem::take(&mut self.used);
        if used == 0 {
            return None;
        }
        let frame = self.held.get_mut(..used).and_then(|held| decode(held).ok());
        if frame.is_none() {
            self.bad = self.bad.saturating_add(1);
        }
        frame
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Answer, Body};

    #[test]
    fn every_single_changed_byte_and_every_cut_is_seen() {
        let frame =
            Frame { session: 7, seq: 9, body: Body::Answer { answer: Answer::FloorReached, stop: true } };
        let mut whole = [0; MOST];
        let used = encode(&frame, &mut whole).expect("room");
        for at in 0..used - 1 {
            for by in 1..=255 {
                let mut bytes = whole;
                bytes[at] ^= by;
                assert!(decode(&mut bytes[..used - 1]).is_err(), "byte {at} by {by}");
            }
            let mut bytes = whole;
            assert!(decode(&mut bytes[..at]).is_err(), "cut at {at}");
        }
        assert_eq!(decode(&mut whole[..used - 1]), Ok(frame));
    }

    #[test]
    fn no_bytes_panic_the_reader() {
        let mut state = 0x9E37_79B9_7F4A_7C15_u64;
        let mut reader = Reader::new();
        for _ in 0..3_000_000 {
            state ^= state << 13;
            state ^= state >> 7;
            state ^= state << 17;
            // Short frames and very long ones.
            let byte = if state >> 32 & 0xFFF < (state >> 60) { 0 } else { (state >> 8) as u8 };
            assert_eq!(reader.take(byte), None, "noise taken for a frame");
        }
        assert!(reader.bad > 1_000);
    }
}
