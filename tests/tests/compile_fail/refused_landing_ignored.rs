// E0609
fn print(verdict: &zdatum::Assessment) -> zdatum::Length {
    verdict.landing().height
}

fn main() {}
