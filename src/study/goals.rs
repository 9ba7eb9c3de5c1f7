//! What a belief is to reach, beside one that knows the true scales.

use super::outcome::{IN_A_LOT, Outcome};

/// What the belief is to reach: the loss against that of a belief which knows the true scales, the intervals, the promise.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Goals {
    /// Most to be lost, as a share; `None` where there is nothing to lose.
    pub lost: Option<f64>,
    /// Tube intervals that hold, exactly counted.
    pub exact: (f64, f64),
    /// Sums of ten that hold.
    pub sums: (f64, f64),
    /// Promised against true, where the readings see bow and lobes.
    pub promised: f64,
}

impl Goals {
    /// The goals beside a reference; `errors` standard errors of `lots` lots are allowed on every share.
    #[must_use]
    pub fn beside(reference: &Outcome, lots: u64, errors: f64) -> Goals {
        let slack = |p: f64, n: u64| errors * (p * (1.0 - p) / n as f64).sqrt();
        let (tubes, sums) = (slack(0.9, lots * IN_A_LOT as u64), slack(0.9, lots));
        Goals {
            lost: reference.lost.map(|(lost, error)| 1.15 * lost + 0.005 + errors * error),
            exact: (0.86 - tubes, 0.94 + tubes),
            sums: (0.84 - sums, 0.95 + sums),
            promised: 0.02 + errors * 0.01,
        }
    }

    /// The goals that an outcome misses, in words.
    #[must_use]
    pub fn missed(&self, o: &Outcome, sees_all: bool) -> Vec<String> {
        let mut out = Vec::new();
        let percent = |x: f64| format!("{:.1} %", 100.0 * x);
        if let Some(((lost, _), goal)) = o.lost.zip(self.lost).filter(|((lost, _), goal)| lost > goal) {
            out.push(format!("loses {}, goal {}", percent(lost), percent(goal)));
        }
        if !(self.exact.0..=self.exact.1).contains(&o.exact) {
            out.push(format!("tube intervals hold {}", percent(o.exact)));
        }
        if !(self.sums.0..=self.sums.1).contains(&o.sums) {
            out.push(format!("sums of ten hold {}", percent(o.sums)));
        }
        if let Some(promised) = o.promised.filter(|p| sees_all && p.abs() > self.promised) {
            out.push(format!("promises {:+.1} %", 100.0 * promised));
        }
        out
    }
}
