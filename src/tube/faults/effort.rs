//! How much a search may cost, and what it says when it stops.

use std::cell::Cell;

/// Looks of one search: one reading under one explanation, which costs one multiplication per unknown of the belief. A
/// round over 150 readings of a dial takes some 5,000, one over 3000 in stations of twelve some 800,000, mostly pairs of
/// stations. Counted and not timed, so that the same readings give the same answer.
pub(super) const MOST_LOOKS: usize = 3_000_000;

/// The looks left.
pub(super) struct Effort {
    left: Cell<usize>,
    stopped: Cell<bool>,
}

impl Effort {
    pub(super) fn new(looks: usize) -> Effort {
        Effort { left: Cell::new(looks), stopped: Cell::new(false) }
    }

    /// Takes so many looks; false, and the search counts as stopped, when they are not left.
    pub(super) fn spend(&self, looks: usize) -> bool {
        let left = self.left.get().checked_sub(looks);
        match left {
            Some(left) => self.left.set(left),
            None => self.stopped.set(true),
        }
        left.is_some()
    }

    /// True once something was not looked at.
    pub(super) fn stopped(&self) -> bool {
        self.stopped.get()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_not_left_is_not_spent_and_is_remembered() {
        let effort = Effort::new(10);
        assert!(effort.spend(7) && !effort.stopped());
        assert!(!effort.spend(4) && effort.stopped());
        assert!(effort.spend(3) && effort.stopped(), "what fits is still looked at");
    }
}
