//! Which plate a span fits.

use serde::ser::{SerializeMap as _, Serializer};
use zdatum::Length;
use zdatum::plates::{Named, Recognised};
use zdatum::watch::Reading;

use super::replay::SpanBook;
use crate::text::json::{Number, number};
use crate::text::name::shown;
use crate::text::number::{signed, size};

/// What the span of a cycle says of its plate.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PlateFit {
    /// It fits the plate that was named, or that is new.
    Fits,
    /// It does not fit the plate that was named.
    Misfit {
        /// The span less the plate's last accepted one.
        change: Length,
        /// What it says among the others.
        likelier: PlateGuess,
    },
    /// No plate was named.
    Unnamed(PlateGuess),
}

/// Which plate a span fits.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PlateGuess {
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

impl PlateGuess {
    fn of(recognised: Recognised<'_, String>) -> Self {
        match recognised {
            Recognised::Plate(plate) => PlateGuess::Plate(plate.name().clone()),
            Recognised::TooNear { nearest, other, apart, needed } => {
                let plates = [nearest.name().clone(), other.name().clone()];
                PlateGuess::TooNear(NearPlates { plates, apart, needed })
            }
            Recognised::Unknown { nearest } => {
                PlateGuess::Unknown(nearest.map(|(plate, above)| (plate.name().clone(), above)))
            }
        }
    }

    /// What it comes to, in words.
    pub fn text(&self) -> String {
        match self {
            PlateGuess::Plate(plate) => format!("its span is that of {}", shown(plate)),
            PlateGuess::TooNear(NearPlates { plates: [one, other], apart, needed }) => format!(
                "its span fits {} and {}, which are {} mm apart: no guess below {} mm",
                shown(one),
                shown(other),
                size(*apart),
                size(*needed)
            ),
            PlateGuess::Unknown(Some((plate, above))) => {
                let way = if *above < Length::ZERO { "below" } else { "above" };
                format!("it fits no plate; the nearest is {}, {} mm {way} it", shown(plate), size(*above))
            }
            PlateGuess::Unknown(None) => "no plate is known yet".into(),
        }
    }
}

impl serde::Serialize for PlateGuess {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("plate", &if let PlateGuess::Plate(plate) = self { Some(plate) } else { None })?;
        match self {
            PlateGuess::TooNear(near) => map.serialize_entry("too_near", near)?,
            PlateGuess::Unknown(Some((nearest, above))) => {
                map.serialize_entry("nearest", nearest)?;
                map.serialize_entry("above", &Number::from(*above))?;
            }
            PlateGuess::Plate(_) | PlateGuess::Unknown(None) => {}
        }
        map.end()
    }
}

/// What a span says of its plate; `None` where it cannot be held.
pub fn fit(book: &SpanBook, plate: Option<&String>, span: Reading) -> Option<PlateFit> {
    match plate {
        Some(plate) => match book.named(plate, span.value, span.variance).ok()? {
            None | Some(Named::Fits { .. }) => Some(PlateFit::Fits),
            Some(Named::DoesNotFit { change, likelier, .. }) => {
                Some(PlateFit::Misfit { change, likelier: PlateGuess::of(likelier) })
            }
        },
        None => Some(PlateFit::Unnamed(PlateGuess::of(book.recognise(span.value, span.variance).ok()?))),
    }
}

/// What a misfit comes to, in words.
pub fn misfit(plate: &str, change: Length, likelier: &PlateGuess) -> String {
    let plate = shown(plate);
    let start = format!("named {plate}, but its span is {} mm from its last accepted one", signed(change));
    match likelier {
        PlateGuess::Unknown(_) if change > Length::ZERO => {
            format!("{start} and fits no other plate; look for debris under it")
        }
        PlateGuess::Unknown(_) => format!("{start} and fits no other plate"),
        PlateGuess::Plate(other) => format!("{start}. More likely it is {}", shown(other)),
        PlateGuess::TooNear(NearPlates { plates: [one, other], .. }) => {
            format!("{start}. More likely it is {} or {}", shown(one), shown(other))
        }
    }
}
