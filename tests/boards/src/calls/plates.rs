use zdatum::plates::{Name, PlateBook, SEATING};
use zdatum::{Length, Step, Variance};

use super::{mm, show};
use crate::{given, keep};

type Book = PlateBook<Name, 4>;

fn name(text: &str) -> Option<Name> {
    Name::new(given(text))
}

fn reading(span: &str) -> (Length, Variance) {
    (mm(span), Variance::from_bits(given(1 << 40)))
}

pub(super) fn all() {
    let (Some(slate), Some(linen), Some(copper)) = (name("slate"), name("linen"), name("copper")) else {
        return;
    };
    keep(given(&slate).as_str());
    show(&slate);
    let mut book = Book::new(given(SEATING));
    for (name, span) in given([(&slate, "0.706"), (&linen, "0.888"), (&slate, "0.708"), (&copper, "0.35")]) {
        let (span, variance) = reading(span);
        if let Err(error) = given(&mut book).record(name.clone(), given(span), given(variance), given(7)) {
            show(&error);
        }
    }
    let (span, variance) = reading("0.71");
    keep((given(&book).len(), given(&book).is_empty(), given(&book).is_full()));
    keep(given(&book).oldest().is_some());
    keep(given(&book).scatter());
    keep(given(&book).recognise(given(span), given(variance)).is_ok());
    keep(given(&book).named(given(&linen), given(span), given(variance)).is_ok());
    keep(given(&book).apart(given(&slate), given(&linen), given(variance)));
    if let Ok(step) = Step::new(given(1600), given(3)) {
        keep(given(&book).last_span(given(&slate), given(step)));
    }
    let mut again = Book::new(given(SEATING));
    for plate in given(&book).plates() {
        let plate = given(plate);
        keep((plate.span(), plate.u(), plate.spread()));
        keep((plate.count(), plate.last(), plate.last_seen()));
        keep(given(&mut again).restore(plate.name().clone(), &given(plate).saved()));
    }
    keep(given(&again).get(given(&slate)).is_some());
    let Some(new) = name("felt") else { return };
    keep(given(&mut book).rename(given(&slate), new.clone()));
    keep(given(&mut book).replace(given(&linen), slate, given(span), given(variance), given(9)));
    keep(given(&mut book).remove(given(&new)));
}
