//! The emulated board and its line, with what can be wrong with a line.

use std::io::{Read, Write};
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::mpsc::{Receiver, RecvTimeoutError, channel};
use std::time::Duration;

use zdatum_boards_cases::numbers::Numbers;
use zdatum_loop_wire::{Frame, MOST, Reader, encode};

/// What is wrong with the line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Trouble {
    None,
    Garble,
    DropAndDouble,
    Cut,
    Restart,
}

pub(crate) struct Port {
    image: String,
    board: Child,
    to: ChildStdin,
    from: Receiver<Vec<u8>>,
    reader: Reader,
    waiting: std::collections::VecDeque<Frame>,
    trouble: Trouble,
    chance: Numbers,
    pub(crate) bytes: u64,
}

fn launch(image: &str) -> Result<(Child, ChildStdin, Receiver<Vec<u8>>), String> {
    let mut board = Command::new("qemu-system-arm")
        .args(["-machine", "lm3s6965evb", "-display", "none", "-monitor", "none", "-serial", "stdio"])
        .args(["-semihosting-config", "enable=on,target=native", "-kernel", image])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
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
        let (image, reader) = (image.into(), Reader::new());
        let chance = Numbers::of(0, 0x99);
        Ok(Self {
            image,
            board,
            to,
            from,
            reader,
            waiting: Default::default(),
            trouble: Trouble::None,
            chance,
            bytes: 0,
        })
    }

    pub(crate) fn trouble(&mut self, trouble: Trouble, run: u32) {
        (self.trouble, self.chance) = (trouble, Numbers::of(run, 0x99));
    }

    pub(crate) fn bad(&self) -> u32 {
        self.reader.bad
    }

    /// The board loses its power in the middle of whatever it does.
    pub(crate) fn restart(&mut self) -> Result<(), String> {
        let _ = self.board.kill();
        let _ = self.board.wait();
        (self.board, self.to, self.from) = launch(&self.image)?;
        self.reader = Reader::new();
        self.waiting.clear();
        Ok(())
    }

    pub(crate) fn say(&mut self, frame: &Frame) -> Result<(), String> {
        let mut bytes = [0; MOST];
        let used = encode(frame, &mut bytes).ok_or("a frame has no room")?;
        let mut copies = 1;
        if self.trouble == Trouble::DropAndDouble {
            copies = match self.chance.below(20) {
                0 => 0,
                1 | 2 => 2,
                _ => 1,
            };
        }
        self.garble(&mut bytes[..used]);
        self.bytes += used as u64;
        for _ in 0..copies {
            self.to
                .write_all(&bytes[..used])
                .and_then(|()| self.to.flush())
                .map_err(|_| "the board has gone")?;
        }
        Ok(())
    }

    /// The next frame; `None` where the line stays silent so long.
    pub(crate) fn hear(&mut self, within: Duration) -> Result<Option<Frame>, String> {
        if let Some(frame) = self.waiting.pop_front() {
            return Ok(Some(frame));
        }
        let mut bytes = match self.from.recv_timeout(within) {
            Ok(bytes) => bytes,
            Err(RecvTimeoutError::Timeout) => return Ok(None),
            Err(RecvTimeoutError::Disconnected) => return Err("the image has ended by itself".into()),
        };
        self.bytes += bytes.len() as u64;
        self.garble(&mut bytes);
        for byte in bytes {
            let Some(frame) = self.reader.take(byte) else { continue };
            let copies = match self.trouble {
                Trouble::DropAndDouble => match self.chance.below(20) {
                    0 => 0,
                    1 | 2 => 2,
                    _ => 1,
                },
                _ => 1,
            };
            for _ in 0..copies {
                self.waiting.push_back(frame.clone());
            }
        }
        Ok(self.waiting.pop_front())
    }

    /// A cut line: what was on its way is lost.
    pub(crate) fn lose(&mut self) {
        while self.from.try_recv().is_ok() {}
        self.waiting.clear();
    }

    fn garble(&mut self, bytes: &mut [u8]) {
        if self.trouble == Trouble::Garble {
            for byte in bytes {
                if self.chance.one_in(1_000) {
                    *byte ^= 1 + self.chance.below(255) as u8;
                }
            }
        }
    }
}

impl Drop for Port {
    fn drop(&mut self) {
        let _ = self.board.kill();
        let _ = self.board.wait();
    }
}
