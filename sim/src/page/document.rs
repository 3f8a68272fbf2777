//! The page as first sent: everything that does not depend on a machine, with script and style inline.

use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::show::{chart, report};

const SCRIPT: &str = include_str!("page.js");
const CSS: &str = include_str!("page.css");

/// The page; only what carries this nonce is run.
pub(super) fn page(nonce: &str) -> String {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                meta name="referrer" content="no-referrer";
                title { "Bench – zdatum" }
                // Without it a browser asks for one.
                link rel="icon" href="data:,";
                style nonce=(nonce) { (PreEscaped(chart::CSS)) (PreEscaped(report::CSS)) (PreEscaped(CSS)) }
            }
            body {
                header {
                    p.maker { "zdatum" }
                    h1 { "Bench" }
                    p.made { "Machine: " span #machine-name { "…" } }
                }
                nav aria-label="Views" {
                    button type="button" data-view="bench" aria-current="page" { "Bench" }
                    button type="button" data-view="landing" { "Land a log" }
                    button type="button" data-view="history" hidden { "History" }
                }
                p #says role="status" aria-live="polite" { "Loading …" }
                div #trouble role="alert" hidden {}
                main {
                    (bench())
                    (landing())
                    div.view #history-view hidden {
                        h2.unseen { "History" }
                        div.results #entry {}
                        div.results #history {}
                    }
                }
                footer {
                    p { "zdatum " (env!("CARGO_PKG_VERSION")) ". Served by your own computer: nothing is \
                        loaded from or sent elsewhere. The simulated machine is a model: it knows your \
                        switches only from the machine file." }
                }
                script nonce=(nonce) { (PreEscaped(SCRIPT)) }
            }
        }
    }
    .into_string()
}

/// The simulated machine, with its settings.
fn bench() -> Markup {
    html! {
        div.view #bench {
            h2.unseen { "Simulated machine" }
            p.intro { "Move a slider, and the machine is simulated again, cycle by cycle, with the same \
                code that a firmware embeds. If you change a switch’s noise, its study changes with it." }
            div.bench {
                form #controls-form aria-label="Settings" {
                    details #settings open {
                        summary { "Settings" }
                        div #controls {}
                    }
                    p.buttons {
                        button type="reset" { "Reset to machine file" }
                        button type="button" #cancel disabled { "Stop" }
                    }
                    p.note #took {}
                }
                div.results {
                    div #in-short {}
                    div #error {}
                    div #budget {}
                    div #methods {}
                    div #refused {}
                }
            }
        }
    }
}

/// Where a log is dropped.
fn landing() -> Markup {
    html! {
        div.view #landing-view hidden {
            h2.unseen { "Land a log" }
            p.intro { "Drop a touch log anywhere on this page, or choose it here. You can add a machine \
                file; otherwise the landing is computed for the machine named above. Both files stay on this \
                computer." }
            p.files {
                label for="log-file" { "Touch log (CSV)" }
                input type="file" #log-file accept=".csv,text/csv,text/plain";
            }
            p.files {
                label for="machine-file" { "Machine file (TOML)" }
                input type="file" #machine-file accept=".toml,application/toml,text/plain";
            }
            div.results #landing {}
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_page_needs_nothing_from_elsewhere() {
        let page = page("n0nce");
        for elsewhere in ["http:", "https:", "src=", "@import", "url(", "eval", " style=", "onclick"] {
            assert!(!page.contains(elsewhere), "{elsewhere}");
        }
        assert_eq!(page.matches("<script nonce=\"n0nce\">").count(), 1);
        assert_eq!(page.matches("</script").count(), 1);
        assert_eq!(page.matches("</style").count(), 1);
        assert_eq!(page.matches("nonce=").count(), 2);
    }
}
