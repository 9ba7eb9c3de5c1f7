//! One tube as the maker knows it before splitting.

use super::{Angle, Cut, Mark, Reading, Scan};

/// One tube of a lot.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Tube {
    /// The maker's name for it, unique in the lot.
    pub name: String,
    /// Length, mm. Taken from `tubes.csv`, or from the furthest reading when there is no such file.
    pub length_mm: f64,
    /// True when `length_mm` is only the furthest reading's place.
    pub length_is_guess: bool,
    /// Weight, g.
    pub weight_g: Option<f64>,
    /// A single wall reading from the tube list, mm.
    pub wall_mm: Option<f64>,
    /// Minutes that measuring it took; `None`: nobody looked at the clock.
    pub minutes: Option<f64>,
    /// Free text.
    pub note: String,
    /// Everything measured on it, in the order of the files.
    pub readings: Vec<Reading>,
    /// Points from a scanner.
    pub scan: Option<Scan>,
    /// Places no run may touch.
    pub marks: Vec<Mark>,
    /// What happened when it was split and cut; `None` while nobody wrote it down.
    pub cut: Option<Cut>,
    /// The angle it is to be planned at; `None`: the one that does best.
    pub aim: Option<Angle>,
    /// True when a row that concerns this tube could not be read: the tube is listed but not analysed.
    pub in_doubt: bool,
}

impl Tube {
    /// True where nothing was read that tells of its outside shape, and it was not scanned.
    #[must_use]
    pub fn is_unread(&self) -> bool {
        self.scan.is_none() && !self.readings.iter().any(|r| r.kind.is_outside())
    }

    /// True where it is written down where its split lines fell: by their angles, or by the widths of the backs.
    #[must_use]
    pub fn is_split(&self) -> bool {
        self.cut.as_ref().is_some_and(|c| !c.lines.is_empty() || !c.backs_mm.is_empty())
    }
}
