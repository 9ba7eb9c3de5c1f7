//! Fields that share a scale.

use super::fields::Fields;
use super::population::{FieldScale, Population};

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
}
