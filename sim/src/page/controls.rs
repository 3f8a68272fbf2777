//! What can be changed on the bench: a table of settings, each with its range, and the machine with some of
//! them changed.

use std::collections::BTreeMap;

use maud::{Markup, html};
use zdatum::setup::Follows;
use zdatum::{Draft, Latency, Length, OutOfRange, Setup, Speed, Temperature, Uncertainty};

use crate::files::MachineFile;
use crate::text::Problem;
use crate::world::Noise;

/// The changed settings, in displayed units. All others stay as in the machine file.
pub(super) type Changed = BTreeMap<String, f64>;

/// Tolerance where none is given, µm: *common practice* for a first layer.
const WITHIN: f64 = 20.0;

/// The key of the tolerance, which is no part of a machine.
const TOLERANCE: &str = "within";

/// One setting.
struct Control {
    key: &'static str,
    label: &'static str,
    unit: &'static str,
    low: f64,
    high: f64,
    step: f64,
    /// The machine's own; `None` where it has nothing of the kind.
    own: fn(&Draft, &Noise) -> Option<f64>,
    set: fn(&mut Draft, &mut Noise, f64) -> Result<(), OutOfRange>,
}

/// Settings under their headings.
const GROUPS: [(&str, &[Control]); 4] = [
    (
        "First layer and touches",
        &[
            Control {
                key: TOLERANCE,
                label: "Tolerance ±",
                unit: "µm",
                low: 2.0,
                high: 60.0,
                step: 1.0,
                own: |_, _| Some(WITHIN),
                set: |_, _, _| Ok(()),
            },
            Control {
                key: "touches",
                label: "Counted touches per station",
                unit: "",
                low: 1.0,
                high: 16.0,
                step: 1.0,
                own: |draft, _| Some(f64::from(draft.touch.least)),
                set: |draft, _, x| {
                    // As many spare ones as the file has.
                    let spare = draft.touch.most.saturating_sub(draft.touch.least);
                    draft.touch.least = x as u8;
                    draft.touch.most = draft.touch.least.saturating_add(spare).min(64);
                    Ok(())
                },
            },
            Control {
                key: "speed",
                label: "Speed of fine touches",
                unit: "mm/s",
                low: 0.25,
                high: 12.0,
                step: 0.25,
                own: |draft, _| Some(draft.touch.fine_speed.to_f64()),
                set: |draft, _, x| {
                    draft.touch.fine_speed = Speed::from_f64(x)?;
                    draft.touch.first_speed = draft.touch.first_speed.max(draft.touch.fine_speed);
                    Ok(())
                },
            },
            Control {
                key: "step",
                label: "Motor step",
                unit: "µm",
                low: 0.5,
                high: 20.0,
                step: 0.125,
                own: |draft, _| {
                    let (steps, mm) = draft.travel.steps;
                    Some(1e3 * f64::from(mm) / f64::from(steps.max(1)))
                },
                set: |draft, _, x| {
                    // 10⁵ steps in so many millimetres.
                    draft.travel.steps = (100_000, libm::round(100.0 * x).max(1.0) as u32);
                    Ok(())
                },
            },
            Control {
                key: "band",
                label: "Band",
                unit: "µm",
                low: 4.0,
                high: 80.0,
                step: 1.0,
                own: |draft, _| Some(1e3 * draft.touch.band.to_f64()),
                set: |draft, _, x| {
                    draft.touch.band = Length::from_f64(x / 1e3)?;
                    Ok(())
                },
            },
        ],
    ),
    (
        "Noise",
        &[
            Control {
                key: "datum",
                label: "Datum switch",
                unit: "µm",
                low: 0.0,
                high: 10.0,
                step: 0.1,
                own: |_, noise| Some(1e3 * noise.tip_switch),
                set: |draft, noise, x| {
                    studied(&mut draft.pooled.tip, noise.tip_switch, x / 1e3)?;
                    studied(&mut draft.pooled.shoulder, noise.shoulder_switch, x / 1e3)?;
                    noise.tip_switch = x / 1e3;
                    noise.shoulder_switch = x / 1e3;
                    Ok(())
                },
            },
            Control {
                key: "plate",
                label: "Plate switch",
                unit: "µm",
                low: 0.0,
                high: 20.0,
                step: 0.1,
                own: |_, noise| Some(1e3 * noise.plate_switch),
                set: |draft, noise, x| {
                    studied(&mut draft.pooled.plate, noise.plate_switch, x / 1e3)?;
                    noise.plate_switch = x / 1e3;
                    Ok(())
                },
            },
            Control {
                key: "jitter",
                label: "Latency jitter",
                unit: "ms",
                low: 0.0,
                high: 3.0,
                step: 0.05,
                own: |_, noise| Some(1e3 * noise.latency_jitter_s),
                set: |_, noise, x| {
                    noise.latency_jitter_s = x / 1e3;
                    Ok(())
                },
            },
            Control {
                key: "seat",
                label: "Probe seating",
                unit: "µm",
                low: 0.0,
                high: 100.0,
                step: 1.0,
                own: |_, noise| Some(1e3 * noise.reseat),
                set: |_, noise, x| {
                    noise.reseat = x / 1e3;
                    Ok(())
                },
            },
            Control {
                key: "wild",
                label: "Wild touches",
                unit: "%",
                low: 0.0,
                high: 10.0,
                step: 0.1,
                own: |_, noise| Some(100.0 * noise.outlier_rate),
                set: |_, noise, x| {
                    noise.outlier_rate = x / 100.0;
                    Ok(())
                },
            },
            Control {
                key: "filament",
                label: "Filament on the tip",
                unit: "µm",
                low: 0.0,
                high: 200.0,
                step: 5.0,
                own: |_, noise| Some(1e3 * noise.tip_filament),
                set: |_, noise, x| {
                    noise.tip_filament = x / 1e3;
                    Ok(())
                },
            },
        ],
    ),
    (
        "Uncertainties",
        &[
            Control {
                key: "depth",
                label: "Trip depth, standard uncertainty",
                unit: "µm",
                low: 0.0,
                high: 60.0,
                step: 0.5,
                own: |draft, _| Some(1e3 * draft.probe.trip_depth_u.to_f64()),
                set: |draft, _, x| {
                    draft.probe.trip_depth_u = Uncertainty::from_f64(x / 1e3)?;
                    Ok(())
                },
            },
            Control {
                key: "latency",
                label: "Plate switch latency, standard uncertainty",
                unit: "ms",
                low: 0.0,
                high: 3.0,
                step: 0.05,
                own: |draft, _| Some(1e3 * draft.probe.delay.latency_u.to_f64()),
                set: |draft, _, x| {
                    draft.probe.delay.latency_u = Latency::from_f64(x / 1e3)?;
                    Ok(())
                },
            },
            Control {
                key: "limit",
                label: "Largest accepted U",
                unit: "µm",
                low: 2.0,
                high: 120.0,
                step: 1.0,
                own: |draft, _| Some(1e3 * draft.accept.expanded_u.to_f64()),
                set: |draft, _, x| {
                    draft.accept.expanded_u = Uncertainty::from_f64(x / 1e3)?;
                    Ok(())
                },
            },
        ],
    ),
    (
        "Temperatures",
        &[
            Control {
                key: "tool-touch",
                label: "Tool at touch",
                unit: "°C",
                low: 15.0,
                high: 300.0,
                step: 5.0,
                own: |draft, _| own_heat(draft, Follows::Tool).map(|(touch, _)| touch),
                set: |draft, _, x| heat(draft, Follows::Tool, Some(x), None),
            },
            Control {
                key: "tool-print",
                label: "Tool at print",
                unit: "°C",
                low: 15.0,
                high: 350.0,
                step: 5.0,
                own: |draft, _| own_heat(draft, Follows::Tool).map(|(_, print)| print),
                set: |draft, _, x| heat(draft, Follows::Tool, None, Some(x)),
            },
            Control {
                key: "bed-touch",
                label: "Bed at touch",
                unit: "°C",
                low: 15.0,
                high: 150.0,
                step: 5.0,
                own: |draft, _| own_heat(draft, Follows::Bed).map(|(touch, _)| touch),
                set: |draft, _, x| heat(draft, Follows::Bed, Some(x), None),
            },
            Control {
                key: "bed-print",
                label: "Bed at print",
                unit: "°C",
                low: 15.0,
                high: 150.0,
                step: 5.0,
                own: |draft, _| own_heat(draft, Follows::Bed).map(|(_, print)| print),
                set: |draft, _, x| heat(draft, Follows::Bed, None, Some(x)),
            },
            Control {
                key: "drift",
                label: "Frame growth still to come",
                unit: "µm",
                low: 0.0,
                high: 150.0,
                step: 1.0,
                own: |_, noise| Some(1e3 * noise.drift),
                set: |_, noise, x| {
                    noise.drift = x / 1e3;
                    Ok(())
                },
            },
        ],
    ),
];

