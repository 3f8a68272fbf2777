//! `plates` and `watch`: what a history of cycles comes to.

use serde_json::Value;

use super::history::Desk;
use super::tool::{Run, assert_refused, run};

/// Noise that is the same every time: the sum of twelve even numbers, less six, is nearly a normal deviate.
struct Noise(u64);

impl Noise {
    fn next(&mut self) -> f64 {
        let mut even = || {
            // Knuth's multiplier for MMIX (from memory); the high bits are the good ones.
            self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (self.0 >> 40) as f64 / f64::from(1 << 24)
        };
        (0..12).map(|_| even()).sum::<f64>() - 6.0
    }
}

/// What is true of a cycle, mm.
#[derive(Clone, Copy)]
struct Truth {
    plate: &'static str,
    tip: f64,
    drop: f64,
    span: f64,
}

/// A sound machine with two plates in turn.
fn sound(n: usize) -> Truth {
    let (plate, span) = if n.is_multiple_of(2) { ("slate", 0.08) } else { ("linen", 0.26) };
    Truth { plate, tip: 0.5, drop: 6.63, span }
}

/// A log of cycles of numbers `from` up to `to`, with the noise of a machine whose probe seats to 10 µm.
fn cycles(from: usize, to: usize, truth: impl Fn(usize) -> Truth) -> String {
    let mut log = "run,plate,station,z\n".to_owned();
    for n in from..to {
        let mut noise = Noise(n as u64);
        let Truth { plate, tip, drop, span } = truth(n);
        let tip = tip + 0.001 * noise.next();
        let shoulder = tip + drop + 0.010 * noise.next();
        let height = shoulder + span + 0.003 * noise.next();
        for (station, z) in [("tip", tip), ("shoulder", shoulder), ("plate", height)] {
            for z in [z, z + 0.002] {
                log.push_str(&format!("{n},{plate},{station},{z:.4}\n"));
            }
        }
    }
    log
}

fn keep(desk: &Desk, log: &str) {
    let run = desk.land(log, &["--keep"]);
    assert_eq!(run.code, Some(0), "{run:?}");
}

fn ask(desk: &Desk, command: &str, more: &[&str]) -> Run {
    run(&[&[command, "--history", &desk.history], more].concat())
}

fn watch(desk: &Desk) -> (Option<i32>, Value) {
    let run = ask(desk, "watch", &["--json"]);
    (run.code, run.json())
}

fn causes(document: &Value) -> Vec<String> {
    let causes = document["causes"].as_array().expect("causes");
    causes.iter().map(|cause| cause["cause"].as_str().expect("a word").to_owned()).collect()
}

#[test]
fn known_plates_are_listed() {
    let desk = Desk::new();
    keep(&desk, &cycles(0, 10, sound));
    let run = ask(&desk, "plates", &["--json"]);
    assert_eq!(run.code, Some(0));
    let document = run.json();
    let plates = document["plates"].as_array().expect("plates");
    for (plate, (name, span)) in plates.iter().zip([("slate", 0.08), ("linen", 0.26)]) {
        assert_eq!((&plate["plate"], &plate["cycles"]), (&name.into(), &5.into()));
        let (seen, u) = (plate["span"].as_f64().expect("a span"), plate["u"].as_f64().expect("u"));
        assert!((seen - span).abs() < 4.0 * u && u < 0.003, "{plate}");
        assert!(plate["spread"].as_f64().is_some_and(|s| s > 0.001 && s < 0.008), "{plate}");
    }
    assert_eq!((&plates[0]["last_entry"], &plates[1]["last_entry"]), (&9.into(), &10.into()));
    assert_eq!(document["scatter_dof"], 4 + 4 + 4);
    // The mean of what `land` said.
    let spans: Vec<f64> =
        desk.entries().iter().step_by(2).map(|entry| entry["span"].as_f64().expect("a span")).collect();
    let mean = spans.iter().sum::<f64>() / 5.0;
    assert!((plates[0]["span"].as_f64().expect("a span") - mean).abs() < 1e-5);
    let text = ask(&desk, "plates", &[]).out;
    assert!(text.contains("slate") && text.contains("linen") && !text.contains("did not fit"), "{text}");
}

