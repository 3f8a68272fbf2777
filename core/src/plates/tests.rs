use super::*;

fn mm(text: &str) -> Length {
    Length::parse(text).expect("a length")
}

fn u2(text: &str) -> Variance {
    Uncertainty::parse(text).and_then(|u| u.variance().map_err(Into::into)).expect("an uncertainty")
}

fn book(spans: &[(u8, &str)]) -> PlateBook<u8, 3> {
    let mut book = PlateBook::new(SEATING);
    for (seen, (name, span)) in (1..).zip(spans) {
        book.record(*name, mm(span), u2("0.001"), seen).expect("room");
    }
    book
}

fn name_of(recognised: &Recognised<'_, u8>) -> Option<u8> {
    match recognised {
        Recognised::Plate(plate) => Some(*plate.name()),
        _ => None,
    }
}

#[test]
fn names_are_whole_and_plain() {
    for bad in ["", "a\nb", "\u{7f}", "a plate with a long name", "ééééééééééééé"] {
        assert_eq!(Name::new(bad).is_some(), bad.len() == Name::MOST_BYTES, "{bad}");
    }
    let name = Name::new("ééé é").expect("a name");
    assert_eq!((name.as_str(), name == Name::new("x").expect("a name")), ("ééé é", false));
}

#[test]
fn a_plate_knows_its_mean_spread_and_last() {
    let book = book(&[(1, "0.5"), (2, "0.9"), (1, "0.503"), (1, "0.506")]);
    let plate = book.get(&1).expect("known");
    assert!(plate.span().expect("held").to_bits().abs_diff(mm("0.503").to_bits()) <= 1);
    assert_eq!((plate.count(), plate.last_seen(), plate.last().span), (3, 4, mm("0.506")));
    // s = 3 µm, u = 3/√3 µm; for the single reading its own u.
    let near = |seen: Uncertainty, right: &str| {
        let right = Uncertainty::parse(right).expect("an uncertainty");
        assert!(seen.to_bits().abs_diff(right.to_bits()) < 600, "{seen} against {right}");
    };
    near(plate.spread().expect("held").expect("three"), "0.003");
    near(plate.u().expect("held"), "0.001732");
    let other = book.get(&2).expect("known");
    assert_eq!(other.spread(), Ok(None));
    near(other.u().expect("held"), "0.001");
    // Two readings, 3 µm apart: s = 2.12 µm, above their own 1 µm. Of 1 µm apart: theirs counts.
    let step = Step::new(800, 1).expect("a step");
    assert_eq!(book.last_span(&1, step), Ok(Some(LastSpan::new(mm("0.506"), u2("0.001")))));
    assert_eq!(book.last_span(&3, step), Ok(None));
    assert_eq!((book.len(), book.is_empty(), book.is_full()), (2, false, false));
    assert_eq!(book.oldest().map(|plate| *plate.name()), Some(2));
}

#[test]
fn the_seating_is_a_guess_that_history_replaces() {
    // Nothing but the guess: 10 µm, four degrees of freedom.
    let (s, dof) = book(&[(1, "0.5"), (2, "0.9")]).scatter().expect("held");
    assert!(s.to_bits().abs_diff(SEATING.to_bits()) <= 1 && dof.finite() == Some(SEATING_WORTH));
    // One pair 20 µm apart: (4·10² + 2·10²)/5 = 120.
    let (s, dof) = book(&[(1, "0.5"), (1, "0.52")]).scatter().expect("held");
    let right = Uncertainty::parse("0.010954").expect("an uncertainty");
    assert!(s.to_bits().abs_diff(right.to_bits()) < 400, "{s}");
    assert_eq!(dof.finite(), Some(5));
    let too_much = PlateBook::<u8, 1>::new(Uncertainty::from_bits(4 << 24).expect("held"));
    assert!(too_much.scatter().is_err() && too_much.recognise(Length::ZERO, Variance::ZERO).is_err());
}

#[test]
fn a_window_ends_where_the_formula_says() {
    // s = 10 µm, ν = 4, n = 1: w = 4.6041·10·√2 = 65.11 µm.
    let book = book(&[(1, "0.5"), (2, "0.9")]);
    for (span, inside) in [("0.5651", true), ("0.5652", false), ("0.4349", true), ("0.4348", false)] {
        let seen = book.recognise(mm(span), u2("0.001")).expect("held");
        assert_eq!(name_of(&seen), inside.then_some(1), "{span}");
        let Some(named) = book.named(&1, mm(span), u2("0.001")).expect("held") else { panic!("known") };
        assert_eq!(matches!(named, Named::Fits { .. }), inside, "{span}");
    }
    // A reading that doubts itself more than plates seat has the wider window: 20 µm, 130 µm.
    assert_eq!(name_of(&book.recognise(mm("0.63"), u2("0.02")).expect("held")), Some(1));
    assert_eq!(name_of(&book.recognise(mm("0.631"), u2("0.02")).expect("held")), None);
}

