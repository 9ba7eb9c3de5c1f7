//! What was never read of a tube, drawn as tubes are: the turn of its grain and its wall.
//!
//! A tube without a followed fibre or a read wall has neither in its belief. What they might be is drawn from the lot's
//! own scales: the size of a turn is one number for the lot, drawn once per draw number, and so is its mean wall, so that
//! what is not known of tubes in general does not average out over a lot.

use super::model::Model;
use super::population::{SPAN_MM, scales_at};
use crate::domain::{Kind, Tube};
use crate::numeric::draws;
use crate::numeric::summary::{count, mean};

/// How far one tube's mean wall lies from its lot's, one sd, mm; common practice, no source.
const OWN_WALL_MM: f64 = 0.33;
/// How surely a few readings tell the mean wall of the tube they were taken on, one sd, mm; common practice, no source.
const READ_WALL_MM: f64 = 0.1;

/// The grain and wall of one draw of a tube on which they were not read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unread {
    /// How far the grain turns, radians per mm.
    pub turn_per_mm: f64,
    /// Mean wall at mid-length, mm.
    pub wall_mm: f64,
    /// Change of the wall along the tube, mm per mm.
    pub wall_taper: f64,
    /// Its change once round, as factors of cosine and sine, mm.
    pub wall_lean_mm: [f64; 2],
}

impl Unread {
    /// Of draw `k` of a tube of this mean radius. Depends on (seed, tube, k); what is common to a lot on (seed, k).
    ///
    /// What the maker assumes stands instead of it, for every tube and draw: a lean as large everywhere, a wall even all
    /// round and along.
    #[must_use]
    pub fn drawn(model: &Model, tube: &str, radius_mm: f64, seed: u64, k: u64) -> Unread {
        let doubt = &model.population.doubt;
        let scales = scales_at(&doubt.drawn(seed, k), &model.population);
        let own = draws::mirrored_normals(seed, &format!("{tube}/unread"), k, 5);
        let common = draws::mirrored_normals(seed, "wall of the lot", k, 1)[0];
        let turn_per_mm = match model.assumed.lean_deg {
            Some(lean) => lean.to_radians().tan() / radius_mm,
            None => scales.twist.tilt.to_radians() * own[0] / SPAN_MM,
        };
        if let Some(wall_mm) = model.assumed.wall_mm {
            return Unread { turn_per_mm, wall_mm, wall_taper: 0.0, wall_lean_mm: [0.0; 2] };
        }
        let (lot_mm, sd) = model.wall_of_lot();
        Unread {
            turn_per_mm,
            wall_mm: lot_mm + sd * common + OWN_WALL_MM * own[1],
            wall_taper: scales.wall.tilt * own[2] / SPAN_MM,
            wall_lean_mm: [own[3], own[4]].map(|z| scales.wall_lean.level * z),
        }
    }
}

impl Model {
    /// Mean wall of a lot and its sd, mm: the population's, narrowed by what the lot's own tubes were read to have.
    fn wall_of_lot(&self) -> (f64, f64) {
        let p = &self.population;
        let before = (p.wall.level.powi(2) - OWN_WALL_MM.powi(2)).max(1e-12);
        let Some((tubes, read)) = self.walls_read.filter(|w| w.0 > 0) else { return (p.wall_mm, before.sqrt()) };
        let of_mean = (OWN_WALL_MM.powi(2) + READ_WALL_MM.powi(2)) / count(tubes);
        let share = before / (before + of_mean);
        (p.wall_mm + share * (read - p.wall_mm), (before * (1.0 - share)).sqrt())
    }

    /// The same model knowing the walls that were read on the tubes of its lot.
    #[must_use]
    pub fn with_walls_of(mut self, tubes: &[Tube]) -> Model {
        let of = |t: &Tube| {
            let read: Vec<f64> = t.readings.iter().filter(|r| r.kind == Kind::Wall).map(|r| r.value_mm).collect();
            let scanned = t.scan.iter().flat_map(|s| &s.unrolled).flat_map(|u| &u.walls).map(|w| w.wall_mm);
            let all: Vec<f64> = read.into_iter().chain(scanned).collect();
            if all.is_empty() { t.wall_mm } else { Some(mean(&all)) }
        };
        let walls: Vec<f64> = tubes.iter().filter_map(of).collect();
        self.walls_read = (!walls.is_empty()).then(|| (walls.len(), mean(&walls)));
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::{Assumed, Lot};
    use crate::numeric::summary::sd;

    fn of(model: &Model, get: impl Fn(Unread) -> f64) -> Vec<f64> {
        (0..400).map(|k| get(Unread::drawn(model, "T", 12.7, 1, k))).collect()
    }

    #[test]
    fn walls_read_on_other_tubes_narrow_the_guess_and_an_assumed_one_ends_it() {
        let bare = Model::default();
        let walls = of(&bare, |u| u.wall_mm);
        // 3.6 mm and 0.6, lot and tube together
        assert!((mean(&walls) - 3.6).abs() < 0.1 && (sd(&walls) - 0.6).abs() < 0.06, "{} {}", mean(&walls), sd(&walls));
        let tube = |wall_mm| Tube { wall_mm: Some(wall_mm), ..Tube::default() };
        let told = bare.clone().with_walls_of(&[tube(3.1), tube(3.3)]);
        let walls = of(&told, |u| u.wall_mm);
        // by hand: of 0.251 mm2 before and 0.0594 of the mean of two the share 0.8086; 3.6 - 0.8086 0.4 = 3.277; sd of the
        // lot's mean 0.219, with the tube's own 0.396
        assert!((mean(&walls) - 3.277).abs() < 0.07 && (sd(&walls) - 0.396).abs() < 0.05, "{}", mean(&walls));
        let lot = Lot { assumed: Assumed { lean_deg: Some(1.0), wall_mm: Some(3.5) }, ..Lot::default() };
        let assumed = Unread::drawn(&Model::of(&lot).expect("no scales"), "T", 12.7, 1, 0);
        // a lean of 1 deg: 0.01746 mm round for every mm along
        assert!((assumed.turn_per_mm - 0.017_455 / 12.7).abs() < 1e-6, "{assumed:?}");
        let turn_per_mm = assumed.turn_per_mm;
        assert_eq!(assumed, Unread { turn_per_mm, wall_mm: 3.5, wall_taper: 0.0, wall_lean_mm: [0.0; 2] });
    }

    #[test]
    fn how_far_grain_turns_in_a_lot_is_common_to_its_tubes() {
        let model = Model::default();
        let size = |k: u64| {
            let turns: Vec<f64> = (0..60)
                .map(|t| Unread::drawn(&model, &format!("T{t}"), 12.7, 1, k).turn_per_mm.to_degrees() * 200.0)
                .collect();
            sd(&turns)
        };
        let sizes: Vec<f64> = (0..60).map(size).collect();
        // 24 degrees over 200 mm, a factor of e^0.6 either way from lot to lot
        let logs: Vec<f64> = sizes.iter().map(|s| (s / 24.0).ln()).collect();
        assert!(mean(&logs).abs() < 0.25 && (sd(&logs) - 0.6).abs() < 0.15, "{} {}", mean(&logs), sd(&logs));
    }
}