#[test]
fn a_name_that_does_not_fit_is_told_with_the_likelier_one() {
    let desk = Desk::new();
    keep(&desk, &cycles(0, 10, sound));
    // Linen was fitted, slate was said.
    let wrong = cycles(10, 11, |n| Truth { span: 0.26, ..sound(n) });
    let landed = desk.land(&wrong, &["--keep", "--json"]).json();
    let note = landed["history"]["notes"][0].as_str().expect("a note").to_owned();
    assert!(note.contains("named slate") && note.contains("More likely it is linen"), "{note}");
    let misfit = ask(&desk, "plates", &["--json"]).json()["misfits"][0].clone();
    assert_eq!(
        (&misfit["entry"], &misfit["plate"], &misfit["likelier"]["plate"]),
        (&11.into(), &"slate".into(), &"linen".into())
    );
    assert!((misfit["change"].as_f64().expect("mm") - 0.18).abs() < 0.02, "{misfit}");
    // Forgotten, it spoils the plate's span no more.
    desk.history(&["forget", "11"]);
    let document = ask(&desk, "plates", &["--json"]).json();
    assert_eq!(
        (document["misfits"].as_array().map(Vec::len), &document["plates"][0]["cycles"]),
        (Some(0), &5.into())
    );

    // A scrap under it: the guard refuses it with the amount, the book knows no such plate.
    let scrap = cycles(12, 13, |n| Truth { span: 0.45, ..sound(n) });
    let refused = desk.land(&scrap, &["--keep"]);
    let text = refused.words();
    assert_eq!(refused.code, Some(1));
    assert!(text.contains("moved too far") && text.contains("debris under it"), "{text}");
    assert!(ask(&desk, "plates", &[]).words().contains("(refused): named slate, but its span is +0.3"));
}

#[test]
fn a_cycle_without_a_name_is_recognised_or_not_guessed() {
    let desk = Desk::new();
    keep(&desk, &cycles(0, 12, sound));
    let unnamed = |n, span| cycles(n, n + 1, move |n| Truth { plate: "", span, ..sound(n) });
    let told = |log: &str| desk.land(log, &[]).words();
    assert!(told(&unnamed(20, 0.26)).contains("names no plate: its span is that of linen"));
    assert!(told(&unnamed(20, 0.17)).contains("it fits no plate"));
    keep(&desk, &unnamed(21, 0.08));
    let first = ask(&desk, "plates", &["--json"]).json();
    assert_eq!(first["unnamed"][0]["recognised"]["plate"], "slate");
    assert_eq!(first["too_near"].as_array().map(Vec::len), Some(0));
    // It tells of a plate, and counts for none.
    assert_eq!(first["plates"][0]["cycles"], 6);
    // A third plate, between the others for nobody to tell from slate.
    keep(&desk, &cycles(30, 33, |n| Truth { plate: "tin", span: 0.083, ..sound(n) }));
    let near = told(&unnamed(20, 0.082));
    assert!(near.contains("no guess below"), "{near}");
    let document = ask(&desk, "plates", &["--json"]).json();
    let pair = &document["too_near"][0];
    assert_eq!(pair["plates"], serde_json::json!(["slate", "tin"]));
    assert!(pair["apart"].as_f64() < pair["needed"].as_f64());
    assert!(ask(&desk, "plates", &[]).words().contains("the spans of slate and tin are"));
}

