//! Where the instructions go: the emulator tells every one, and the image's symbols say whose it is.

use std::collections::BTreeMap;
use std::path::Path;

use object::{Object, ObjectSymbol, SymbolKind};

use crate::symbols::readable;

/// Counts instructions between the marks `count_begins` and `count_ends`, job by job, function by function.
#[derive(Debug)]
pub struct Marks {
    begins: u64,
    ends: u64,
    /// Functions by address.
    functions: BTreeMap<u64, String>,
    /// What the job being run has had so far.
    running: Option<BTreeMap<u64, u64>>,
    done: Vec<BTreeMap<u64, u64>>,
}

impl Marks {
    /// Of an image, by its symbols.
    pub fn of(image: &Path) -> Result<Self, String> {
        let data = std::fs::read(image).map_err(|error| format!("{}: {error}", image.display()))?;
        let file = object::File::parse(&*data).map_err(|error| error.to_string())?;
        let mut functions = BTreeMap::new();
        let (mut begins, mut ends) = (None, None);
        for symbol in file.symbols().filter(|symbol| symbol.kind() == SymbolKind::Text) {
            // The lowest bit of an address tells Thumb code.
            let (name, address) = (symbol.name().unwrap_or_default(), symbol.address() & !1);
            match name {
                "count_begins" => begins = Some(address),
                "count_ends" => ends = Some(address),
                _ if name.starts_with('$') => continue,
                _ => {}
            }
            functions.insert(address, name.to_owned());
        }
        match (begins, ends) {
            (Some(begins), Some(ends)) => {
                Ok(Self { begins, ends, functions, running: None, done: Vec::new() })
            }
            _ => Err("the image has no marks".to_owned()),
        }
    }

    /// One line of the emulator's log: `Trace 0: HOST [FLAGS/ADDRESS/...] SYMBOL`, one for each instruction.
    pub fn told(&mut self, line: &str) {
        let address = line
            .strip_prefix("Trace ")
            .and_then(|rest| rest.split_once('['))
            .and_then(|(_, rest)| u64::from_str_radix(rest.split('/').nth(1)?, 16).ok());
        let Some(address) = address else { return };
        if address == self.begins {
            self.running = Some(BTreeMap::new());
        } else if address == self.ends {
            self.done.extend(self.running.take());
        } else if let Some(running) = &mut self.running {
            let function = self.functions.range(..=address).next_back().map_or(0, |(start, _)| *start);
            *running.entry(function).or_default() += 1;
        }
    }

    /// Instructions of each job, the calls around it included.
    pub fn counted(&self) -> Vec<u64> {
        self.done.iter().map(|job| job.values().sum()).collect()
    }

    /// Instructions of one job by function, the most first, the functions that it spends nothing in left out.
    pub fn of_job(&self, number: usize) -> Vec<(u64, String)> {
        let job = self.done.get(number).into_iter().flatten();
        let name = |start: &u64| self.functions.get(start).map_or_else(String::new, |name| readable(name));
        let mut all: Vec<(u64, String)> = job.map(|(start, count)| (*count, name(start))).collect();
        all.sort_by(|a, b| b.cmp(a));
        all
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn instructions_between_the_marks_are_counted_by_function() {
        let functions = [(0x10, "begin"), (0x20, "end"), (0x30, "a"), (0x40, "b")];
        let functions = functions.map(|(start, name)| (start, name.to_owned())).into();
        let mut marks = Marks { begins: 0x10, ends: 0x20, functions, running: None, done: Vec::new() };
        for address in [0x30, 0x10, 0x32, 0x44, 0x46, 0x20, 0x22, 0x10, 0x20] {
            marks.told(&format!("Trace 0: 0x7f00 [00800400/{address:08x}/00000110/ff021001] "));
        }
        marks.told("Timer with period zero, disabling");
        assert_eq!(marks.counted(), [3, 0]);
        assert_eq!(marks.of_job(0), [(2, "b".to_owned()), (1, "a".to_owned())]);
    }
}
