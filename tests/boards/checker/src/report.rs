//! What is said, and how it ended.

use std::process::ExitCode;

/// Lines and their count.
#[derive(Debug, Default)]
pub struct Report {
    passed: u32,
    failed: u32,
    not_run: u32,
    left_out: u32,
}

impl Report {
    pub fn pass(&mut self, line: &str) {
        self.passed += 1;
        println!("{line}");
    }

    pub fn fail(&mut self, line: &str) {
        self.failed += 1;
        println!("FAILED: {line}");
    }

    /// Never counted as passed; says what is missing and how to get it.
    pub fn not_run(&mut self, what: &str, missing: &str) {
        self.not_run += 1;
        println!("{what}: NOT RUN: missing {missing}");
    }

    /// Never counted as passed, and nothing that installing anything would help.
    pub fn leave_out(&mut self, what: &str, why: &str) {
        self.left_out += 1;
        println!("{what}: LEFT OUT: {why}");
    }

    /// Neither passed nor failed: a figure.
    pub fn say(&self, line: &str) {
        println!("{line}");
    }

    /// Adds up what another one counted.
    pub const fn take_in(&mut self, other: &Self) {
        self.passed += other.passed;
        self.failed += other.failed;
        self.not_run += other.not_run;
        self.left_out += other.left_out;
    }

    /// Whether nothing has failed and everything was run that can be.
    pub const fn complete(&self) -> bool {
        self.failed == 0 && self.not_run == 0
    }

    /// The last line and the exit code.
    pub fn close(&self, require_all: bool) -> ExitCode {
        let Self { passed, failed, not_run, left_out } = self;
        println!("boards: {passed} passed, {failed} failed, {not_run} not run, {left_out} left out");
        if self.failed > 0 || (require_all && self.not_run > 0) {
            ExitCode::FAILURE
        } else {
            ExitCode::SUCCESS
        }
    }
}

/// 4321 as `4,321`.
pub fn thousands(number: u64) -> String {
    let digits = number.to_string();
    let mut out = String::new();
    for (index, digit) in digits.char_indices() {
        if index > 0 && (digits.len() - index).is_multiple_of(3) {
            out.push(',');
        }
        out.push(digit);
    }
    out
}
