//! What the tool `zdatum` is made of, beside its commands: the files it reads and the ways it shows a
//! landing.
//!
//! The landing itself is computed by the package `zdatum`, the very code that a firmware embeds. This crate
//! does not compute one; it does not talk to a machine either.

#![forbid(unsafe_code)]

pub mod demo;
pub mod files;
pub mod guide;
pub mod history;
pub mod judged;
pub mod page;
pub mod show;
pub mod study;
pub mod text;

pub use zdatum_world as world;
