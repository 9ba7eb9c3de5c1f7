//! What a belief takes for granted of a lot's tubes and of the instruments that read them.

use super::instrument::{BY_HAND_DEG, Unknown};
use super::population::{Population, PopulationError};
use crate::domain::{Assumed, Lot, Rig, Target};
use std::collections::BTreeMap;

/// The instruments, what tubes are like before any reading, and where their mean radius is expected.
///
/// # Example
/// ```
/// use quarterlight::domain::{Angle, Kind, Reading, Tube};
/// use quarterlight::tube::{Belief, Model};
/// let reading = Reading::new(Kind::Diameter, 50.0, Angle::ZERO, 25.6);
/// let tube = Tube { name: "T1".into(), length_mm: 200.0, readings: vec![reading], ..Tube::default() };
/// let belief = Belief::fit(&tube, &Model::default())?;
/// // the same caliper a quarter turn on, before it is closed: the prior's ovality (sd 0.8 mm) is all its doubt
/// let next = belief.expect(&Reading::new(Kind::Diameter, 50.0, Angle::from_degrees(90.0), 0.0), &Model::default())?;
/// assert!((next.mean - 25.6).abs() < 0.5 && next.sd > 0.5);
/// # Ok::<(), quarterlight::tube::BeliefError>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct Model {
    /// Instruments by name; a reading of another name has what its kind is known for.
    pub rigs: BTreeMap<String, Rig>,
    /// Scales of the prior.
    pub population: Population,
    /// Where the prior expects the mean radius, mm.
    pub centre_radius_mm: f64,
    /// How far the index line of a tube lies from where its splits are counted, one sd, degrees.
    pub index_line_deg: f64,
    /// What a lot's tubes say together of the errors its instruments have on all of them: mean and sd. An instrument that
    /// is not here has what its rig states, or what its kind is known for ([`Unknown::sd_with`]).
    pub common: BTreeMap<Unknown, (f64, f64)>,
    /// What the maker takes grain and wall to be where they were not read.
    pub assumed: Assumed,
    /// On how many tubes of the lot the wall was read, and their mean, mm.
    pub walls_read: Option<(usize, f64)>,
}

impl Model {
    /// The model of a lot: its rigs, the built-in scales with those of its `[population]` in their place, and half its
    /// target arc diameter.
    ///
    /// # Errors
    /// [`PopulationError`] where `[population]` names what is no scale or gives it no positive value.
    pub fn of(lot: &Lot) -> Result<Model, PopulationError> {
        let population = Population::with(&lot.population)?;
        let index_line_deg = lot.index_line_deg.unwrap_or(BY_HAND_DEG);
        let (rigs, centre_radius_mm) = (lot.rigs.clone(), radius_of(&lot.target));
        let (common, assumed) = (BTreeMap::new(), lot.assumed);
        Ok(Model { rigs, population, centre_radius_mm, index_line_deg, common, assumed, walls_read: None })
    }

    /// The rig that took a reading which names it; `None` of an unknown or empty name.
    #[must_use]
    pub fn rig(&self, name: &str) -> Option<&Rig> {
        self.rigs.get(name)
    }
}

impl Default for Model {
    /// No rigs, the built-in scales, and the radius of the default target.
    fn default() -> Self {
        Model {
            rigs: BTreeMap::new(),
            population: Population::default(),
            centre_radius_mm: radius_of(&Target::default()),
            index_line_deg: BY_HAND_DEG,
            common: BTreeMap::new(),
            assumed: Assumed::default(),
            walls_read: None,
        }
    }
}

/// Tubes are bought for the arc they are cut to.
fn radius_of(target: &Target) -> f64 {
    target.arc_diameter_mm / 2.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_lot_gives_its_rigs_its_scales_and_half_its_target() {
        let mut lot = Lot::default();
        assert_eq!(Model::of(&lot).expect("no scales named"), Model::default());
        lot.target.arc_diameter_mm = 26.0;
        lot.rigs.insert("dial".into(), Rig { sd_mm: Some(0.01), ..Rig::default() });
        lot.population.insert("lobe2_level".into(), 0.3);
        let model = Model::of(&lot).expect("a scale");
        assert!((model.centre_radius_mm - 13.0).abs() < 1e-12);
        assert!((model.population.lobes[0].level - 0.3).abs() < 1e-12);
        assert_eq!(model.rig("dial").and_then(|r| r.sd_mm), Some(0.01));
        assert!(model.rig("").is_none());
        lot.population.insert("lobe9".into(), 1.0);
        assert_eq!(Model::of(&lot).expect_err("no such scale").names, ["lobe9"]);
    }
}
