//! What an owner wants on top of a landing, for a plate or a filament: `[[wish]]` of the machine file.

use zdatum::Length;

use super::keys::{TomlSection, nearest};
use crate::text::Problem;
use crate::text::name::shown;

/// Furthest from the landing that anyone means, mm.
const MOST: Length = Length::from_mm(1);

/// One entry.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Wish {
    /// Where it is for one plate alone.
    pub plate: Option<String>,
    /// Where it is for one filament alone.
    pub filament: Option<String>,
    /// What comes on top of the landing; up is farther from the plate.
    pub offset: Length,
}

impl Wish {
    fn is_for(&self, plate: Option<&str>, filament: Option<&str>) -> bool {
        let fits =
            |own: &Option<String>, asked: Option<&str>| own.as_deref().is_none_or(|own| Some(own) == asked);
        fits(&self.plate, plate) && fits(&self.filament, filament)
    }

    fn names_both(&self) -> bool {
        self.plate.is_some() && self.filament.is_some()
    }
}

/// The wish for a plate and a filament: an entry that names both, where there is one; else all that fit add up.
pub fn wish_for(wishes: &[Wish], plate: Option<&str>, filament: Option<&str>) -> Length {
    let fitting = || wishes.iter().filter(|wish| wish.is_for(plate, filament));
    if let Some(own) = fitting().find(|wish| wish.names_both()) {
        return own.offset;
    }
    // At most 1 mm each, and no machine has thousands.
    fitting().fold(Length::ZERO, |sum, wish| sum.plus(wish.offset).unwrap_or(sum))
}

/// That a filament is named by some wish.
///
/// # Errors
/// It is not; with the nearest name.
pub fn known_filament(wishes: &[Wish], filament: &str) -> Result<(), Problem> {
    let names: Vec<&str> = wishes.iter().filter_map(|wish| wish.filament.as_deref()).collect();
    if names.contains(&filament) {
        return Ok(());
    }
    let problem = Problem::new(format!("--filament {}: no [[wish]] names this filament", shown(filament)));
    Err(match nearest(filament, &names) {
        Some(near) => problem.remedy(format!("did you mean `{}`?", shown(near))),
        None => problem.remedy("add a [[wish]] with this filament and its offset to the machine file"),
    })
}

/// Reads `[[wish]]`.
pub(super) fn wishes(root: &TomlSection<'_>) -> Result<Vec<Wish>, Problem> {
    let read = |section: &TomlSection<'_>| {
        let name = |key| {
            if section.has(key) { section.text(key).map(|text| Some(text.to_owned())) } else { Ok(None) }
        };
        let offset: Length = section.number("offset")?;
        if offset > MOST || offset < Length::ZERO.minus(MOST).unwrap_or_default() {
            return Err(section.wrong_value("offset", "must be from -1 to 1 mm", "seen here"));
        }
        Ok(Wish { plate: name("plate")?, filament: name("filament")?, offset })
    };
    root.sections("wish", &["plate", "filament", "offset"])?.iter().map(read).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_entry_for_both_wins_and_others_add_up() {
        let mm = |text| Length::parse(text).expect("a length");
        let wish = |plate: Option<&str>, filament: Option<&str>, offset| Wish {
            plate: plate.map(Into::into),
            filament: filament.map(Into::into),
            offset: mm(offset),
        };
        let all = [
            wish(Some("linen"), None, "-0.02"),
            wish(None, Some("soft"), "0.03"),
            wish(Some("slate"), Some("soft"), "0.05"),
        ];
        let of = |plate, filament| wish_for(&all, plate, filament);
        assert_eq!(of(None, None), Length::ZERO);
        assert_eq!(of(Some("linen"), None), mm("-0.02"));
        assert_eq!(of(Some("linen"), Some("soft")), mm("0.03").plus(mm("-0.02")).expect("held"));
        assert_eq!(of(Some("slate"), Some("soft")), mm("0.05"));
        assert_eq!(of(Some("slate"), None), Length::ZERO);
        assert_eq!(of(None, Some("soft")), mm("0.03"));
        assert!(known_filament(&all, "soft").is_ok());
        let error = known_filament(&all, "sott").expect_err("unknown");
        assert!(format!("{error:?}").contains("soft"), "{error:?}");
    }
}
