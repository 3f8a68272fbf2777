// E0616
fn change(setup: &mut zdatum::Setup) {
    let _ = &mut setup.draft;
}

fn main() {}
