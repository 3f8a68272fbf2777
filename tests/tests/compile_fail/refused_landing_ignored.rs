fn print(verdict: &zdatum::Assessment) -> zdatum::Length {
    verdict.landing().height
}

fn main() {}
