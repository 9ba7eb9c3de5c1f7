//! What a maker could measure next: readings as hands take them, ring by ring and line by line.

use crate::domain::{Angle, Kind, Pace, Reading, Tube};
use serde::{Deserialize, Serialize};

/// A ring or line that is already read this near, as a share of the length, is not proposed again.
const NEAR: f64 = 0.06;
/// Span of a bar whose lot states none, mm: as long as the blank it stands for. Common practice, no source.
pub const BAR_SPAN_MM: f64 = 70.0;
/// Points of a traced end.
const TRACED: u32 = 36;
/// How well the outline of an end is traced on a scanner, sd in mm (common practice, no source).
const TRACED_SD_MM: f64 = 0.03;

/// A way of measuring, in the maker's words.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
#[non_exhaustive]
pub enum Way {
    /// Widths between jaws.
    Caliper,
    /// A dial on a turning axis, set anew at each station.
    Dial,
    /// A bar on two feet with a dial in its middle.
    Bridge,
    /// Gaps under a straightedge that rests on a bark line.
    Straightedge,
    /// Sawn ends traced or laid on a scanner.
    Ends,
}

impl Way {
    /// All of them.
    pub const ALL: [Way; 5] = [Way::Caliper, Way::Dial, Way::Bridge, Way::Straightedge, Way::Ends];

    /// Its word, as typed and as told.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Way::Caliper => "caliper",
            Way::Dial => "dial",
            Way::Bridge => "bridge",
            Way::Straightedge => "straightedge",
            Way::Ends => "ends",
        }
    }

    /// By its word, whatever its case.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Way> {
        Way::ALL.into_iter().find(|w| w.word().eq_ignore_ascii_case(word.trim()))
    }

    /// The kind of its readings.
    #[must_use]
    pub fn kind(self) -> Kind {
        match self {
            Way::Caliper => Kind::Diameter,
            Way::Dial => Kind::Runout,
            Way::Bridge => Kind::Bridge,
            Way::Straightedge => Kind::Gap,
            Way::Ends => Kind::Outline,
        }
    }
}

/// One round of readings of one instrument.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Round {
    /// What is read with.
    pub way: Way,
    /// Angles, degrees.
    pub angles_deg: Vec<f64>,
    /// Places, mm from the index end.
    pub places_mm: Vec<f64>,
    /// Span of a bridge, mm.
    #[serde(default)]
    pub span_mm: Option<f64>,
    /// Readings to be written down.
    pub readings: usize,
    /// Minutes they take.
    pub minutes: f64,
}

impl Round {
    /// A round with the minutes that its readings take at this pace.
    #[must_use]
    pub fn of(way: Way, angles_deg: Vec<f64>, places_mm: Vec<f64>, span_mm: Option<f64>, pace: Pace) -> Round {
        let seconds = pace.grid_seconds(angles_deg.len(), places_mm.len());
        let readings = angles_deg.len() * places_mm.len();
        Round { way, angles_deg, places_mm, span_mm, readings, minutes: seconds / 60.0 }
    }

    /// Its readings, the values left 0; every station of a dial and every end is a set of its own.
    #[must_use]
    pub fn readings(&self, rig: &str) -> Vec<Reading> {
        let one = |z: f64, deg: f64| {
            let mut r = Reading::new(self.way.kind(), z, Angle::from_degrees(deg), 0.0);
            r.rig = rig.into();
            r.span_mm = self.span_mm;
            match self.way {
                Way::Dial => r.set = format!("advised at {z:.1}"),
                Way::Ends => {
                    r.set = format!("advised at {z:.1}");
                    r.sd_mm = Some(TRACED_SD_MM);
                }
                _ => {}
            }
            r
        };
        self.places_mm.iter().flat_map(|&z| self.angles_deg.iter().map(move |&a| one(z, a))).collect()
    }
}

