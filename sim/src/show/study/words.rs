//! What a study found, in words.

use std::collections::HashSet;

use zdatum::Station;

use super::named;
use crate::study::latency::{Between, SwitchLatency};
use crate::study::{StationStudy, Study, TouchGroup, sums};
use crate::text::name::shown;

/// Chance of a finding, over all series together, where there is nothing to find.
const ALPHA: f64 = 0.01;
/// Series that one finding names; more are counted.
const NAMED: usize = 4;
/// Degrees of freedom below which s itself is doubtful: it is then known to no better than 20 %.
const FEW_DOF: usize = 12;

/// What to mind, worst first; a sentence or two each, without the full stop.
pub fn findings(study: &Study) -> Vec<String> {
    let mut notes = Vec::new();
    outliers(&mut notes, study);
    wandering(&mut notes, study);
    run_to_run(&mut notes, study);
    latencies(&mut notes, study);
    shapes(&mut notes, study);
    too_little(&mut notes, study);
    for run in &study.groups.resumed {
        notes.push(format!(
            "run `{}` continues after another run's touches and was still taken as one; if the probe was \
                put back in between, give the later touches a run of their own",
            shown(run)
        ));
    }
    notes
}

fn outliers(notes: &mut Vec<String>, study: &Study) {
    let (mut found, mut without): (Vec<String>, Vec<String>) = (Vec::new(), Vec::new());
    let sounds = Station::ALL.map(|station| Sound::of(study, station));
    for (group, series) in study.groups.groups.iter().zip(&study.series) {
        let Some(sound) = sounds.get(group.station as usize) else { continue };
        for step in &series.outliers {
            if !sound.is_wild(step.z.minus(&series.median)) {
                continue;
            }
            found.push(format!("{} on line {} ({})", step.z.text(), step.line, place(group)));
            let one = study.station(group.station).filter(|one| one.at_speed.is_none());
            if let Some((s, _)) = one.and_then(|one| one.pooled) {
                let text = format!("{:.4} instead of {s:.4} at {}", sound.s, group.station.word());
                if !without.contains(&text) {
                    without.push(text);
                }
            }
        }
    }
    if !found.is_empty() {
        let without = match without.as_slice() {
            [] => String::new(),
            without => format!(" Without them s would be about {}.", listed(without)),
        };
        notes.push(format!(
            "wild touches: {}. They are in all figures.{without} Where the cause is known and gone, mark \
                them `counted` = `no` before you use [pooled]",
            listed(&found)
        ));
    }
}

/// A station's scatter without what the test takes for outliers. Of many short series some always fail a test
/// at 5 %, and heights on coarse steps more of them; what is worth a word stands out from the whole station
/// too.
struct Sound {
    s: f64,
    step: f64,
}

impl Sound {
    fn of(study: &Study, station: Station) -> Self {
        let (mut squares, mut dof, mut step) = (Vec::new(), 0_usize, f64::INFINITY);
        for (group, series) in study.groups.groups.iter().zip(&study.series) {
            if group.station != station {
                continue;
            }
            let out: HashSet<usize> = series.outliers.iter().map(|step| step.index).collect();
            let offsets = group.heights.offsets.iter().enumerate();
            let mut rest: Vec<f64> =
                offsets.filter(|(index, _)| !out.contains(index)).map(|(_, x)| *x).collect();
            squares.push(sums::squares(&rest));
            dof += rest.len().saturating_sub(1);
            rest.sort_unstable_by(f64::total_cmp);
            let gaps = rest.windows(2).map(|pair| pair.last().zip(pair.first()).map_or(0.0, |(b, a)| b - a));
            step = gaps.filter(|gap| *gap > 0.0).fold(step, f64::min);
        }
        let s = sums::root_mean(sums::sum(squares), dof).unwrap_or(0.0);
        Self { s, step: if step.is_finite() { step } else { 0.0 } }
    }

    fn is_wild(&self, off: f64) -> bool {
        off.abs() > 4.0 * self.s && off.abs() > 1.5 * self.step
    }
}

fn wandering(notes: &mut Vec<String>, study: &Study) {
    let level = ALPHA / study.series.len().max(1) as f64;
    let found: Vec<String> = study
        .groups
        .groups
        .iter()
        .zip(&study.series)
        .filter(|(_, series)| series.von_neumann_p.is_some_and(|p| p < level))
        .map(|(group, _)| place(group))
        .collect();
    if !found.is_empty() {
        notes.push(format!(
            "the height wanders from touch to touch in {}: a machine that warms, filament on the tip, or \
                speeds in blocks. s then exceeds the switch's own",
            listed(&found)
        ));
    }
}

