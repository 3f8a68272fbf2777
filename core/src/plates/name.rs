//! A plate's name.

/// A name of 1 to 24 bytes of UTF-8 without control characters.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Name(heapless::Vec<u8, { Name::MOST_BYTES }>);

impl Name {
    /// Most bytes that a name can have; letters beyond plain Latin take two or more.
    pub const MOST_BYTES: usize = 24;

    /// The name; `None` for an empty or too long one, or one with control characters.
    pub fn new(text: &str) -> Option<Self> {
        if text.is_empty() || text.chars().any(char::is_control) {
            return None;
        }
        let mut bytes = heapless::Vec::new();
        for byte in text.bytes() {
            bytes.push(byte).ok()?;
        }
        Some(Self(bytes))
    }

    /// The name as text.
    pub fn as_str(&self) -> &str {
        // Only whole texts are ever pushed.
        core::str::from_utf8(&self.0).unwrap_or("")
    }
}

impl core::fmt::Display for Name {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(self.as_str())
    }
}
