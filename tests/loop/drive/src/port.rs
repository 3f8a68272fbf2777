//! The emulated board and its line, with what can be wrong with a line.

use std::collections::VecDeque;
use std::io::{Read, Write};
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::time::{Duration, Instant};

use zdatum_boards_cases::numbers::Numbers;
use zdatum_loop_wire::{Frame, MOST, Reader, encode};

/// What is wrong with the line all the time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Noise {
    None,
    /// One byte in a thousand is another one.
    Garble,
    /// Of twenty frames one is lost, one cut short, two come twice.
    Lose,
}

/// A cut line, until it is mended.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Cut {
    pub(crate) until: Instant,
    pub(crate) to_board: bool,
    pub(crate) from_board: bool,
}

pub(crate) struct Port {
    image: String,
    board: Child,
    to: ChildStdin,
    from: Receiver<Vec<u8>>,
    /// Of a frame that has not ended yet.
    begun: Vec<u8>,
    reader: Reader,
    waiting: VecDeque<Frame>,
    noise: Noise,
    chance: Numbers,
    pub(crate) cut: Option<Cut>,
    pub(crate) bytes: u64,
}

fn launch(image: &str) -> Result<(Child, ChildStdin, Receiver<Vec<u8>>), String> {
    let mut board = Command::new("qemu-system-arm")
        .args(["-machine", "lm3s6965evb", "-display", "none", "-monitor", "none", "-serial", "stdio"])
        .args(["-semihosting-config", "enable=on,target=native", "-kernel", image])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .map_err(|fault| format!("qemu-system-arm does not start: {fault}"))?;
    let (Some(to), Some(mut out)) = (board.stdin.take(), board.stdout.take()) else {
        return Err("no pipes".into());
    };
    let (sender, from) = channel();
    std::thread::spawn(move || {
        let mut bytes = [0; 4096];
        while let Ok(used @ 1..) = out.read(&mut bytes) {
            if sender.send(bytes[..used].to_vec()).is_err() {
                break;
            }
        }
    });
    Ok((board, to, from))
}

impl Port {
    pub(crate) fn open(image: &str) -> Result<Self, String> {
        let (board, to, from) = launch(image)?;
        Ok(Self {
            image: image.into(),
            board,
            to,
            from,
            begun: Vec::new(),
            reader: Reader::new(),
            waiting: VecDeque::new(),
            noise: Noise::None,
            chance: Numbers::of(0, 0),
            cut: None,
            bytes: 0,
        })
    }

    /// A whole line again, with this noise.
    pub(crate) fn mended(&mut self, noise: Noise, run: u32) {
        (self.noise, self.chance, self.cut) = (noise, Numbers::of(run, 0x99), None);
    }

    /// Frames that were begun and not taken.
    pub(crate) fn bad(&self) -> u32 {
        self.reader.bad
    }

    /// The board loses its power in the middle of whatever it does.
    pub(crate) fn restart(&mut self) -> Result<(), String> {
        let _ = self.board.kill();
        let _ = self.board.wait();
        (self.board, self.to, self.from) = launch(&self.image)?;
        self.begun.clear();
        self.waiting.clear();
        Ok(())
    }

    pub(crate) fn say(&mut self, frame: &Frame) -> Result<(), String> {
        let mut bytes = [0; MOST];
        let used = encode(frame, &mut bytes).ok_or("a frame has no room")?;
        if self.cut_now().is_some_and(|cut| cut.to_board) {
            return Ok(());
        }
        let bytes = self.disturbed(bytes[..used].to_vec());
        self.bytes += bytes.len() as u64;
        if self.to.write_all(&bytes).and_then(|()| self.to.flush()).is_err() {
            return Err(self.gone());
        }
        Ok(())
    }

    /// The next frame; `None` where the line stays silent so long.
    pub(crate) fn hear(&mut self, within: Duration) -> Result<Option<Frame>, String> {
        if let Some(frame) = self.waiting.pop_front() {
            return Ok(Some(frame));
        }
        let bytes = match self.from.recv_timeout(within) {
            Ok(bytes) => bytes,
            Err(RecvTimeoutError::Timeout) => return Ok(None),
            Err(RecvTimeoutError::Disconnected) => return Err(self.gone()),
        };
        if self.cut_now().is_some_and(|cut| cut.from_board) {
            self.begun.clear();
            return Ok(None);
        }
        for byte in bytes {
            self.begun.push(byte);
            if byte != 0 {
                continue;
            }
            let whole = std::mem::take(&mut self.begun);
            let seen = self.disturbed(whole);
            self.bytes += seen.len() as u64;
            for byte in seen {
                if let Some(frame) = self.reader.take(byte) {
                    self.waiting.push_back(frame);
                }
            }
        }
        Ok(self.waiting.pop_front())
    }

    fn cut_now(&self) -> Option<Cut> {
        self.cut.filter(|cut| Instant::now() < cut.until)
    }

    /// What the line makes of a frame.
    fn disturbed(&mut self, mut bytes: Vec<u8>) -> Vec<u8> {
        match self.noise {
            Noise::None => {}
            Noise::Garble => {
                for byte in &mut bytes {
                    if self.chance.one_in(1_000) {
                        *byte ^= 1 + self.chance.below(255) as u8;
                    }
                }
            }
            Noise::Lose => match self.chance.below(20) {
                0 => bytes.clear(),
                1 => bytes.truncate(self.chance.below(bytes.len() as u32) as usize),
                2 | 3 => bytes.extend_from_within(..),
                _ => {}
            },
        }
        bytes
    }

    /// Why the board has gone.
    fn gone(&mut self) -> String {
        let _ = self.board.kill();
        let mut said = String::new();
        if let Some(mut errors) = self.board.stderr.take() {
            let _ = errors.read_to_string(&mut said);
        }
        format!("the image has ended by itself; the emulator said: {}", said.trim())
    }
}

impl Drop for Port {
    fn drop(&mut self) {
        let _ = self.board.kill();
        let _ = self.board.wait();
    }
}
