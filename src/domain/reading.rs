//! One number that a maker wrote down, and where on the tube it was taken.

use super::{Angle, Place};

/// What a reading measures. Each kind is one functional of the surface; the functional itself stands in
/// `tube::instrument`, what the kind cannot see in [`Kind::cannot_see`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum Kind {
    /// Width between parallel jaws closed along the direction `angle`.
    Diameter,
    /// Distance of the bark from a known axis, at `angle`.
    Radius,
    /// As radius, but from an unknown zero (one dial setting per `set`).
    Runout,
    /// Gap from a straightedge lying along the bark line at `angle`.
    Gap,
    /// Wall thickness.
    Wall,
}

impl Kind {
    /// Every kind this version reads, in the order they are listed to the user.
    pub const ALL: [Kind; 5] = [Kind::Diameter, Kind::Radius, Kind::Runout, Kind::Gap, Kind::Wall];

    /// The word used in files and tables.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Kind::Diameter => "diameter",
            Kind::Radius => "radius",
            Kind::Runout => "runout",
            Kind::Gap => "gap",
            Kind::Wall => "wall",
        }
    }

    /// The kind named by `word`, ignoring case and surrounding blanks.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Kind> {
        let w = word.trim().to_lowercase();
        Kind::ALL.into_iter().find(|k| k.word() == w)
    }

    /// What readings of this kind alone say nothing about.
    #[must_use]
    pub fn cannot_see(self) -> &'static str {
        match self {
            Kind::Diameter => "odd lobes, bow",
            Kind::Radius => "nothing of the outside shape",
            Kind::Runout => "mean size",
            Kind::Gap => "size, shape round the tube",
            Kind::Wall => "outside shape",
        }
    }

    /// Standard deviation assumed where neither the reading nor its rig states one, mm.
    ///
    /// Common practice, no source: caliper on waxy ridged bark 0.05, dial 0.02, feeler gap 0.03, wall 0.10.
    #[must_use]
    pub fn default_sd_mm(self) -> f64 {
        match self {
            Kind::Diameter => 0.05,
            Kind::Radius | Kind::Runout => 0.02,
            Kind::Gap => 0.03,
            Kind::Wall => 0.10,
        }
    }
}

/// One reading.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// What was measured.
    pub kind: Kind,
    /// Distance from the index end, mm.
    pub z_mm: f64,
    /// Direction round the tube.
    pub angle: Angle,
    /// The value as read, mm.
    pub value_mm: f64,
    /// Standard deviation stated for this very reading, mm.
    pub sd_mm: Option<f64>,
    /// Which dial setting or straightedge placement it belongs to; empty when none was given.
    pub set: String,
    /// Which `[rig.NAME]` took it; empty when none was given.
    pub rig: String,
    /// Where it stands in the user's files.
    pub place: Place,
}
