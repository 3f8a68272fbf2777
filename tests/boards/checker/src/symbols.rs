//! What a linked image or a library holds.

use std::error::Error;
use std::path::Path;

use object::read::archive::ArchiveFile;
use object::{Object, ObjectSection, ObjectSymbol, SectionKind, SymbolKind};

use crate::families::{Finding, of_symbol};

/// Contents of an image.
pub struct Contents {
    /// Named symbols, those of the sections and of the assembler not counted.
    pub symbols: usize,
    /// Bytes of code.
    pub text: u64,
    pub findings: Vec<Finding>,
}

/// Reads a linked image.
pub fn image(path: &Path) -> Result<Contents, Box<dyn Error>> {
    let data = std::fs::read(path)?;
    let file = object::File::parse(&*data)?;
    let mut contents = Contents { symbols: 0, text: code(&file), findings: Vec::new() };
    for symbol in file.symbols() {
        let name = symbol.name()?;
        // `$t`, `$d` and the like mark code and data for disassemblers.
        if name.is_empty()
            || name.starts_with('$')
            || matches!(symbol.kind(), SymbolKind::File | SymbolKind::Section)
        {
            continue;
        }
        contents.symbols += 1;
        contents.findings.extend(of_symbol(name));
    }
    if contents.symbols == 0 {
        return Err("it holds no symbols, so nothing can be read from it; has it been stripped?".into());
    }
    contents.findings.sort();
    contents.findings.dedup();
    Ok(contents)
}

/// Bytes of code in a library's objects.
pub fn library(path: &Path) -> Result<u64, Box<dyn Error>> {
    let data = std::fs::read(path)?;
    let archive = ArchiveFile::parse(&*data)?;
    let mut text = 0;
    for member in archive.members() {
        let member = member?;
        // The compiler's metadata lies beside the objects.
        if let Ok(file) = object::File::parse(member.data(&*data)?) {
            text += code(&file);
        }
    }
    Ok(text)
}

/// A symbol as people read it.
pub fn readable(symbol: &str) -> String {
    format!("{:#}", rustc_demangle::demangle(symbol))
}

fn code(file: &object::File) -> u64 {
    file.sections().filter(|section| section.kind() == SectionKind::Text).map(|section| section.size()).sum()
}
