//! One cycle in the world; many; and what many are compared for.

pub mod agreement;
pub mod campaign;
pub mod compare;
pub mod cycle;
pub mod figures;
pub mod histogram;
pub mod methods;
pub mod shares;
pub mod situations;
pub mod sweep;
pub mod tally;

pub use agreement::Agreement;
pub use campaign::{Campaign, campaign};
pub use compare::{Cell, Comparison, Grade, compare};
pub use cycle::{Bench, Ran, run, run_block};
pub use figures::Figures;
pub use methods::Method;
pub use shares::{Budget, Examined};
pub use situations::{Situation, Sizes};
pub use sweep::Sweep;
pub use tally::{Estimate, Tally};
