//! Bars made of characters.

/// Eighths of a block, from none to all but one.
const EIGHTHS: [&str; 8] = ["", "▏", "▎", "▍", "▌", "▋", "▊", "▉"];

/// A bar of `part` out of `whole`, at most so many columns wide; what is above zero never vanishes.
pub fn bar(part: u32, whole: u32, columns: u32) -> String {
    if part == 0 || whole == 0 {
        return String::new();
    }
    let scaled = u64::from(part.min(whole)) * u64::from(columns) * 8;
    let eighths = (scaled / u64::from(whole)).max(1);
    let full = "█".repeat((eighths / 8) as usize);
    format!("{full}{}", EIGHTHS.get((eighths % 8) as usize).unwrap_or(&""))
}

#[cfg(test)]
mod tests {
    use super::bar;

    #[test]
    fn bars_are_to_scale() {
        assert_eq!(bar(1, 1, 4), "████");
        assert_eq!(bar(1, 2, 3), "█▌");
        assert_eq!(bar(1, 1_000_000, 4), "▏");
        assert_eq!(bar(0, 1, 4), "");
        assert_eq!(bar(9, 3, 2), "██");
        assert_eq!(bar(1, 0, 2), "");
    }
}
