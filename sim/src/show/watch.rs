//! The watch, for people and for programs.

use anstyle::{AnsiColor, Style};
use zdatum::Ratio;
use zdatum::watch::{Chart, Fit as CauseFit, Score};

use crate::history::replay::{ChartPoint, WatchAlarm, WatchTrack, Watched, side};
use crate::text::json::Number;
use crate::text::lines::{BOLD, FAINT, YELLOW, line, paragraph};
use crate::text::name::{counted, cut, padded, shown};
use crate::text::number::{ratio, rounded, signed, uncertainty};

const ALARM: Style = AnsiColor::Red.on_default().bold();

/// Cycles that a strip shows, the newest ones.
const STRIP: usize = 48;

/// Columns of a chart's name: with them a chart's line stays within 80, sums of 100 and more included.
const NAME: usize = 20;

/// What `watch --json` answers.
#[derive(Debug, serde::Serialize)]
pub struct WatchJson<'a> {
    format: u8,
    history: &'a str,
    cycles: usize,
    alarm: bool,
    alarms: &'a [WatchAlarm],
    causes: Vec<LikelyCause>,
    ewma_limit: Number,
    cusum_limit: Number,
    charts: &'a [WatchTrack],
    notes: &'a [String],
}

#[derive(Debug, serde::Serialize)]
struct LikelyCause {
    cause: &'static str,
    text: &'static str,
    shift: Number,
    misfit: Number,
    advice: &'static str,
}

impl<'a> WatchJson<'a> {
    /// The document.
    pub fn of(history: &'a str, watched: &'a Watched) -> Self {
        let design = watched.watch.design();
        Self {
            format: 1,
            history,
            cycles: watched.cycles,
            alarm: watched.watch.alarmed(),
            alarms: &watched.alarms,
            causes: watched.watch.diagnosis().fits().iter().map(LikelyCause::of).collect(),
            ewma_limit: design.ewma_limit().into(),
            cusum_limit: design.cusum_limit().into(),
            charts: &watched.tracks,
            notes: &watched.notes,
        }
    }
}

impl LikelyCause {
    fn of(fit: &CauseFit) -> Self {
        Self {
            cause: fit.cause.word(),
            text: fit.cause.text(),
            shift: fit.shift.into(),
            misfit: fit.misfit.into(),
            advice: fit.cause.advice(),
        }
    }
}

fn score_text(score: Score, places: u32) -> String {
    rounded(i64::from(score.to_bits()), 16, places)
}

/// The text.
pub fn page(history: &str, watched: &Watched) -> String {
    let mut out = String::new();
    let design = watched.watch.design();
    line!(&mut out, "{BOLD}Watch{BOLD:#} over {history}: {}", counted(watched.cycles, "accepted cycle"));
    if watched.tracks.is_empty() {
        line!(&mut out, "  nothing to plot yet");
    }
    for track in &watched.tracks {
        one_track(&mut out, track, design.ewma_limit());
    }
    if !watched.tracks.is_empty() {
        let text = format!(
            "One mark per cycle, the newest {STRIP}: the moving average (EWMA) between its limits ±{}, low \
                ▁ to high ▇, ▄ as expected; · learning, | new level, ! alarm. CUSUM: up and down, limit {}.",
            ratio(design.ewma_limit(), 2),
            ratio(design.cusum_limit(), 0)
        );
        paragraph(&mut out, &text, 2, FAINT);
    }
    verdict(&mut out, watched);
    for note in &watched.notes {
        paragraph(&mut out, &format!("Note: {note}."), 2, YELLOW);
    }
    out
}

fn one_track(out: &mut String, track: &WatchTrack, limit: Ratio) {
    let name = match &track.plate {
        Some(plate) => format!("span of {}", cut(plate, NAME - "span of ".len())),
        None => track.quantity.to_owned(),
    };
    let charts = &track.charts;
    let level = charts.mean().ok().flatten().map_or_else(|| "-".into(), signed);
    let s = charts.s().ok().flatten();
    let s = s.map_or_else(|| "-".into(), |(s, _)| uncertainty(s));
    let (up, down) = charts.cusum().sums();
    let style = if charts.alarm().is_some() { ALARM } else { Style::new() };
    line!(
        out,
        "{style}  {}{style:#}  level {level:>8}  s {s:>6}  EWMA {:>6}  CUSUM {:>4} {:>4}",
        padded(&name, NAME),
        score_text(charts.ewma().level(), 2),
        ratio(up, 1),
        ratio(down, 1)
    );
    line!(out, "    {}", strip(&track.points, limit));
}

/// One mark per cycle.
fn strip(points: &[ChartPoint], limit: Ratio) -> String {
    const LEVELS: [char; 7] = ['▁', '▂', '▃', '▄', '▅', '▆', '▇'];
    let mut out = String::new();
    for point in points.iter().skip(points.len().saturating_sub(STRIP)) {
        if point.begins {
            out.push('|');
        }
        out.push(if point.charts.alarm().is_some() {
            '!'
        } else if point.charts.score().is_none() {
            '·'
        } else {
            let (level, limit) =
                (i64::from(point.charts.ewma().level().to_bits()), i64::from(limit.to_bits()).max(1));
            // From −limit to +limit in seven steps, the middle one about zero.
            let step = ((level + limit) * 7 / (2 * limit)).clamp(0, 6) as usize;
            LEVELS.get(step).copied().unwrap_or('▄')
        });
    }
    out
}

fn verdict(out: &mut String, watched: &Watched) {
    let answered: Vec<String> = watched
        .alarms
        .iter()
        .filter_map(|alarm| Some(format!("at entry {}, answered by {}", alarm.entry, alarm.answered_by?)))
        .collect();
    if !answered.is_empty() {
        paragraph(out, &format!("Earlier alarms: {}.", answered.join("; ")), 2, FAINT);
    }
    if !watched.watch.alarmed() {
        line!(out, "  No alarm active.");
        return;
    }
    let since = watched.alarms.last().map_or(0, |alarm| alarm.entry);
    line!(out, "{ALARM}Alarm active{ALARM:#} since entry {since}:");
    for track in watched.tracks.iter() {
        if let Some(alarm) = track.charts.alarm() {
            let plate =
                track.plate.as_ref().map_or_else(String::new, |plate| format!(" of {}", shown(plate)));
            let what = match alarm.chart {
                Chart::Ewma => "moving average",
                Chart::Cusum => "cumulative sum",
            };
            line!(out, "  {}{plate} has moved {} ({what})", track.quantity, side(alarm));
        }
    }
    let diagnosis = watched.watch.diagnosis();
    match diagnosis.fits() {
        [] => {
            let text =
                "No single cause fits: several things have changed, or there are too few cycles to tell.";
            paragraph(out, text, 2, Style::new());
        }
        fits => {
            for (place, fit) in fits.iter().enumerate() {
                let start = if place == 0 { "Likeliest cause:" } else { "Or:" };
                paragraph(out, &format!("{start} {} ({} mm).", fit.cause.text(), signed(fit.shift)), 2, BOLD);
                paragraph(out, fit.cause.advice(), 4, Style::new());
            }
        }
    }
    let text = "Answer it with `zdatum history note WHAT`, placed before the entry at which it happened; \
        `note nothing` where nothing was done. Until then the charts learn nothing, and each further cycle \
        makes the cause more certain.";
    paragraph(out, text, 2, FAINT);
}
