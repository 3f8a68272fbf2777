//! `guide` in a terminal of its own: `script` of util-linux, which every Linux has, makes one.

#![cfg(target_os = "linux")]

use std::process::{Command, Stdio};

use std::io::Write;

use super::tool::Folder;

#[test]
fn a_terminal_shows_each_answer_once_and_styles() {
    let folder = Folder::new();
    let tool = env!("CARGO_BIN_EXE_zdatum");
    let mut child = Command::new("script")
        .args(["--quiet", "--return", "--flush", "--command"])
        .arg(format!("'{tool}' guide m.toml"))
        .arg("/dev/null")
        .current_dir(folder.path("."))
        .env("TERM", "xterm")
        .env_remove("NO_COLOR")
        .env_remove("CLICOLOR")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("`script` of util-linux makes a terminal; install it");
    let mut input = child.stdin.take().expect("a pipe");
    input.write_all(b"yes\n0 231\nnot this\nquit\n").expect("lines");
    let output = child.wait_with_output().expect("it ends");
    drop(input);
    let text = String::from_utf8_lossy(&output.stdout);
    assert_eq!(output.status.code(), Some(130), "{text}");
    // The terminal echoes what is typed; the tool does not repeat it.
    assert_eq!(text.matches("0 231").count(), 1, "{text}");
    assert!(
        text.contains("\u{1b}[1m") && text.contains("Not taken") && text.contains("travel-y> "),
        "{text}"
    );
    assert!(folder.read("m.guide.json").contains("0 231"));
}
