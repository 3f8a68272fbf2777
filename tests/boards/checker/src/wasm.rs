//! A WebAssembly module's sections and function names ("WebAssembly Core Specification", 5.5 and 7.4.1).

/// What a module holds.
#[derive(Debug, Default, PartialEq, Eq)]
pub struct Module {
    /// Names of functions, from the name section.
    pub functions: Vec<String>,
    /// Bytes of the code section.
    pub code: u64,
    /// Bytes of the data section.
    pub data: u64,
}

/// Reads a module; `None` where it is none.
pub fn read(bytes: &[u8]) -> Option<Module> {
    let mut rest = Bytes(bytes.strip_prefix(b"\0asm\x01\0\0\0")?);
    let mut module = Module::default();
    while !rest.0.is_empty() {
        let id = rest.byte()?;
        let size = rest.number()?;
        let content = rest.take(size)?;
        match id {
            0 => {
                let mut content = Bytes(content);
                if content.text()? == "name" {
                    module.functions = names(content)?;
                }
            }
            10 => module.code = content.len() as u64,
            11 => module.data = content.len() as u64,
            _ => {}
        }
    }
    Some(module)
}

/// Subsection 1 of the name section: a list of indices with names.
fn names(mut section: Bytes<'_>) -> Option<Vec<String>> {
    let mut names = Vec::new();
    while !section.0.is_empty() {
        let id = section.byte()?;
        let size = section.number()?;
        let mut content = Bytes(section.take(size)?);
        if id == 1 {
            for _ in 0..content.number()? {
                content.number()?;
                names.push(content.text()?.to_owned());
            }
        }
    }
    Some(names)
}

struct Bytes<'a>(&'a [u8]);

impl<'a> Bytes<'a> {
    fn byte(&mut self) -> Option<u8> {
        let (first, rest) = self.0.split_first()?;
        self.0 = rest;
        Some(*first)
    }

    /// LEB128, unsigned.
    fn number(&mut self) -> Option<usize> {
        let (mut value, mut shift) = (0_usize, 0);
        loop {
            let byte = self.byte()?;
            value |= usize::from(byte & 0x7F).checked_shl(shift)?;
            if byte < 0x80 {
                return Some(value);
            }
            shift += 7;
        }
    }

    fn take(&mut self, count: usize) -> Option<&'a [u8]> {
        let (taken, rest) = self.0.split_at_checked(count)?;
        self.0 = rest;
        Some(taken)
    }

    fn text(&mut self) -> Option<&'a str> {
        let size = self.number()?;
        std::str::from_utf8(self.take(size)?).ok()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sections_and_names_are_read() {
        let mut module = b"\0asm\x01\0\0\0".to_vec();
        module.extend([10, 3, 1, 2, 3]);
        module.extend([11, 1, 0]);
        // "name": subsection 0 skipped, then one function, index 200, "add".
        module.extend(b"\0\x12\x04name\0\x02\x01m\x01\x07\x01\xC8\x01\x03add");
        let expected = Module { functions: vec!["add".to_owned()], code: 3, data: 1 };
        assert_eq!(read(&module), Some(expected));
        assert_eq!(read(b"\x7FELF"), None);
        assert_eq!(read(&module[..module.len() - 1]), None);
    }
}