#[test]
fn a_plate_that_was_replaced_begins_anew() {
    let desk = Desk::new();
    keep(&desk, &cycles(0, 10, sound));
    let replaced = cycles(10, 11, |n| Truth { span: 0.5, ..sound(n) });
    assert_eq!(desk.land(&replaced, &[]).code, Some(1));
    assert_eq!(desk.history(&["note", "plate", "--plate", "slate"]).code, Some(0));
    // It is compared with nothing of before, and the other plate still is.
    let landed = desk.land(&replaced, &["--keep", "--json"]);
    assert_eq!(
        (landed.code, &landed.json()["history"]["cycles"][0]["held_against"]),
        (Some(0), &Value::Null)
    );
    let plates = ask(&desk, "plates", &["--json"]).json()["plates"].clone();
    let counts: Vec<_> = plates
        .as_array()
        .expect("plates")
        .iter()
        .map(|p| (p["plate"].as_str(), p["cycles"].as_i64()))
        .collect();
    assert_eq!(counts, [(Some("linen"), Some(5)), (Some("slate"), Some(1))]);
    let next = cycles(11, 12, |n| Truth { span: 0.9, ..sound(n) });
    assert_eq!(desk.land(&next, &[]).code, Some(1));
}

#[test]
fn a_sound_machine_gives_no_alarm() {
    let desk = Desk::new();
    keep(&desk, &cycles(0, 40, sound));
    let (code, document) = watch(&desk);
    assert_eq!((code, &document["alarm"], &document["cycles"]), (Some(0), &false.into(), &40.into()));
    let charts = document["charts"].as_array().expect("charts");
    let named: Vec<_> = charts.iter().map(|c| (c["quantity"].as_str(), c["plate"].as_str())).collect();
    assert_eq!(
        named,
        [
            (Some("tip"), None),
            (Some("drop"), None),
            (Some("span"), Some("slate")),
            (Some("span"), Some("linen"))
        ]
    );
    // Every point is a cycle's own height, and learning takes five of them.
    let entries = desk.entries();
    for (key, chart, every) in [("tip", 0, 1), ("drop", 1, 1), ("span", 2, 2)] {
        let points = charts[chart]["points"].as_array().expect("points");
        assert_eq!(points.len(), 40 / every);
        for (point, entry) in points.iter().zip(entries.iter().step_by(every)) {
            assert_eq!((&point["entry"], &point["value"]), (&entry["number"], &entry[key]));
        }
        let first = points.iter().position(|point| point["score"].is_number());
        assert_eq!(first, Some(5), "{key}");
    }
    let s = charts[1]["s"].as_f64().expect("s");
    assert!(s > 0.006 && s < 0.014, "{s}");
    // The last of each follows from the scores by the chart's own rule.
    for chart in charts {
        let (mut ewma, mut up) = (0.0_f64, 0.0_f64);
        for point in chart["points"].as_array().expect("points") {
            if let Some(score) = point["score"].as_f64() {
                ewma += 0.25 * (score - ewma);
                up = (up + score - 0.25).max(0.0);
            }
            assert!((point["ewma"].as_f64().expect("z") - ewma).abs() < 1e-3, "{point}");
            assert!((point["cusum_up"].as_f64().expect("C") - up).abs() < 1e-3, "{point}");
        }
    }
    let text = ask(&desk, "watch", &[]).out;
    assert!(text.contains("No alarm active") && text.contains("span of linen"), "{text}");
}

#[test]
fn every_line_fits_into_80_columns() {
    let desk = Desk::new();
    let long = |n: usize| Truth {
        plate: "the-longest-name-there-i",
        tip: 0.5 + if n < 20 { 0.0 } else { 0.137 },
        ..sound(n - n % 2)
    };
    keep(&desk, &cycles(0, 60, long));
    for command in ["watch", "plates", "history"] {
        let text = ask(&desk, command, &[]).out;
        assert!(text.contains("the-longe"), "{text}");
        for line in text.lines() {
            // A folder's name may be as long as it likes.
            let columns = line.replace(&desk.history, "h.sqlite").chars().count();
            assert!(columns <= 80, "{columns}: {line}");
        }
    }
}