/// Scales a study's s with the noise of its switch, as a new study would.
fn studied(pooled: &mut Option<zdatum::Pooled>, before: f64, now: f64) -> Result<(), OutOfRange> {
    if let Some(pooled) = pooled
        && before > 0.0
    {
        pooled.s = Uncertainty::from_f64(pooled.s.to_f64() * now / before)?;
    }
    Ok(())
}

/// Temperatures at the touch and at print of the first part that follows this.
fn own_heat(draft: &Draft, follows: Follows) -> Option<(f64, f64)> {
    let part = draft.growth.iter().find(|part| part.follows == follows)?;
    Some((part.touch.to_f64(), part.print.to_f64()))
}

fn heat(
    draft: &mut Draft,
    follows: Follows,
    touch: Option<f64>,
    print: Option<f64>,
) -> Result<(), OutOfRange> {
    for part in draft.growth.iter_mut().filter(|part| part.follows == follows) {
        if let Some(touch) = touch {
            part.touch = Temperature::from_f64(touch)?;
        }
        if let Some(print) = print {
            part.print = Temperature::from_f64(print)?;
        }
    }
    Ok(())
}

/// The machine with settings changed, and the tolerance in mm.
///
/// # Errors
/// A setting that is unknown or beyond its range, or a setup that is bad with it.
pub(super) fn changed(machine: &MachineFile, changed: &Changed) -> Result<(MachineFile, f64), Problem> {
    let mut machine = machine.clone();
    let mut draft = machine.setup.draft().clone();
    let mut within = WITHIN;
    for (key, value) in changed {
        let Some(control) = GROUPS.iter().flat_map(|(_, all)| *all).find(|control| control.key == key) else {
            return Err(Problem::new("this page has no such setting").remedy("load the page again"));
        };
        let (low, high) = control.range(machine.setup.draft(), &machine.noise);
        if !(low..=high).contains(value) {
            return Err(Problem::new(format!("{}: outside {low} to {high} {}", control.label, control.unit)));
        }
        (control.set)(&mut draft, &mut machine.noise, *value)
            .map_err(|error| Problem::new(error.to_string()))?;
        if key == TOLERANCE {
            within = *value;
        }
    }
    machine.setup = Setup::check(draft).map_err(|bad| {
        let seen = match (bad.seen, bad.limit) {
            (Some(seen), Some(limit)) => format!(" (seen {seen} mm, limit {limit} mm)"),
            _ => String::new(),
        };
        Problem::new(format!(
            "these settings make a bad setup: {}: {}{seen}",
            bad.key.text(),
            bad.fault.text()
        ))
        .remedy("a real cycle would not start; undo your last change")
    })?;
    Ok((machine, within / 1e3))
}

