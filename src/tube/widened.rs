//! What is said of a tube whose readings do not look like the tubes and instruments of its lot.

use serde::{Deserialize, Serialize};

/// A doubt wider by less than this is told without a number: nobody would act on it.
const HARDLY: f64 = 1.15;

/// How the doubt of a tube was widened whose readings do not look like the tubes and instruments of its lot.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Widened {
    /// Standard deviation of the bark's height, the mean of places spread over the tube, over what it would have been.
    pub times: f64,
    /// Readings doubted before.
    pub doubted_before: usize,
}

impl Widened {
    /// The same in words, without a stop.
    ///
    /// Readings that were doubted before now count in full, so the doubt can come out hardly wider, or even narrower: then
    /// no number is told, only that the tube was taken for a rougher one.
    #[must_use]
    pub fn words(&self) -> String {
        let unlike = "these readings do not agree with a tube this smooth";
        let times = if self.times < 9.95 { format!("{:.1}", self.times) } else { format!("{:.0}", self.times) };
        if self.times < HARDLY {
            format!("{unlike}: taken for a rougher one, its doubt hardly wider")
        } else {
            format!("{unlike}: doubt widened {} times", times.trim_end_matches(".0"))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_widening_is_told_to_a_tenth_and_never_as_once() {
        for (times, told) in [
            (3.0, "doubt widened 3 times"),
            (2.46, "doubt widened 2.5 times"),
            (9.96, "doubt widened 10 times"),
            (20.4, "doubt widened 20 times"),
            (1.15, "doubt widened 1.1 times"),
            (1.04, "taken for a rougher one, its doubt hardly wider"),
            (0.7, "taken for a rougher one, its doubt hardly wider"),
        ] {
            let words = Widened { times, doubted_before: 12 }.words();
            assert_eq!(words, format!("these readings do not agree with a tube this smooth: {told}"), "{times}");
        }
    }
}