#[test]
fn two_plates_too_near_are_not_guessed() {
    let book = book(&[(1, "0.5"), (2, "0.58"), (3, "0.9")]);
    let seen = book.recognise(mm("0.545"), u2("0.001")).expect("held");
    let Recognised::TooNear { nearest, other, apart, needed } = seen else { panic!("{seen:?}") };
    assert_eq!((*nearest.name(), *other.name()), (2, 1));
    assert!(apart.to_bits().abs_diff(mm("0.08").to_bits()) <= 1);
    assert!(needed.to_bits().abs_diff(mm("0.13022").to_bits()) < 20, "{needed}");
    // Where one of them fits alone it is told: far from the other, its reading is not in doubt.
    assert_eq!(name_of(&book.recognise(mm("0.47"), u2("0.001")).expect("held")), Some(1));
    let Some(pair) = book.apart(&2, &1, u2("0.001")).expect("held") else { panic!("known") };
    assert_eq!((pair.apart, pair.needed), (apart, needed));
    assert_eq!(book.apart(&2, &9, u2("0.001")), Ok(None));
    // The order in which plates came does not matter.
    let seen = book.recognise(mm("0.535"), u2("0.001")).expect("held");
    let Recognised::TooNear { nearest, other, .. } = seen else { panic!("{seen:?}") };
    assert_eq!((*nearest.name(), *other.name()), (1, 2));
}

#[test]
fn a_wrong_name_is_told_with_the_likelier_plate() {
    let book = book(&[(1, "0.5"), (2, "0.7"), (3, "0.9")]);
    let Some(named) = book.named(&1, mm("0.71"), u2("0.001")).expect("held") else { panic!("known") };
    let Named::DoesNotFit { plate, change, likelier } = named else { panic!("{named:?}") };
    assert_eq!((*plate.name(), name_of(&likelier)), (1, Some(2)));
    assert_eq!(change, mm("0.71").minus(mm("0.5")).expect("held"));
    // Debris: nothing fits, the nearest other plate and its distance are told, not the one named.
    let Some(named) = book.named(&1, mm("0.59"), u2("0.001")).expect("held") else { panic!("known") };
    let Named::DoesNotFit { change, likelier: Recognised::Unknown { nearest }, .. } = named else {
        panic!("{named:?}")
    };
    assert_eq!(change, mm("0.59").minus(mm("0.5")).expect("held"));
    let (nearest, above) = nearest.expect("another plate");
    assert_eq!((*nearest.name(), above), (2, mm("0.59").minus(mm("0.7")).expect("held")));
    assert_eq!(book.named(&9, mm("0.6"), u2("0.001")), Ok(None));
    let empty = PlateBook::<u8, 3>::new(SEATING);
    assert_eq!(empty.recognise(mm("0.6"), u2("0.001")), Ok(Recognised::Unknown { nearest: None }));
}

#[test]
fn the_book_is_edited_whole_or_not_at_all() {
    let mut book = book(&[(1, "0.5"), (2, "0.7"), (3, "0.9")]);
    let before = book.clone();
    assert_eq!(book.record(4, mm("1"), u2("0.001"), 9), Err(BookError::Full));
    assert_eq!(book.remove(&4), Err(BookError::NotInBook));
    assert_eq!(book.rename(&4, 5), Err(BookError::NotInBook));
    assert_eq!(book.rename(&1, 2), Err(BookError::NameTaken));
    assert_eq!(book.replace(&1, 2, mm("1"), u2("0.001"), 9), Err(BookError::NameTaken));
    let far = book.record(1, mm("4.5"), u2("0.001"), 9);
    assert!(matches!(far, Err(BookError::OutOfRange(_))), "{far:?}");
    assert_eq!(book, before);

    assert_eq!(book.rename(&1, 1), Ok(()));
    assert_eq!(book.rename(&1, 7), Ok(()));
    assert_eq!(book.get(&7).map(|plate| plate.last().span), Some(mm("0.5")));
    assert_eq!(book.replace(&7, 7, mm("1.5"), u2("0.001"), 9), Ok(()));
    assert_eq!(book.get(&7).map(|plate| (plate.last().span, plate.count())), Some((mm("1.5"), 1)));
    assert_eq!(book.remove(&2), Ok(()));
    let names = |book: &PlateBook<u8, 3>| book.plates().iter().map(|plate| *plate.name()).sum::<u8>();
    assert_eq!((book.len(), names(&book)), (2, 10));
    for error in [
        BookError::Full,
        BookError::NotInBook,
        BookError::NameTaken,
        BookError::Damaged,
        BookError::OutOfRange(OutOfRange { quantity: Quantity::Length }),
    ] {
        use core::fmt::Write;
        let mut text = heapless::String::<160>::new();
        write!(text, "{error}").expect("room");
        assert!(text.len() > 30);
    }
}

