// E0308
fn setup(draft: zdatum::Draft) -> zdatum::Setup {
    draft
}

fn main() {}
