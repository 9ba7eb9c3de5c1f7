//! Sizes a tube can have, and the slips that give others.

use crate::domain::{
    Kind,
    units::{LengthUnit, MM_PER_INCH},
};

/// A range of sizes in mm; common practice, no source, and wide: what is outside is a slip of the pen.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sizes {
    pub(super) least: f64,
    pub(super) most: f64,
    /// About what is usual, where there is such a size: the slip that leads nearest to it is the likeliest.
    usual: Option<f64>,
}

/// Length of a tube.
pub(super) const TUBE_LENGTH: Sizes = Sizes::about(30.0, 200.0, 3000.0);
/// Thickness of a wall.
pub(super) const WALL: Sizes = Sizes::about(0.3, 3.5, 15.0);
/// Least and largest included angle of a V-block, degrees.
pub(super) const VEE_DEG: (f64, f64) = (10.0, 170.0);
/// Distance between the feet of a bar: below it a bar does not stand, and no tube is longer.
pub(super) const SPAN: Sizes = Sizes::about(5.0, 70.0, 3000.0);
/// Standard deviation of a reading.
pub(super) const SD: Sizes = Sizes::within(0.0, 5.0);
/// Two slips are both named where the second leads to a size not further from the usual one than this many times that of
/// the first.
const ALMOST: f64 = 1.3;

/// The sizes a reading of this kind can have.
pub(super) fn sizes(kind: Kind) -> Sizes {
    match kind {
        Kind::Diameter => Sizes::about(3.0, 25.0, 80.0),
        Kind::Radius | Kind::Outline => Sizes::about(1.5, 12.5, 60.0),
        Kind::Runout | Kind::Lifted => Sizes::within(-50.0, 50.0),
        // of a bar as long as the tube on a very crooked one
        Kind::Bridge => Sizes::within(-20.0, 20.0),
        // it rests: a negative gap cannot be
        Kind::Gap => Sizes::within(0.0, 50.0),
        // a dial may be set to 0 or may show the height over the block's base
        Kind::Vee => Sizes::within(-100.0, 200.0),
        Kind::Arc => Sizes::about(3.0, 25.0, 200.0),
        // degrees, checked where it is read
        Kind::Grain => Sizes::within(-360.0, 360.0),
        Kind::Wall => WALL,
    }
}

/// Where the unit of a number was stated.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Stated {
    Nowhere,
    /// In the header of its column.
    Header,
    /// In the row's own column `unit`.
    Row,
    /// Beside the number.
    Number,
}

/// The unit a number was read in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct ReadIn {
    pub(super) unit: LengthUnit,
    pub(super) stated: Stated,
}

/// What a number that is no likely size may really be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Slip {
    Inches,
    Millimetres,
    DecimalMark,
}

impl Sizes {
    const fn within(least: f64, most: f64) -> Sizes {
        Sizes { least, most, usual: None }
    }

    const fn about(least: f64, usual: f64, most: f64) -> Sizes {
        Sizes { least, most, usual: Some(usual) }
    }

    /// `None` when `mm` is a size to be expected, else what was expected and the likely slip.
    pub(super) fn complaint(self, mm: f64, read: ReadIn) -> Option<(String, String)> {
        if self.holds(mm) {
            return None;
        }
        let expected = format!("{} to {} mm", self.least, self.most);
        if mm <= 0.0 && self.least > 0.0 {
            return Some((expected, "leave out the row if nothing was measured".to_string()));
        }
        let slips = self.slips(mm, read.unit);
        let fix = match slips.as_slice() {
            [] => {
                "measure it again, or leave out the row; do z, angle and value stand under their own headings?".into()
            }
            [(first, _)] => first.question(read),
            [(first, off), (second, more), ..] if *more <= off * ALMOST => {
                format!("{}; or: {}", first.question(read), second.question(read))
            }
            [(first, _), ..] => first.question(read),
        };
        Some((expected, fix))
    }

    fn holds(self, mm: f64) -> bool {
        (self.least..=self.most).contains(&mm)
    }

