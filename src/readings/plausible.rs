//! Sizes a tube can have, and the slips that give others.

use crate::domain::{Kind, units::MM_PER_INCH};

/// A range of sizes in mm; common practice, no source, and wide: what is outside is a slip of the pen.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sizes {
    pub(super) least: f64,
    pub(super) most: f64,
}

/// Length of a tube.
pub(super) const TUBE_LENGTH: Sizes = Sizes { least: 30.0, most: 3000.0 };
/// Thickness of a wall.
pub(super) const WALL: Sizes = Sizes { least: 0.3, most: 15.0 };
/// Least and largest included angle of a V-block, degrees.
pub(super) const VEE_DEG: (f64, f64) = (10.0, 170.0);
/// Distance between the feet of a bar: below it a bar does not stand, and no tube is longer.
pub(super) const SPAN: Sizes = Sizes { least: 5.0, most: 3000.0 };
/// Standard deviation of a reading.
pub(super) const SD: Sizes = Sizes { least: 0.0, most: 5.0 };

/// The sizes a reading of this kind can have.
pub(super) fn sizes(kind: Kind) -> Sizes {
    match kind {
        Kind::Diameter => Sizes { least: 3.0, most: 80.0 },
        Kind::Radius | Kind::Outline => Sizes { least: 1.5, most: 60.0 },
        Kind::Runout | Kind::Lifted => Sizes { least: -50.0, most: 50.0 },
        // of a bar as long as the tube on a very crooked one
        Kind::Bridge => Sizes { least: -20.0, most: 20.0 },
        // it rests: a negative gap cannot be
        Kind::Gap => Sizes { least: 0.0, most: 50.0 },
        // a dial may be set to 0 or may show the height over the block's base
        Kind::Vee => Sizes { least: -100.0, most: 200.0 },
        Kind::Arc => Sizes { least: 3.0, most: 200.0 },
        // degrees, checked where it is read
        Kind::Grain => Sizes { least: -360.0, most: 360.0 },
        Kind::Wall => WALL,
    }
}

impl Sizes {
    /// `None` when `mm` is a size to be expected, else what was expected and the likely slip.
    pub(super) fn complaint(self, mm: f64) -> Option<(String, String)> {
        let holds = |x: f64| (self.least..=self.most).contains(&x);
        if holds(mm) {
            return None;
        }
        let expected = format!("{} to {} mm", self.least, self.most);
        let fix = if mm <= 0.0 && self.least > 0.0 {
            "leave out the row if nothing was measured"
        } else if holds(mm * MM_PER_INCH) {
            "are these inches typed in a mm column? Write the unit in the header or the cell"
        } else if holds(mm / MM_PER_INCH) {
            "are these mm typed in an inch column? Write the unit in the header or the cell"
        } else if holds(mm * 10.0) || holds(mm / 10.0) {
            "is the decimal mark in the right place?"
        } else {
            "measure it again, or leave out the row; do z, angle and value stand under their own headings?"
        };
        Some((expected, fix.to_string()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slips_are_told_apart() {
        let says = |mm: f64, word: &str| {
            let c = sizes(Kind::Diameter).complaint(mm);
            assert!(c.as_ref().is_some_and(|(_, fix)| fix.contains(word)), "{mm}: {c:?}");
        };
        says(1.0, "inches typed in a mm column");
        says(645.16, "mm typed in an inch column");
        says(0.0, "nothing was measured");
        says(-25.0, "nothing was measured");
        says(4000.0, "measure it again");
        assert!(sizes(Kind::Diameter).complaint(25.4).is_none());
        assert!(sizes(Kind::Runout).complaint(-0.3).is_none());
    }
}
