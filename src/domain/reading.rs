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
    /// Gap under a straightedge that rests on the bark line at `angle`; never negative.
    Gap,
    /// Gap under a straightedge lifted off the bark line at `angle` (as on two equal blocks), at a height and slope that
    /// nobody knows.
    Lifted,
    /// Sag at the middle of a bar on two feet a stated span apart along the bark line at `angle`, zeroed on a flat: positive
    /// where the bark stands above the line through the feet.
    Bridge,
    /// Wall thickness.
    Wall,
    /// Summit of the section over a V-block at the same station, turned so that `angle` is on top; an unknown zero per
    /// `set`. The reading grows when the summit rises.
    Vee,
    /// Diameter of the radius gauge that fits the back at `angle` over a stated width.
    Arc,
    /// Where a followed fibre lies: an angle in degrees (the one kind whose value is no length), one fibre per `set`.
    Grain,
    /// Distance of the outline of a section from an arbitrary point inside it (one per `set`), traced or scanned.
    Outline,
}

impl Kind {
    /// Every kind this version reads, in the order they are listed to the user.
    pub const ALL: [Kind; 11] = [
        Kind::Diameter,
        Kind::Radius,
        Kind::Runout,
        Kind::Vee,
        Kind::Gap,
        Kind::Lifted,
        Kind::Bridge,
        Kind::Wall,
        Kind::Arc,
        Kind::Grain,
        Kind::Outline,
    ];

    /// The word used in files and tables.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Kind::Diameter => "diameter",
            Kind::Radius => "radius",
            Kind::Runout => "runout",
            Kind::Gap => "gap",
            Kind::Lifted => "lifted",
            Kind::Bridge => "bridge",
            Kind::Wall => "wall",
            Kind::Vee => "vee",
            Kind::Arc => "arc",
            Kind::Grain => "grain",
            Kind::Outline => "outline",
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
            Kind::Gap | Kind::Lifted => "size, shape round the tube",
            Kind::Bridge => "size, shape round the tube, anything much longer than its span",
            Kind::Wall => "outside shape",
            Kind::Vee => "mean size, bow, and the lobes its angle is blind to (60 deg: ovality)",
            Kind::Arc => "bow, place",
            Kind::Grain => "all but the twist",
            Kind::Outline => "bow, and all other stations",
        }
    }

    /// True of gaps under a straightedge, whether it rests or is lifted.
    #[must_use]
    pub fn is_gap(self) -> bool {
        matches!(self, Kind::Gap | Kind::Lifted)
    }

    /// True for the one kind whose value is an angle.
    #[must_use]
    pub fn is_angle(self) -> bool {
        self == Kind::Grain
    }

    /// True when the reading touches the outside of the tube: it tells something of its shape.
    #[must_use]
    pub fn is_outside(self) -> bool {
        !matches!(self, Kind::Wall | Kind::Grain)
    }

    /// Standard deviation assumed where neither the reading nor its rig states one, mm (degrees for grain).
    ///
    /// Common practice, no source: caliper on waxy ridged bark 0.05, dial 0.02 (also over a V-block or in a bar), feeler gap 0.03,
    /// wall 0.10, radius gauge judged by its light 0.25, fibre followed by eye 1 deg (0.2 mm on the bark), traced outline
    /// 0.10.
    #[must_use]
    pub fn default_sd_mm(self) -> f64 {
        match self {
            Kind::Diameter => 0.05,
            Kind::Radius | Kind::Runout | Kind::Vee | Kind::Bridge => 0.02,
            Kind::Gap | Kind::Lifted => 0.03,
            Kind::Wall | Kind::Outline => 0.10,
            Kind::Arc => 0.25,
            Kind::Grain => 1.0,
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
    /// The value as read, mm; degrees for [`Kind::Grain`].
    pub value_mm: f64,
    /// Standard deviation stated for this very reading, in the unit of its value.
    pub sd_mm: Option<f64>,
    /// Step its instrument shows where no rig states one and the values of the lot tell it, mm.
    pub step_mm: Option<f64>,
    /// Included angle of the V-block, degrees; only a vee reading has one, and needs it unless its rig states it.
    pub vee_deg: Option<f64>,
    /// Width of the back that the gauge touches, mm; only an arc reading has one, and needs it.
    pub width_mm: Option<f64>,
    /// Distance between the two feet of the bar, mm; only a bridge reading has one, and needs it unless its rig states it.
    pub span_mm: Option<f64>,
    /// Which dial setting, straightedge placement, fibre or tracing it belongs to; empty when none was given.
    pub set: String,
    /// Which `[rig.NAME]` took it; empty when none was given.
    pub rig: String,
    /// Where it stands in the user's files.
    pub place: Place,
}

impl Reading {
    /// A reading of nothing but kind, place and value; the rest empty.
    #[must_use]
    pub fn new(kind: Kind, z_mm: f64, angle: Angle, value_mm: f64) -> Reading {
        let (set, rig, place) = (String::new(), String::new(), Place::default());
        Reading {
            kind,
            z_mm,
            angle,
            value_mm,
            sd_mm: None,
            step_mm: None,
            vee_deg: None,
            width_mm: None,
            span_mm: None,
            set,
            rig,
            place,
        }
    }
}