fn run_to_run(notes: &mut Vec<String>, study: &Study) {
    let tip = study.station(Station::Tip).and_then(|one| one.anova);
    if tip.is_some_and(|anova| anova.p.is_some_and(|p| p < ALPHA)) {
        notes.push(
            "the tip's height moves from run to run by more than the switch explains: homing, a machine \
                that warms, or a nozzle change. A landing follows it, as long as each cycle touches the tip \
                anew"
                .into(),
        );
    }
    let mixed: Vec<&StationStudy> = study.stations.iter().filter(|one| one.at_speed.is_some()).collect();
    if let Some(at) = mixed.first().and_then(|one| one.at_speed) {
        let stations: Vec<Station> = mixed.iter().map(|one| one.station).collect();
        notes.push(format!(
            "speeds differ within runs at {}: for everything across runs the heights were brought to their \
                mean speed, {at:.2} mm/s, by the latency seen. The series above are as read",
            named(&stations)
        ));
    }
}

fn latencies(notes: &mut Vec<String>, study: &Study) {
    for (name, switch) in [("datum switch", &study.datum), ("plate switch", &study.plate)] {
        let Some(switch) = switch else { continue };
        if !switch.interleaved() {
            notes.push(not_interleaved(name, switch));
        }
        if switch.disagreement().is_some_and(|ratio| ratio > 3.0) {
            notes.push(format!(
                "tip and shoulder disagree about the {name}'s latency by more than three standard \
                    uncertainties, although they press the same switch: something else changed with the speed"
            ));
        }
        if switch.latency + 2.0 * switch.u < 0.0 {
            notes.push(format!(
                "the {name} trips higher the faster it is approached, which no latency does: the machine is \
                    bent or the speeds are mixed up"
            ));
        }
    }
}

fn not_interleaved(name: &str, switch: &SwitchLatency) -> String {
    let worst = switch.stations.iter().max_by(|a, b| a.order.abs().total_cmp(&b.order.abs()));
    let (drift, what) = worst.map_or((0.0, "touch"), |seen| {
        (seen.per_drift.abs(), if seen.between == Between::Runs { "run" } else { "touch" })
    });
    format!(
        "the speeds at the {name} were not interleaved but taken in blocks, so a drift passes for latency: \
            0.001 mm per {what} would pass for {:.2} ms. Its latency is not offered; touch in turn at each \
            speed, such as 1, 4, 2, 1, 4, 2",
        drift
    )
}

fn shapes(notes: &mut Vec<String>, study: &Study) {
    let level = ALPHA / study.series.len().max(1) as f64;
    let groups = || study.groups.groups.iter().zip(&study.series);
    let odd: Vec<String> = groups()
        .filter(|(_, series)| {
            series.normality.is_some_and(|test| test.p < level && !test.stepped) && series.outliers.is_empty()
        })
        .map(|(group, _)| place(group))
        .collect();
    if !odd.is_empty() {
        notes.push(format!(
            "the touches do not scatter as a normal distribution does in {}: a loose probe with two seats, \
                or several speeds in one series, look like that. The limits of s are not valid there",
            listed(&odd)
        ));
    }
    let frozen: Vec<String> = groups()
        .filter(|(_, series)| series.n > 1 && series.spread <= 0.0)
        .map(|(group, _)| place(group))
        .collect();
    if !frozen.is_empty() {
        notes.push(format!(
            "all touches read the same height in {}: the steps are coarser than the switch. That is no \
                proof of s = 0",
            listed(&frozen)
        ));
    }
}

fn too_little(notes: &mut Vec<String>, study: &Study) {
    let few: Vec<Station> = study
        .stations
        .iter()
        .filter(|one| one.pooled.is_none_or(|(_, dof)| dof < FEW_DOF))
        .map(|one| one.station)
        .collect();
    if !few.is_empty() {
        notes.push(format!(
            "few touches at {}: below {FEW_DOF} degrees of freedom s is known to no better than 20 %",
            named(&few)
        ));
    }
    if study.stations.iter().all(|one| one.runs < 2) {
        notes.push(
            "one run only: what changes from fetch to fetch does not show. Take five runs or more, each \
                with a fetch of its own"
                .into(),
        );
    }
}

fn place(group: &TouchGroup) -> String {
    format!("run `{}`, {}", shown(&group.run), group.station.word())
}

fn listed(items: &[String]) -> String {
    let head = items.iter().take(NAMED).cloned().collect::<Vec<_>>().join("; ");
    match items.len().checked_sub(NAMED).filter(|more| *more > 0) {
        Some(more) => format!("{head}; and {more} more"),
        None => head,
    }
}
