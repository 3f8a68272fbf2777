//! What a linked image or a library holds.

use std::error::Error;
use std::path::Path;

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
    let mut contents = match crate::wasm::read(&data) {
        Some(module) => Contents {
            symbols: module.functions.len(),
            text: module.code,
            findings: module.functions.iter().filter_map(|name| of_symbol(name)).collect(),
        },
        None => elf_image(&object::File::parse(&*data)?)?,
    };
    if contents.symbols == 0 {
        return Err("it holds no symbols, so nothing can be read from it; has it been stripped?".into());
    }
    contents.findings.sort();
    contents.findings.dedup();
    Ok(contents)
}

fn elf_image(file: &object::File) -> Result<Contents, Box<dyn Error>> {
    let mut contents = Contents { symbols: 0, text: code(file), findings: Vec::new() };
    for symbol in file.symbols() {
        let name = symbol.name()?;
        // `$t`, `$d` and the like mark code and data for disassemblers; `.L` starts what was local to one
        // object.
        if name.is_empty()
            || name.starts_with(['$', '.'])
            || matches!(symbol.kind(), SymbolKind::File | SymbolKind::Section)
        {
            continue;
        }
        contents.symbols += 1;
        contents.findings.extend(of_symbol(name));
    }
    Ok(contents)
}

/// What an image takes of flash: code, constants, and what the statics start from.
pub fn flash(path: &Path) -> Result<u64, Box<dyn Error>> {
    let data = std::fs::read(path)?;
    if let Some(module) = crate::wasm::read(&data) {
        return Ok(module.code + module.data);
    }
    let file = object::File::parse(&*data)?;
    let kept = file.sections().filter(|section| {
        matches!(
            section.kind(),
            SectionKind::Text
                | SectionKind::Data
                | SectionKind::ReadOnlyData
                | SectionKind::ReadOnlyDataWithRel
                | SectionKind::ReadOnlyString
        )
    });
    Ok(kept.map(|section| section.size()).sum())
}

/// A symbol as people read it.
pub fn readable(symbol: &str) -> String {
    format!("{:#}", rustc_demangle::demangle(symbol))
}

fn code(file: &object::File) -> u64 {
    file.sections().filter(|section| section.kind() == SectionKind::Text).map(|section| section.size()).sum()
}
