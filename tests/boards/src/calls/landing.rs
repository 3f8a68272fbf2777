use zdatum::landing::{Conditions, budget};
use zdatum::{Landing, Readings, Setup, Station, Touches};

use super::{degrees, series, setup, speed};
use crate::{given, keep};

/// Three closed series that fit [`setup::draft`].
pub(super) fn touches(setup: &Setup) -> Option<Touches> {
    let close = |station, height| series::series(height).close(&given(setup).method(station)).ok();
    Some(Touches {
        tip: close(Station::Tip, "0.5")?,
        shoulder: close(Station::Shoulder, "6.5")?,
        plate: close(Station::Plate, "7.34")?,
        conditions: Conditions::of(given(&readings()), given(&readings()), given(&readings())),
    })
}

pub(super) fn readings() -> Readings {
    given(Readings {
        speed: Some(speed("2")),
        tool: Some(degrees("150")),
        bed: Some(degrees("60")),
        chamber: None,
    })
}

pub(super) fn all() {
    let Some(setup) = setup::checked() else { return };
    let Some(touches) = touches(given(&setup)) else { return };
    keep(budget(given(&setup), given(&touches)));
    if let Ok(landing) = Landing::of(given(&setup), given(&touches)) {
        keep(given(&landing).span_u());
        keep(landing);
    }
}
