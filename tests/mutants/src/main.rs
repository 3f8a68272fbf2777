//! Writes every mutant of a package's sources into these sources, each behind a switch, so that one build
//! serves for all:
//!
//! ```text
//! zdatum-mutants FIRST EXCLUDED LIST FILE…
//! ```
//!
//! FILEs are changed where they stand (a copy of the tree), numbers begin at FIRST; those of the file
//! EXCLUDED (one a line) are left out, as they do not compile; each mutant becomes a line of LIST: number,
//! file, line, column, function, what was done.

mod plant;
mod values;

use std::fs;
use std::process::ExitCode;

use plant::Planter;
use quote::ToTokens;
use syn::visit_mut::VisitMut;

/// What goes before a mutant's switch in the text, so that a compiler's message names the line of the one it
/// is about.
const MARK: &str = ":: mutant :: on";

fn run() -> Result<(), Box<dyn std::error::Error>> {
    let mut arguments = std::env::args().skip(1);
    let mut next = || arguments.next().ok_or("FIRST EXCLUDED LIST FILE…");
    let (first, excluded, list) = (next()?.parse()?, next()?, next()?);
    let excluded = fs::read_to_string(excluded)?.lines().map(str::parse).collect::<Result<_, _>>()?;
    let files = arguments
        .map(|path| Ok((fs::read_to_string(&path)?, path)))
        .collect::<Result<Vec<_>, std::io::Error>>()?;
    let parsed = files.iter().map(|(text, _)| syn::parse_file(text)).collect::<Result<Vec<_>, _>>()?;
    let mut planter = Planter::new(first, excluded, values::Known::of(&parsed));
    for ((_, path), mut file) in files.iter().zip(parsed) {
        planter.file = path.clone();
        planter.visit_file_mut(&mut file);
        let text = file.to_token_stream().to_string().replace(MARK, &format!("\n{MARK}"));
        fs::write(path, text)?;
    }
    fs::write(list, planter.list())?;
    Ok(())
}

fn main() -> ExitCode {
    match run() {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{error}");
            ExitCode::from(2)
        }
    }
}
