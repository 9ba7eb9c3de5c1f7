//! Readings to be typed: which, in which order, and how they are asked for.

use crate::decide::packages::{Round, Way};
use crate::domain::Kind;
use crate::domain::units::decimal;
use crate::output::show::Units;
use maud::{Markup, html};
use serde::Serialize;

/// One reading to be typed.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Asked {
    /// The word of its kind.
    pub kind: &'static str,
    /// Place, mm from the index end.
    pub z: f64,
    /// Direction, degrees.
    pub angle: f64,
    /// One dial setting; empty without.
    pub set: String,
    /// Its rig; empty without.
    pub rig: String,
    /// Span of a bridge, mm.
    pub span: Option<f64>,
}

/// A reading with what stands in its cell.
#[derive(Debug, Clone, PartialEq)]
pub struct Prompt {
    /// Which.
    pub asked: Asked,
    /// What is kept of it so far; empty where nothing is.
    pub was: String,
}

impl Asked {
    /// A reading of a kind at a place. A dial that turns has a setting of its own at every station.
    #[must_use]
    pub fn of(kind: Kind, z: f64, angle: f64, rig: &str, span: Option<f64>) -> Asked {
        let set = if kind == Kind::Runout { format!("at {}", decimal(z, 1)) } else { String::new() };
        let span = span.filter(|_| kind == Kind::Bridge);
        Asked { kind: kind.word(), z, angle, set, rig: rig.into(), span }
    }

    /// What tells it from others of its tube.
    #[must_use]
    pub fn key(&self) -> String {
        let Asked { kind, z, angle, set, rig, span } = self;
        format!("{kind}|{z:.3}|{angle:.3}|{set}|{rig}|{}", span.map_or(String::new(), |s| format!("{s:.3}")))
    }

    /// What to do with the hands, short enough to be called out.
    #[must_use]
    pub fn words(&self, units: Units) -> (String, String) {
        let at = format!("{} {}", units.length(self.z, 0), units.word());
        let deg =
            format!("{}°", decimal(self.angle, if (self.angle - self.angle.round()).abs() < 1e-9 { 0 } else { 1 }));
        match self.kind {
            "diameter" => (format!("jaws at {deg}"), format!("at {at}, closed across the tube")),
            "bridge" => (
                format!("line {deg}, middle at {at}"),
                format!("bar of {} {}", units.length(self.span.unwrap_or(0.0), 0), units.word()),
            ),
            "gap" => (format!("line {deg}, gap at {at}"), "straightedge resting on the bark".into()),
            "wall" => (format!("wall at {deg}"), if self.z < 20.0 { "index end".into() } else { format!("at {at}") }),
            "vee" => (format!("turn to {deg}"), format!("over the V-block at {at}")),
            _ => (format!("turn to {deg}"), format!("read at {at}")),
        }
    }
}

/// The readings of advised rounds, in the order the hands take them: along a line where the instrument is laid along the
/// tube, else round a station. Ends are not typed: they are left out.
#[must_use]
pub fn prompts_of(rounds: &[Round], rig_of: &dyn Fn(Way) -> String) -> Vec<Asked> {
    let mut out = Vec::new();
    for r in rounds.iter().filter(|r| r.way != Way::Ends) {
        let (kind, rig) = (r.way.kind(), rig_of(r.way));
        let mut one = |z: f64, a: f64| out.push(Asked::of(kind, z, a, &rig, r.span_mm));
        if matches!(r.way, Way::Bridge | Way::Straightedge) {
            r.angles_deg.iter().for_each(|&a| r.places_mm.iter().for_each(|&z| one(z, a)));
        } else {
            r.places_mm.iter().for_each(|&z| r.angles_deg.iter().for_each(|&a| one(z, a)));
        }
    }
    out
}

impl Prompt {
    /// Its cell, with a place for what is said of it. `id` is its own on the page.
    pub(super) fn cell(&self, id: &str, units: Units) -> Markup {
        let at = serde_json::to_string(&self.asked).unwrap_or_else(|e| unreachable!("plain numbers and texts: {e}"));
        let (first, second) = self.asked.words(units);
        let kept = if self.was.is_empty() { "cell" } else { "cell kept" };
        html! {
            input id=(id) class=(kept) value=(self.was) data-was=(self.was) data-at=(at) data-key=(self.asked.key())
                inputmode="decimal" enterkeyhint="next" autocomplete="off" maxlength="40"
                aria-label=(format!("{}: {first}, {second}", self.asked.kind)) aria-describedby=(format!("{id}-said"));
            span.said id=(format!("{id}-said")) role="alert" {}
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::Pace;

    #[test]
    fn a_dial_goes_round_a_station_and_a_bar_along_a_line() {
        let pace = Pace::of(Kind::Runout, None);
        let dial = Round::of(Way::Dial, vec![0.0, 90.0], vec![20.0, 60.0], None, pace);
        let bar = Round::of(Way::Bridge, vec![0.0, 90.0], vec![40.0, 80.0], Some(70.0), pace);
        let ends = Round::of(Way::Ends, vec![0.0], vec![0.0], None, pace);
        let asked = prompts_of(&[dial, ends, bar], &|w| w.word().to_string());
        let places: Vec<(f64, f64)> = asked.iter().map(|a| (a.z, a.angle)).collect();
        let round = [(20.0, 0.0), (20.0, 90.0), (60.0, 0.0), (60.0, 90.0)];
        assert_eq!(places[..4], round);
        assert_eq!(places[4..], [(40.0, 0.0), (80.0, 0.0), (40.0, 90.0), (80.0, 90.0)]);
        assert_eq!((asked[0].set.as_str(), asked[2].set.as_str(), asked[4].set.as_str()), ("at 20.0", "at 60.0", ""));
        assert_eq!((asked[0].span, asked[4].span, asked[4].rig.as_str()), (None, Some(70.0), "bridge"));
        assert_eq!(asked[1].words(Units::Mm).0, "turn to 90°");
        assert_ne!(asked[0].key(), asked[2].key());
    }
}