/// A nozzle that stands 137 µm further out from cycle 20 on.
fn nozzle(n: usize) -> Truth {
    let moved = if n < 20 { 0.0 } else { 0.137 };
    let sound = sound(n);
    Truth { tip: sound.tip + moved, drop: sound.drop - moved, ..sound }
}

#[test]
fn a_nozzle_that_nobody_entered_gives_an_alarm_with_its_cause() {
    let desk = Desk::new();
    keep(&desk, &cycles(0, 22, nozzle));
    let (code, document) = watch(&desk);
    assert_eq!((code, &document["alarm"]), (Some(1), &true.into()));
    assert_eq!(document["alarms"], serde_json::json!([{"entry": 21, "answered_by": null}]));
    assert_eq!(causes(&document), ["nozzle"]);
    let shift = document["causes"][0]["shift"].as_f64().expect("mm");
    assert!((shift - 0.137).abs() < 0.005, "{shift}");
    assert_eq!(document["charts"][0]["alarm"], serde_json::json!({"side": "up", "chart": "ewma"}));
    let text = ask(&desk, "watch", &[]).words();
    assert!(
        text.contains("since entry 21")
            && text.contains("the nozzle now hangs lower or higher")
            && text.contains("!!"),
        "{text}"
    );

    // Entered where it belongs, it never was an alarm.
    desk.history(&["note", "nozzle", "--before", "21"]);
    let (code, document) = watch(&desk);
    assert_eq!((code, document["alarms"].as_array().map(Vec::len)), (Some(0), Some(0)));
    assert_eq!(document["charts"][0]["points"][20]["new_level"], true);
    assert_eq!(document["charts"][2]["points"][10]["new_level"], false);
    // And it goes on at the new level.
    keep(&desk, &cycles(22, 40, nozzle));
    assert_eq!(watch(&desk).0, Some(0));
}

/// The page of everything begins with it: the landings below may be sound ones, of a machine that has
/// changed.
#[test]
fn a_report_names_the_alarm_in_short() {
    let desk = Desk::new();
    let log = cycles(0, 22, nozzle);
    keep(&desk, &log);
    let (log, out) = (desk.folder.write("touches.csv", log), desk.folder.path("r.html"));
    let out = out.to_str().expect("UTF-8");
    let short = || {
        let args = ["report", out, "--land", &log, "-m", &desk.machine, "--history", &desk.history];
        let code = run(&args).code;
        let html = desk.folder.read("r.html");
        let section =
            html.split("<section id=\"in-short\"").nth(1).and_then(|rest| rest.split("</section>").next());
        (code, section.expect("the section").to_owned())
    };
    let (code, alarmed) = short();
    assert_eq!(code, Some(1));
    for words in [
        "Alarm active since entry 21",
        "the nozzle now hangs lower or higher",
        "#in-short-history",
        "Accept: run",
    ] {
        assert!(alarmed.contains(words), "{words}: {alarmed}");
    }
    assert!(alarmed.find("in alarm") < alarmed.find("Accept"), "{alarmed}");
    desk.history(&["note", "nozzle", "--before", "21"]);
    let (code, quiet) = short();
    assert!(code == Some(0) && !quiet.contains("alarm"), "{quiet}");
}

#[test]
fn an_alarm_is_answered_afterwards_too() {
    let desk = Desk::new();
    keep(&desk, &cycles(0, 22, nozzle));
    desk.history(&["note", "nozzle"]);
    let (code, document) = watch(&desk);
    assert_eq!(
        (code, &document["alarms"]),
        (Some(0), &serde_json::json!([{"entry": 21, "answered_by": 23}]))
    );
    assert!(ask(&desk, "watch", &[]).words().contains("at entry 21, answered by 23"));
    // What does not move tip and drop answers nothing.
    desk.history(&["forget", "23"]);
    desk.history(&["note", "trim"]);
    desk.history(&["note", "remark", "--text", "hm"]);
    assert_eq!(watch(&desk).0, Some(1));
    desk.history(&["note", "nothing"]);
    assert_eq!(watch(&desk).0, Some(0));
}