    /// The slips that explain `mm`, the likeliest first, each with how many times off the usual size it leads (1 where
    /// none is usual).
    fn slips(self, mm: f64, unit: LengthUnit) -> Vec<(Slip, f64)> {
        let typed = mm / unit.mm();
        let meant = [
            (Slip::Inches, typed * MM_PER_INCH, unit != LengthUnit::Inch),
            (Slip::Millimetres, typed, unit != LengthUnit::Millimetre),
            (Slip::DecimalMark, mm * 10.0, true),
            (Slip::DecimalMark, mm / 10.0, true),
            (Slip::DecimalMark, mm * 100.0, true),
            (Slip::DecimalMark, mm / 100.0, true),
        ];
        let off = |mm: f64| self.usual.map_or(1.0, |usual| (mm / usual).max(usual / mm));
        let mut slips: Vec<(Slip, f64)> =
            meant.iter().filter(|m| m.2 && self.holds(m.1)).map(|m| (m.0, off(m.1))).collect();
        slips.sort_by(|a, b| a.1.total_cmp(&b.1));
        let mut seen = Vec::new();
        slips.retain(|s| {
            !seen.contains(&s.0) && {
                seen.push(s.0);
                true
            }
        });
        slips
    }
}

impl Slip {
    /// What to ask, and what to do if so; never to write a unit that stands there already.
    fn question(self, read: ReadIn) -> String {
        let unit = read.unit.word();
        let (meant, short) = match self {
            Slip::DecimalMark => return "is the decimal mark in the right place?".to_string(),
            Slip::Inches => ("inches", "in"),
            Slip::Millimetres => ("mm", "mm"),
        };
        let article = if unit.starts_with(['i', 'u']) { "an" } else { "a" };
        let long = if read.unit == LengthUnit::Inch { "inch" } else { unit };
        let asked = format!("are these {meant} typed in {article} {long} column?");
        match read.stated {
            Stated::Nowhere => format!("{asked} Write the unit in the header or the cell"),
            Stated::Header => format!("{asked} The header says {unit}: correct it, or write {short} behind the number"),
            Stated::Row => format!("{asked} The column unit says {unit}: write {short} there"),
            Stated::Number => format!("are these {meant}? {unit} stands behind the number: write {short} there"),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PLAIN: ReadIn = ReadIn { unit: LengthUnit::Millimetre, stated: Stated::Nowhere };

    fn fix(kind: Kind, mm: f64, read: ReadIn) -> String {
        sizes(kind).complaint(mm, read).map_or(String::new(), |c| c.1)
    }

    #[test]
    fn slips_are_told_apart() {
        let inch = ReadIn { unit: LengthUnit::Inch, stated: Stated::Header };
        for (mm, read, word) in [
            (1.0, PLAIN, "inches typed in a mm column"),
            (645.16, inch, "mm typed in an inch column"),
            (0.0, PLAIN, "nothing was measured"),
            (-25.0, PLAIN, "nothing was measured"),
            (40_000.0, PLAIN, "measure it again"),
        ] {
            let said = fix(Kind::Diameter, mm, read);
            assert!(said.contains(word), "{mm}: {said}");
        }
        assert!(sizes(Kind::Diameter).complaint(25.4, PLAIN).is_none());
        assert!(sizes(Kind::Runout).complaint(-0.3, PLAIN).is_none());
    }

    #[test]
    fn a_decimal_slip_is_not_called_inches() {
        let decimal = "is the decimal mark in the right place?";
        // 2.57 for 25.7: as inches it would be 65 mm, far from any cane
        for (kind, mm) in [
            (Kind::Diameter, 2.57),
            (Kind::Diameter, 257.0),
            (Kind::Radius, 1.27),
            (Kind::Wall, 35.0),
            (Kind::Arc, 2.5),
        ] {
            assert_eq!(fix(kind, mm, PLAIN), decimal, "{kind:?} {mm}");
        }
        // 1.5 could be 38 mm or 15 mm: both are asked
        let both = fix(Kind::Diameter, 1.5, PLAIN);
        assert!(both.contains("inches") && both.contains(decimal), "{both}");
        // a number in a mm column is never mm typed in an inch column
        assert_eq!(fix(Kind::Runout, 60.0, PLAIN), decimal);
    }

    #[test]
    fn nobody_is_told_to_write_a_unit_that_stands_there() {
        let of = |unit, stated| fix(Kind::Diameter, 1.01, ReadIn { unit, stated });
        let mm = LengthUnit::Millimetre;
        assert!(of(mm, Stated::Nowhere).ends_with("Write the unit in the header or the cell"));
        assert!(of(mm, Stated::Header).ends_with("The header says mm: correct it, or write in behind the number"));
        assert!(of(mm, Stated::Row).ends_with("The column unit says mm: write in there"));
        assert_eq!(of(mm, Stated::Number), "are these inches? mm stands behind the number: write in there");
    }
}
