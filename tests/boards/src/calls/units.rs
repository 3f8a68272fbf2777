use zdatum::units::{QUANTITIES, Quantity};
use zdatum::{
    Growth, Latency, Length, ParseError, Ratio, Speed, Step, Temperature, Uncertainty, Variance, Warming,
};

use super::{degrees, mm, show, speed, u};
use crate::{given, keep};

/// What every quantity with a text has.
macro_rules! quantity {
    ($($name:ident)*) => {$(
        keep($name::from_bits(given(1)));
        let value = given($name::parse(given("0.5")).unwrap_or($name::ZERO));
        keep(given(value).to_bits());
        keep(given(given(value).text()).as_str());
        keep(given(value) < given($name::ZERO));
        show(&value);
    )*};
}

pub(super) fn all() {
    quantity!(Length Speed Latency Temperature Warming Growth Uncertainty Ratio);
    keep((speed("2"), degrees("150")));
    for quantity in given(QUANTITIES) {
        keep(given(quantity).spec());
        keep(given(quantity.spec()).max_i64());
    }
    if let Err(error) = Length::from_bits(given(i64::MAX)) {
        show(&given(error));
    }
    for text in given(["", "1e9", "12 mm"]) {
        if let Err(error) = Length::parse(given(text)) {
            show(&given(error));
            keep(error == ParseError::NotANumber);
        }
    }
    keep(given(Quantity::Length) == given(Quantity::Ratio));

    let (a, b) = (mm("0.64"), mm("-1000.25"));
    keep(Length::from_mm(given(-3)));
    keep(Length::from_fixed(given(given(a).to_fixed())));
    keep(given(a).plus(given(b)));
    keep(given(a).minus(given(b)));
    let wide = given(a).widen();
    keep(given(wide).to_bits());
    keep(given(wide).round());

    let variance = Variance::from_bits(given(1 << 40));
    keep(given(variance).to_bits());
    keep(given(variance).plus(given(variance)));
    keep(given(variance).root());
    let doubt = u("0.002");
    keep(given(doubt).variance());
    keep(given(doubt).third_of_square());
    keep(given(doubt).ceil());

    if let Ok(step) = Step::new(given(1600), given(3)) {
        keep(given(step).steps());
        keep(given(step).mm());
        keep(given(step).length(given(-77)));
        keep(given(step).one());
        keep(given(step).rounding_variance());
    }
}