#[test]
fn another_nozzle_by_name_is_no_alarm() {
    let desk = Desk::new();
    let (before, after) = (cycles(0, 20, nozzle), cycles(20, 24, nozzle));
    for (log, name) in [(&before, "brass"), (&after, "hard")] {
        assert_eq!(desk.land(log, &["--keep", "--nozzle", name]).code, Some(0));
    }
    assert_eq!(watch(&desk).0, Some(0));
    // The same name, and nothing is known of a change.
    let desk = Desk::new();
    for log in [&before, &after] {
        desk.land(log, &["--keep", "--nozzle", "brass"]);
    }
    assert_eq!(watch(&desk).0, Some(1));
}

#[test]
fn each_thing_that_moves_is_told_from_the_others() {
    type By = fn(&mut Truth);
    let moved = |by: By| {
        move |n| {
            let mut truth = sound(n);
            if n >= 24 {
                by(&mut truth);
            }
            truth
        }
    };
    let cases: [(By, &str, &str); 4] = [
        (|t| t.drop += 0.15, "probe-seat", "probe"),
        (|t| (t.tip, t.span) = (t.tip - 0.05, t.span + 0.05), "datum-switch", "datum-switch"),
        (|t| t.span += 0.05, "trip-depth", "trim"),
        (|t| t.span += if t.plate == "slate" { 0.05 } else { 0.0 }, "plate", "plate"),
    ];
    for (by, cause, note) in cases {
        let desk = Desk::new();
        keep(&desk, &cycles(0, 30, moved(by)));
        let (code, document) = watch(&desk);
        assert_eq!((code, causes(&document)[0].as_str()), (Some(1), cause), "{document}");
        let plate: &[&str] = if note == "plate" { &["--plate", "slate"] } else { &[] };
        desk.history(&[&["note", note], plate].concat());
        assert_eq!(watch(&desk).0, Some(0), "{note}");
    }
}

#[test]
fn what_is_left_out_gives_no_alarm() {
    let desk = Desk::new();
    // The tip alone moves.
    keep(&desk, &cycles(0, 24, |n| Truth { tip: if n < 20 { 0.5 } else { 0.55 }, ..sound(n) }));
    assert_eq!(watch(&desk).0, Some(1));
    let without = ask(&desk, "watch", &["--homed-by-tip", "--json"]);
    assert_eq!((without.code, &without.json()["charts"][0]["quantity"]), (Some(0), &"drop".into()));
    assert_eq!(ask(&desk, "watch", &["--steadiest", "0.05"]).code, Some(0));
    assert_refused(&ask(&desk, "watch", &["--steadiest", "4"]), &["below 4 mm"]);
    assert_refused(&ask(&Desk::new(), "watch", &[]), &["no history yet"]);
    assert_refused(&ask(&Desk::new(), "plates", &[]), &["no history yet"]);
}

#[test]
fn more_plates_than_there_is_room_for_are_told() {
    let desk = Desk::new();
    let mut log = "run,plate,station,z\n".to_owned();
    for n in 0..66 {
        for line in cycles(n, n + 1, |n| Truth { span: 0.1 + 0.01 * n as f64, ..sound(n) }).lines().skip(1) {
            log.push_str(&line.replace("slate", &format!("p{n}")).replace("linen", &format!("p{n}")));
            log.push('\n');
        }
    }
    let landed = desk.land(&log, &["--keep"]);
    assert_eq!(landed.code, Some(0), "{}", landed.err);
    let document = ask(&desk, "plates", &["--json"]).json();
    assert_eq!(document["plates"].as_array().map(Vec::len), Some(64));
    assert!(
        document["notes"][0].as_str().is_some_and(|note| note.contains("more than 64 plates")),
        "{}",
        document["notes"]
    );
    let (_, document) = watch(&desk);
    assert!(
        document["notes"][1].as_str().is_some_and(|note| note.contains("no room")),
        "{}",
        document["notes"]
    );
}
