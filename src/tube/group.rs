//! Fields that share a scale.

use super::fields::Fields;
use super::population::{FieldScale, Population, scale_name};

/// Reach of the unevenness of wall and grain, mm. Common practice, no source.
pub(super) const INSIDE_REACH_MM: f64 = 150.0;

/// The fields of one scale.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Group {
    Radius,
    /// Both parts of lobe n.
    Lobe(usize),
    Centre,
    Twist,
    Wall,
    WallLean,
}

impl Group {
    /// The group a field belongs to.
    pub(super) fn of(fields: Fields, field: usize) -> Group {
        if field == Fields::R0 {
            Group::Radius
        } else if field < fields.centre() {
            Group::Lobe(2 + (field - 1) / 2)
        } else if field < fields.outside() {
            Group::Centre
        } else if fields.turn_at() == Some(field) {
            Group::Twist
        } else if fields.wall_at() == Some(field) {
            Group::Wall
        } else {
            Group::WallLean
        }
    }

    /// As under `[population]`.
    pub(super) fn name(self) -> String {
        match self {
            Group::Radius => "radius".into(),
            Group::Lobe(n) => format!("lobe{n}"),
            Group::Centre => "centre".into(),
            Group::Twist => "twist".into(),
            Group::Wall => "wall".into(),
            Group::WallLean => "wall_lean".into(),
        }
    }

    /// True of the fields of the outside, whose unevenness reaches as far as the lot teaches.
    pub(super) fn is_outside(self) -> bool {
        matches!(self, Group::Radius | Group::Lobe(_) | Group::Centre)
    }

    /// How far its unevenness reaches along the tube, mm: of the outside as the population has it; of wall and grain, which
    /// few readings tell, [`INSIDE_REACH_MM`].
    pub(super) fn reach_mm(self, p: &Population) -> f64 {
        if self.is_outside() { p.reach_mm } else { INSIDE_REACH_MM }
    }

    /// Its scale under a population.
    pub(super) fn scale(self, p: &Population) -> FieldScale {
        match self {
            Group::Radius => p.radius,
            Group::Lobe(n) => p.lobe(n),
            Group::Centre => p.centre,
            Group::Twist => p.twist,
            Group::Wall => p.wall,
            Group::WallLean => p.wall_lean,
        }
    }

    /// True of a part of its scale that `lot.toml` holds.
    pub(super) fn is_held(self, p: &Population, part: usize) -> bool {
        !p.fixed.is_empty() && p.is_fixed(&scale_name(&self.name(), part))
    }
}

/// The scales of all fields, group by group.
pub(super) fn scales_mut(p: &mut Population) -> impl Iterator<Item = (Group, &mut FieldScale)> {
    let lobes = p.lobes.iter_mut().zip(2..).map(|(scale, n)| (Group::Lobe(n), scale));
    let others = [
        (Group::Radius, &mut p.radius),
        (Group::Centre, &mut p.centre),
        (Group::Wall, &mut p.wall),
        (Group::WallLean, &mut p.wall_lean),
        (Group::Twist, &mut p.twist),
    ];
    lobes.chain(others)
}