/// Readings taken together, and what they are worth.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Package {
    /// Its rounds, in the order they are best taken.
    pub rounds: Vec<Round>,
    /// Readings to be written down.
    pub readings: usize,
    /// Minutes they take.
    pub minutes: f64,
    /// Blanks that the split angle chosen with them gives more.
    pub gain_blanks: f64,
    /// Standard error of that from the number of draws.
    pub gain_error: f64,
}

/// What would help a tube whose split its readings leave open.
#[derive(Debug, Clone, PartialEq)]
pub enum Next {
    /// To take these readings.
    Take(Package),
    /// No readings with what is at hand: none are worth their minutes.
    Nothing,
}

/// Rounds of one way on a tube, from few readings to many; what is already read is left out.
pub(super) fn rounds(way: Way, tube: &Tube, span_mm: Option<f64>, pace: Pace) -> Vec<Round> {
    let length = tube.length_mm;
    let own = |r: &&Reading| r.kind == way.kind() || (way == Way::Dial && r.kind == Kind::Radius);
    let read_at = |z: f64| tube.readings.iter().filter(own).any(|r| (r.z_mm - z).abs() < NEAR * length);
    let even = |n: u32| -> Vec<f64> {
        let all = (0..n).map(|i| (length * (f64::from(i) + 0.5) / f64::from(n)).round());
        all.filter(|z| !read_at(*z)).collect()
    };
    let round = |n: u32, over: f64| -> Vec<f64> { (0..n).map(|i| over * f64::from(i) / f64::from(n)).collect() };
    let line_read = |deg: f64| {
        let apart = |r: &Reading| (r.angle.degrees() - deg + 180.0).rem_euclid(360.0) - 180.0;
        tube.readings.iter().filter(own).any(|r| apart(r).abs() < 2.0)
    };
    let unread = |angles: Vec<f64>| -> Vec<f64> { angles.into_iter().filter(|a| !line_read(*a)).collect() };
    let mut out = Vec::new();
    let mut add = |angles: Vec<f64>, places: Vec<f64>, span: Option<f64>| {
        if !angles.is_empty() && !places.is_empty() {
            let new = Round::of(way, angles, places, span, pace);
            if !out.contains(&new) {
                out.push(new);
            }
        }
    };
    match way {
        Way::Caliper => [(4, 1), (4, 2), (4, 3), (6, 3), (4, 5), (6, 5)]
            .into_iter()
            .for_each(|(angles, places)| add(round(angles, 180.0), even(places), None)),
        // put into its bearings again a tube turns about another axis, which no reading tells from a bend
        Way::Dial if tube.readings.iter().any(|r| own(&r)) => {}
        Way::Dial => [(8, 1), (8, 3), (12, 3), (8, 5), (12, 5), (12, 8)]
            .into_iter()
            .for_each(|(angles, places)| add(round(angles, 360.0), even(places), None)),
        Way::Bridge => {
            let span = span_mm.unwrap_or(BAR_SPAN_MM);
            let room = length - span;
            for (lines, places) in [(4, 1), (8, 1), (4, 2), (8, 2), (8, 3)] {
                let at = |i: u32| span / 2.0 + room * (f64::from(i) + 0.5) / f64::from(places);
                let places = (0..places).map(at).filter(|z| room > 0.0 && !read_at(*z)).collect();
                add(round(lines, 360.0), places, Some(span));
            }
        }
        Way::Straightedge => [(4, 1), (8, 1), (4, 3), (8, 3), (12, 3)].into_iter().for_each(|(lines, places)| {
            let at = |i: u32| (length * (f64::from(i) + 1.0) / f64::from(places + 1)).round();
            add(unread(round(lines, 360.0)), (0..places).map(at).collect(), None);
        }),
        Way::Ends => {
            let ends = [0.0, length].into_iter().filter(|z| !read_at(*z)).collect();
            add(round(TRACED, 360.0), ends, None);
        }
    }
    out
}