impl Control {
    /// Wide enough for what the machine file says.
    fn range(&self, draft: &Draft, noise: &Noise) -> (f64, f64) {
        let own = (self.own)(draft, noise).filter(|own| own.is_finite()).unwrap_or(self.low);
        (self.low.min(libm::floor(own)), self.high.max(libm::ceil(2.0 * own)))
    }
}

/// All settings as a form, at what the machine file says. What has no place in this machine is left out.
pub(super) fn form(machine: &MachineFile) -> Markup {
    let (draft, noise) = (machine.setup.draft(), &machine.noise);
    html! {
        @for (title, controls) in GROUPS {
            fieldset {
                legend { (title) }
                @for control in controls { @if let Some(own) = (control.own)(draft, noise) {
                    @let (low, high) = control.range(draft, noise);
                    @let id = format!("set-{}", control.key);
                    div.set {
                        label for=(id) { (control.label) }
                        output for=(id) id={ (id) "-says" } { (plain(own)) " " (control.unit) }
                        input type="range" id=(id) name=(control.key) min=(low) max=(high) step=(control.step)
                            data-unit=(control.unit) data-own=(own) value=(own)
                            aria-valuetext={ (plain(own)) " " (control.unit) };
                    }
                } }
            }
        }
    }
}

/// Four digits: what is held in bits may be a hair off what was written.
fn plain(x: f64) -> String {
    let places =
        if x.abs() >= 1.0 { 3 - libm::floor(libm::log10(x.abs())).clamp(0.0, 3.0) as usize } else { 3 };
    let text = format!("{x:.places$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::files::FileText;

    fn demo() -> MachineFile {
        let text = crate::demo::MACHINE;
        MachineFile::of(FileText::of("machine.toml", text)).unwrap_or_else(|problem| panic!("{problem:?}"))
    }

    fn set(all: &[(&str, f64)]) -> Changed {
        all.iter().map(|(key, value)| ((*key).to_owned(), *value)).collect()
    }

    #[test]
    fn every_setting_changes_what_it_says_and_nothing_is_changed_without() {
        let demo = demo();
        let (same, within) = changed(&demo, &Changed::new()).expect("the demo");
        assert_eq!((&same.setup, same.noise, within), (&demo.setup, demo.noise, 0.020));
        for control in GROUPS.iter().flat_map(|(_, all)| *all) {
            let own = (control.own)(demo.setup.draft(), &demo.noise).expect("the demo has all");
            let value = own + 2.0 * control.step;
            let (machine, within) = changed(&demo, &set(&[(control.key, value)])).expect(control.key);
            if control.key == TOLERANCE {
                assert!((within - value / 1e3).abs() < 1e-12);
                continue;
            }
            let now = (control.own)(machine.setup.draft(), &machine.noise).expect(control.key);
            assert!((now - value).abs() < 0.01 * control.step.max(0.5), "{}: {now} {value}", control.key);
        }
    }

    #[test]
    fn what_cannot_be_is_said() {
        let demo = demo();
        for (key, value) in [
            ("nonsense", 1.0),
            ("touches", 0.0),
            ("speed", f64::NAN),
            ("plate", f64::INFINITY),
            ("band", -4.0),
        ] {
            assert!(changed(&demo, &set(&[(key, value)])).is_err(), "{key} {value}");
        }
        // One touch says nothing of its scatter.
        let bare = MachineFile {
            setup: Setup::check(Draft {
                pooled: zdatum::setup::Studied::default(),
                ..demo.setup.draft().clone()
            })
            .expect("a setup"),
            ..demo
        };
        let problem = changed(&bare, &set(&[("touches", 1.0)])).expect_err("one touch without a study");
        assert!(problem.title.contains("touch.least"), "{problem:?}");
    }

    #[test]
    fn the_form_names_every_setting() {
        let form = form(&demo()).into_string();
        for control in GROUPS.iter().flat_map(|(_, all)| *all) {
            assert!(form.contains(&format!("name=\"{}\"", control.key)), "{}", control.key);
        }
        assert_eq!(form.matches("<label").count(), form.matches("<input").count());
        assert!(!form.contains("style=") && !form.contains(" oninput") && !form.contains(" onclick"));
    }
}