#[test]
fn what_is_saved_comes_back_and_damage_is_seen() {
    let before = book(&[(1, "0.5"), (2, "0.7"), (1, "0.51"), (1, "0.49")]);
    let mut after = PlateBook::<u8, 3>::new(SEATING);
    for plate in before.plates() {
        after.restore(*plate.name(), &plate.saved()).expect("whole");
    }
    assert_eq!(after, before);
    let saved = before.get(&1).expect("known").saved();
    assert_eq!(after.restore(1, &saved), Err(BookError::NameTaken));
    for damaged in [
        Saved { count: 0, ..saved },
        Saved { count: 4_096, visits: 5_000, ..saved },
        Saved { sum: 1 << 40, ..saved },
        Saved { squares: u64::MAX, ..saved },
        Saved { squares: 0, sum: 3, ..saved },
        Saved { visits: 2, ..saved },
    ] {
        assert_eq!(after.restore(3, &damaged), Err(BookError::Damaged), "{damaged:?}");
    }
    assert_eq!(after.restore(3, &saved), Ok(()));
    assert_eq!(after.restore(4, &saved), Err(BookError::Full));
}

#[test]
fn of_three_the_nearest_two_are_told_in_any_order() {
    let spans = [(1, "0.5"), (2, "0.52"), (3, "0.55")];
    for order in [[0, 1, 2], [0, 2, 1], [1, 0, 2], [1, 2, 0], [2, 0, 1], [2, 1, 0]] {
        let book = book(&order.map(|place: usize| spans[place]));
        assert!(book.is_full());
        // 1, 19 and 49 µm away: all fit.
        let seen = book.recognise(mm("0.501"), u2("0.001")).expect("held");
        let Recognised::TooNear { nearest, other, .. } = seen else { panic!("{seen:?}") };
        assert_eq!((*nearest.name(), *other.name()), (1, 2), "{order:?}");
        // None fits: the nearest is told.
        let seen = book.recognise(mm("0.8"), u2("0.001")).expect("held");
        let Recognised::Unknown { nearest: Some((nearest, _)) } = seen else { panic!("{seen:?}") };
        assert_eq!(*nearest.name(), 3, "{order:?}");
    }
    // Of two equally near the first that came.
    let book = book(&[(1, "0.5"), (2, "0.75"), (3, "0.25")]);
    let seen = book.recognise(mm("0.375"), u2("0.001")).expect("held");
    assert!(
        matches!(seen, Recognised::Unknown { nearest: Some((plate, _)) } if *plate.name() == 1),
        "{seen:?}"
    );
}

#[test]
fn the_last_bit_of_a_window_fits_and_ties_go_to_the_plate_that_came_first() {
    let held = |bits: i32| Length::from_bits(i64::from(bits)).expect("a length");
    let mut book = book(&[(1, "0.5")]);
    assert!(PlateBook::<u8, 3>::new(SEATING).is_empty() && !book.is_empty());
    let (at, reading) = (mm("0.5").to_bits(), u2("0.001"));
    let window =
        book.windows(reading).and_then(|windows| windows.half(&book.plates[0])).expect("held").to_bits();
    for (off, fits) in [(window, true), (window + 1, false), (-window, true), (-window - 1, false)] {
        assert_eq!(
            name_of(&book.recognise(held(at + off), reading).expect("held")),
            fits.then_some(1),
            "{off}"
        );
        let named = book.named(&1, held(at + off), reading).expect("held");
        assert_eq!(matches!(named, Some(Named::Fits { .. })), fits, "{off}");
    }
    let told = |book: &PlateBook<u8, 3>, span: i32| match book.recognise(held(span), reading) {
        Ok(Recognised::TooNear { nearest, other, .. }) => (*nearest.name(), *other.name()),
        other => panic!("{other:?}"),
    };
    // Half way between 1 and 2; then 3 at the reading itself, the others as far from it.
    book.record(2, held(at + 200), reading, 2).expect("room");
    assert_eq!(told(&book, at + 100), (1, 2));
    book.record(3, held(at + 100), reading, 3).expect("room");
    assert_eq!(told(&book, at + 100), (3, 1));
    // The nearest first: of the two others as far, the earlier.
    let mut book = PlateBook::<u8, 3>::new(SEATING);
    for (name, bits) in [(1, at + 100), (2, at), (3, at + 200)] {
        book.record(name, held(bits), reading, 1).expect("room");
    }
    assert_eq!(told(&book, at + 100), (1, 2));
}
