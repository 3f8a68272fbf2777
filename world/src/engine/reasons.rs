//! Refused cycles by their first reason.

use zdatum::RefusalKind;

/// Counts, each at its reason's code.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Reasons([u64; 32]);

impl Reasons {
    /// One more; a refusal without a reason is the machine's.
    pub(crate) fn add(&mut self, first: Option<RefusalKind>) {
        let kind = first.unwrap_or(RefusalKind::MachineFault);
        if let Some(count) = self.0.get_mut(usize::from(kind.code())) {
            *count += 1;
        }
    }

    pub(crate) fn merge(&mut self, other: &Self) {
        self.0.iter_mut().zip(other.0).for_each(|(mine, theirs)| *mine += theirs);
    }

    /// In the order of the table; only what occurred.
    pub(crate) fn in_order(&self) -> impl Iterator<Item = (RefusalKind, u64)> + '_ {
        RefusalKind::ALL.iter().filter_map(|kind| {
            let count = self.0.get(usize::from(kind.code())).copied().unwrap_or(0);
            (count > 0).then_some((*kind, count))
        })
    }

    /// The most frequent first; of those as frequent in the order of the table.
    pub(crate) fn by_count(&self) -> Vec<(RefusalKind, u64)> {
        let mut all: Vec<_> = self.in_order().collect();
        all.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
        all
    }
}
