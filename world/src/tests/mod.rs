//! The world's own steps, exactly: no noise, so that every height and every second follows by hand.

pub(crate) mod machine;
mod readings;
mod steps;
mod true_values;
mod unshown;
