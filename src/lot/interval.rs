//! An expected figure with its interval.

use crate::domain::Promise;
use crate::domain::units::G_PER_POUND;
use crate::numeric::summary::NINETY;
use serde::{Deserialize, Serialize};

/// A forecast with its 90 % interval.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct Interval {
    /// What is expected.
    #[serde(rename = "expected_blanks")]
    pub expected: f64,
    /// 5 % point.
    pub low: f64,
    /// 95 % point.
    pub high: f64,
}

impl Interval {
    /// The same times a factor that is itself unsure: its logarithm has an sd of `log_sd`, and what either is off joins as a
    /// root of squares, below and above for themselves.
    pub(super) fn borne_out(self, promise: Promise) -> Interval {
        let expected = self.expected * promise.factor;
        if self.expected <= 0.0 {
            return self.scaled(promise.factor);
        }
        let off = |to: f64| (to / self.expected).ln().hypot(NINETY * promise.log_sd);
        Interval {
            expected,
            // of nothing at all no share is left
            low: if self.low > 0.0 { expected * (-off(self.low)).exp() } else { 0.0 },
            high: expected * off(self.high).exp(),
        }
    }

    /// A rate per kilogram as one per pound.
    pub(super) fn per_pound(self) -> Interval {
        self.scaled(G_PER_POUND / 1000.0)
    }

    pub(super) fn scaled(self, factor: f64) -> Interval {
        Interval { expected: self.expected * factor, low: self.low * factor, high: self.high * factor }
    }
}

/// What one blank costs; `None` where no blank is expected.
pub(super) fn cost(spent: f64, blanks: &Interval) -> Option<Interval> {
    let each = |n: f64| if n > 0.0 { spent / n } else { f64::INFINITY };
    let cost = Interval { expected: each(blanks.expected), low: each(blanks.high), high: each(blanks.low) };
    (blanks.expected > 0.0).then_some(cost)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_earlier_lots_bore_out_lowers_and_widens_a_promise() {
        // 200 (180 to 220) times 0.9: 180; ln 0.9 = -0.10536 and 1.645 x 0.05 = 0.08225 make 0.13366 below: 157.5; ln 1.1 =
        // 0.09531 makes 0.12590 above: 204.1
        let promise = Promise { factor: 0.9, log_sd: 0.05 };
        let i = Interval { expected: 200.0, low: 180.0, high: 220.0 }.borne_out(promise);
        assert!((i.expected - 180.0).abs() < 1e-9 && (i.low - 157.48).abs() < 0.01 && (i.high - 204.15).abs() < 0.01);
        // what was sure is as unsure as the factor; of nothing nothing comes
        let sure = Interval { expected: 10.0, low: 10.0, high: 10.0 }.borne_out(promise);
        assert!((sure.high / sure.expected).ln() - 0.082_25 < 1e-9 && sure.low < sure.expected);
        let none = Interval { expected: 0.0, low: 0.0, high: 0.0 }.borne_out(promise);
        assert_eq!((none.expected, none.low, none.high), (0.0, 0.0, 0.0));
        let may_be_none = Interval { expected: 2.0, low: 0.0, high: 4.0 }.borne_out(promise);
        assert!(may_be_none.low == 0.0 && may_be_none.high > 3.6, "{may_be_none:?}");
    }
}
