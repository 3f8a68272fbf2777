// E0308
fn land(draft: &zdatum::Draft, touches: &zdatum::Touches) {
    let _ = zdatum::Landing::of(draft, touches);
}

fn main() {}
