//! `zdatum completions SHELL`.

use clap::CommandFactory;
use zdatum_sim::text::Problem;

use super::{Answer, Cli};

/// Print shell completions
#[derive(clap::Args)]
#[command(after_help = "\
Examples:
  zdatum completions bash > ~/.local/share/bash-completion/completions/zdatum
  zdatum completions fish > ~/.config/fish/completions/zdatum.fish")]
pub(crate) struct Args {
    /// Shell to complete for
    shell: clap_complete::Shell,
}

pub(crate) fn run(args: &Args) -> Result<Answer, Problem> {
    let mut script = Vec::new();
    clap_complete::generate(args.shell, &mut Cli::command(), "zdatum", &mut script);
    let text = String::from_utf8(script).map_err(|error| Problem::new(format!("completions: {error}")))?;
    Ok(Answer::new(text, true))
}
