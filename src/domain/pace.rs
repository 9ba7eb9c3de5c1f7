//! How long measuring takes.
//!
//! Seconds for a reading and for setting up, kind by kind: common practice, no source; from timing told in our own study of
//! ways of measuring. A maker who works at another pace writes `seconds` and `setup_seconds` under `[rig.NAME]`.

use super::count::count;
use super::{Kind, Reading, Rig};
use std::collections::{BTreeMap, BTreeSet};

/// What one setting-up serves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum SetUp {
    /// All readings round the tube at one place.
    Station,
    /// All readings along the tube at one angle.
    Line,
}

/// How fast one kind of reading goes with one instrument.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pace {
    /// Seconds for each reading, writing it down included.
    pub seconds: f64,
    /// Seconds for each setting-up.
    pub setup_seconds: f64,
    /// What a setting-up serves.
    pub setup: SetUp,
}

impl Kind {
    /// Seconds that one reading takes where its rig states none.
    ///
    /// Common practice, no source: caliper 9.5, dial 5 (also over a V-block), feeler gap 10, bar 6, radius gauge or fibre 10; a
    /// traced or scanned end is all set-up.
    #[must_use]
    pub fn seconds(self) -> f64 {
        match self {
            Kind::Diameter | Kind::Wall => 9.5,
            Kind::Radius | Kind::Runout | Kind::Vee => 5.0,
            Kind::Gap | Kind::Lifted | Kind::Arc | Kind::Grain => 10.0,
            Kind::Bridge => 6.0,
            Kind::Outline => 0.0,
        }
    }

    /// Seconds that one setting-up takes where its rig states none.
    ///
    /// Common practice, no source: moving a dial to another station 17, an end on a scanner 24 (when several lie on the glass
    /// at once); the others are only laid on.
    #[must_use]
    pub fn setup_seconds(self) -> f64 {
        match self {
            Kind::Radius | Kind::Runout | Kind::Vee => 17.0,
            Kind::Outline => 24.0,
            _ => 0.0,
        }
    }

    /// What one setting-up of its instrument serves.
    #[must_use]
    pub fn setup(self) -> SetUp {
        match self {
            Kind::Gap | Kind::Lifted | Kind::Bridge | Kind::Grain => SetUp::Line,
            _ => SetUp::Station,
        }
    }
}

impl Pace {
    /// The pace of a kind of reading with its rig, if it has one.
    #[must_use]
    pub fn of(kind: Kind, rig: Option<&Rig>) -> Pace {
        Pace {
            seconds: rig.and_then(|r| r.seconds).unwrap_or(kind.seconds()),
            setup_seconds: rig.and_then(|r| r.setup_seconds).unwrap_or(kind.setup_seconds()),
            setup: kind.setup(),
        }
    }

    /// The same, so many times as slow.
    #[must_use]
    pub fn times(self, pace: f64) -> Pace {
        Pace { seconds: self.seconds * pace, setup_seconds: self.setup_seconds * pace, ..self }
    }

    /// Seconds for readings at every one of `angles` directions and `places` stations.
    #[must_use]
    pub fn grid_seconds(self, angles: usize, places: usize) -> f64 {
        let settings = match self.setup {
            SetUp::Station => places,
            SetUp::Line => angles,
        };
        self.seconds * count(angles * places) + self.setup_seconds * count(settings)
    }
}

/// Seconds that these readings of one tube take: each reading, and each setting-up once.
///
/// # Example
/// ```
/// use quarterlight::domain::{Angle, Kind, Reading, measuring_seconds};
/// use std::collections::BTreeMap;
/// // a dial at 8 angles of 5 stations: 40 x 5 s and 5 x 17 s
/// let dial: Vec<Reading> = (0..40)
///     .map(|i| Reading::new(Kind::Runout, 40.0 * f64::from(i / 8), Angle::from_degrees(45.0 * f64::from(i % 8)), 0.0))
///     .collect();
/// assert!((measuring_seconds(&dial, &BTreeMap::new()) - 285.0).abs() < 1e-9);
/// ```
#[must_use]
pub fn measuring_seconds<'a>(readings: impl IntoIterator<Item = &'a Reading>, rigs: &BTreeMap<String, Rig>) -> f64 {
    let mut settings: BTreeSet<(Kind, &str, i64)> = BTreeSet::new();
    let mut seconds = 0.0;
    for r in readings {
        let pace = Pace::of(r.kind, rigs.get(&r.rig));
        seconds += pace.seconds;
        let which = match pace.setup {
            SetUp::Station => r.z_mm,
            SetUp::Line => r.angle.wrapped().degrees(),
        };
        if settings.insert((r.kind, &r.rig, tenths(which))) {
            seconds += pace.setup_seconds;
        }
    }
    seconds
}

/// To tell places and angles apart.
#[allow(clippy::cast_possible_truncation, reason = "a grouping key; `as` saturates")]
fn tenths(x: f64) -> i64 {
    (10.0 * x).round() as i64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::Angle;

    #[test]
    fn a_rig_of_ones_own_pace_replaces_the_kind_s() {
        let slow = Rig { seconds: Some(20.0), ..Rig::default() };
        let pace = Pace::of(Kind::Runout, Some(&slow));
        assert_eq!((pace.seconds, pace.setup_seconds), (20.0, 17.0));
        // 4 directions at 3 stations with a caliper: 12 x 9.5 s
        assert!((Pace::of(Kind::Diameter, None).grid_seconds(4, 3) - 114.0).abs() < 1e-9);
        // two ends on the glass, whatever the number of angles read from the picture
        assert!((Pace::of(Kind::Outline, None).grid_seconds(36, 2) - 48.0).abs() < 1e-9);
    }

    #[test]
    fn a_straightedge_is_laid_once_a_line_and_a_dial_moved_once_a_station() {
        let read = |kind: Kind, rig: &str| {
            let place = |i: u8| {
                let mut r =
                    Reading::new(kind, 50.0 * f64::from(i / 4), Angle::from_degrees(90.0 * f64::from(i % 4)), 0.1);
                r.rig = rig.into();
                r
            };
            (0..12).map(place).collect::<Vec<Reading>>()
        };
        let laid = Rig { setup_seconds: Some(3.0), ..Rig::default() };
        let rigs = BTreeMap::from([("edge".to_string(), laid)]);
        assert!((measuring_seconds(&read(Kind::Gap, "edge"), &rigs) - (120.0 + 4.0 * 3.0)).abs() < 1e-9);
        assert!((measuring_seconds(&read(Kind::Runout, ""), &rigs) - (60.0 + 3.0 * 17.0)).abs() < 1e-9);
    }
}
