//! Which plate a span fits.

use serde::ser::{SerializeMap as _, Serializer};
use zdatum::Length;
use zdatum::plates::{Named, Recognised};
use zdatum::watch::Reading;

use super::replay::Book;
use crate::text::json::{Number, number};
use crate::text::name::shown;
use crate::text::number::{signed, size};

/// What the span of a cycle says of its plate.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Fit {
    /// It fits the plate that was named, or that is new.
    Fits,
    /// It does not fit the plate that was named.
    Misfit {
        /// The span less the plate's last accepted one.
        change: Length,
        /// What it says among the others.
        likelier: Guess,
    },
    /// No plate was named.
    Unnamed(Guess),
}

/// Which plate a span fits.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Guess {
    /// This one, and no other.
    Plate(String),
    /// Two or more, so nothing is guessed.
    TooNear(NearPlates),
    /// None; the nearest, and by how much the span is above it.
    Unknown(Option<(String, Length)>),
}

/// Two plates that a reading could mistake for each other.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct NearPlates {
    /// Their names.
    pub plates: [String; 2],
    /// How far their spans stand apart.
    #[serde(serialize_with = "number")]
    pub apart: Length,
    /// From how far apart on no reading would fit both.
    #[serde(serialize_with = "number")]
    pub needed: Length,
}

impl Guess {
    fn of(recognised: Recognised<'_, String>) -> Self {
        match recognised {
            Recognised::Plate(plate) => Guess::Plate(plate.name().clone()),
            Recognised::TooNear { nearest, other, apart, needed } => {
                let plates = [nearest.name().clone(), other.name().clone()];
                Guess::TooNear(NearPlates { plates, apart, needed })
            }
            Recognised::Unknown { nearest } => {
                Guess::Unknown(nearest.map(|(plate, above)| (plate.name().clone(), above)))
            }
        }
    }

    /// What it comes to, in words.
    pub fn text(&self) -> String {
        match self {
            Guess::Plate(plate) => format!("its span is that of {}", shown(plate)),
            Guess::TooNear(NearPlates { plates: [one, other], apart, needed }) => format!(
                "its span fits {} and {}, which are {} mm apart: no guess below {} mm",
                shown(one),
                shown(other),
                size(*apart),
                size(*needed)
            ),
            Guess::Unknown(Some((plate, above))) => {
                let way = if *above < Length::ZERO { "below" } else { "above" };
                format!("it fits no plate; the nearest is {}, {} mm {way} it", shown(plate), size(*above))
            }
            Guess::Unknown(None) => "no plate is known yet".into(),
        }
    }
}

impl serde::Serialize for Guess {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("plate", &if let Guess::Plate(plate) = self { Some(plate) } else { None })?;
        match self {
            Guess::TooNear(near) => map.serialize_entry("too_near", near)?,
            Guess::Unknown(Some((nearest, above))) => {
                map.serialize_entry("nearest", nearest)?;
                map.serialize_entry("above", &Number::from(*above))?;
            }
            Guess::Plate(_) | Guess::Unknown(None) => {}
        }
        map.end()
    }
}

/// What a span says of its plate; `None` where it cannot be held.
pub fn fit(book: &Book, plate: Option<&String>, span: Reading) -> Option<Fit> {
    match plate {
        Some(plate) => match book.named(plate, span.value, span.variance).ok()? {
            None | Some(Named::Fits { .. }) => Some(Fit::Fits),
            Some(Named::DoesNotFit { change, likelier, .. }) => {
                Some(Fit::Misfit { change, likelier: Guess::of(likelier) })
            }
        },
        None => Some(Fit::Unnamed(Guess::of(book.recognise(span.value, span.variance).ok()?))),
    }
}

/// What a misfit comes to, in words.
pub fn misfit(plate: &str, change: Length, likelier: &Guess) -> String {
    let plate = shown(plate);
    let start = format!("named {plate}, but its span is {} mm from its last accepted one", signed(change));
    match likelier {
        Guess::Unknown(_) if change > Length::ZERO => {
            format!("{start} and fits no other plate; look for debris under it")
        }
        Guess::Unknown(_) => format!("{start} and fits no other plate"),
        Guess::Plate(other) => format!("{start}. More likely it is {}", shown(other)),
        Guess::TooNear(NearPlates { plates: [one, other], .. }) => {
            format!("{start}. More likely it is {} or {}", shown(one), shown(other))
        }
    }
}
