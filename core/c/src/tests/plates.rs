//! The plate book: what the core's own example does, through C.

use super::*;
use crate::plates::*;

#[test]
fn a_book_is_the_cores() {
    assert_eq!(ZDATUM_SEATING, zdatum::plates::SEATING.to_bits());
    let mut book = zdatum_book { words: [0; ZDATUM_BOOK_WORDS] };
    let variance = Uncertainty::parse("0.0013").unwrap().variance().unwrap().to_bits();
    let at = |text| zdatum_last_span { variance, span: mm(text), ..zdatum_last_span::default() };
    let (slate, linen) = (7, 9);
    let mut seen = zdatum_recognised::default();
    let (mut fits, mut change) = (9, 0);
    // SAFETY: whole objects.
    unsafe {
        assert_eq!(zdatum_book_start(&mut book, 4 << 24), ZDATUM_OUT_OF_RANGE);
        assert_eq!(zdatum_book_start(&mut book, ZDATUM_SEATING), ZDATUM_OK);
        assert_eq!(zdatum_book_recognise(&book, &at("0.7"), &mut seen), ZDATUM_OK);
        assert_eq!((seen.kind, seen.name), (ZDATUM_EMPTY_BOOK, 0));
        for (cycle, name, span) in
            [(1, slate, "0.706"), (2, linen, "0.888"), (3, slate, "0.709"), (4, linen, "0.884")]
        {
            assert_eq!(zdatum_book_record(&mut book, name, &at(span), cycle), ZDATUM_OK);
        }
        let mut last = zdatum_last_span::default();
        assert_eq!(zdatum_book_last(&book, slate, 1600, 3, &mut last), ZDATUM_OK);
        assert_eq!((last.span, last.variance), (mm("0.709"), variance));
        assert_eq!(zdatum_book_last(&book, 8, 1600, 3, &mut last), ZDATUM_NOT_IN_BOOK);

        assert_eq!(zdatum_book_recognise(&book, &at("0.704"), &mut seen), ZDATUM_OK);
        assert_eq!((seen.kind, seen.name, seen.change), (ZDATUM_ONE_FITS, slate, mm("0.704") - mm("0.709")));
        assert_eq!(zdatum_book_recognise(&book, &at("0.769"), &mut seen), ZDATUM_OK);
        assert_eq!((seen.kind, seen.name), (ZDATUM_NONE_FITS, slate));

        assert_eq!(zdatum_book_named(&book, linen, &at("0.704"), &mut fits, &mut change), ZDATUM_OK);
        assert_eq!((fits, change), (0, mm("0.704") - mm("0.884")));
        assert_eq!(zdatum_book_named(&book, slate, &at("0.704"), &mut fits, &mut change), ZDATUM_OK);
        assert_eq!((fits, change), (1, mm("0.704") - mm("0.709")));
        assert_eq!(zdatum_book_named(&book, 8, &at("0.7"), &mut fits, &mut change), ZDATUM_NOT_IN_BOOK);

        // Over a power cut and back.
        let mut after = zdatum_book { words: [0; ZDATUM_BOOK_WORDS] };
        let mut plate = zdatum_plate::default();
        assert_eq!(zdatum_book_start(&mut after, ZDATUM_SEATING), ZDATUM_OK);
        for place in 0..2 {
            assert_eq!(zdatum_book_plate(&book, place, &mut plate), ZDATUM_OK);
            assert_eq!(zdatum_book_restore(&mut after, &plate), ZDATUM_OK);
            assert_eq!(zdatum_book_restore(&mut after, &plate), ZDATUM_TAKEN);
        }
        assert_eq!((plate.name, plate.seen, plate.visits), (linen, 4, 2));
        assert_eq!(zdatum_book_plate(&book, 2, &mut plate), ZDATUM_NOT_IN_BOOK);
        assert_eq!(crate::memory::started(&after).unwrap(), crate::memory::started(&book).unwrap());
        plate.count = 0;
        plate.name = 1;
        assert_eq!(zdatum_book_restore(&mut after, &plate), ZDATUM_OUT_OF_RANGE);

        assert_eq!(zdatum_book_remove(&mut book, slate), ZDATUM_OK);
        assert_eq!(zdatum_book_remove(&mut book, slate), ZDATUM_NOT_IN_BOOK);
        for name in 20..19 + ZDATUM_PLATES as u32 {
            assert_eq!(zdatum_book_record(&mut book, name, &at("0.5"), 9), ZDATUM_OK);
        }
        assert_eq!(zdatum_book_record(&mut book, 90, &at("0.5"), 9), ZDATUM_NO_ROOM);
        assert_eq!(zdatum_book_record(&mut book, linen, &at("5"), 9), ZDATUM_OUT_OF_RANGE);
        assert_eq!(zdatum_book_recognise(&book, &at("0.5"), &mut seen), ZDATUM_OK);
        assert_eq!(seen.kind, ZDATUM_TOO_NEAR);
    }
}
