//! The one place where the judged code is called: true tubes and plain readings in, plain promises out.

use crate::decide::plan::{NoPlan, PlanOptions, plan_tube};
use crate::domain::{Angle, Kind, Lot, Reading, Target, Tube};
use crate::known::evaluator::Rules;
use crate::known::measuring::{Taken, Tool};
use crate::known::moments::{Scale, Scales};
use crate::known::populations::Recipe;
use crate::known::shape::TrueTube;
use crate::tube::learn::{LearnError, learn_population};
use crate::tube::{FieldScale, Model, Population};
use rayon::prelude::*;

/// Why a way of measuring cannot be studied.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum StudyError {
    /// The readings of a lot say too little to learn its scales.
    #[error("its readings teach no scales: {0}")]
    Learn(#[from] LearnError),
    /// A tube cannot be planned.
    #[error("tube {tube} cannot be planned: {why}")]
    NoPlan {
        /// The tube.
        tube: String,
        /// Why.
        why: NoPlan,
    },
    /// A tube is too short for a blank.
    #[error("tube {tube} is too short for a blank")]
    Short {
        /// The tube.
        tube: String,
    },
}

/// What the tool is told and promises about one tube.
#[derive(Debug, Clone, PartialEq)]
pub struct Promise {
    /// The split angle, degrees.
    pub angle_deg: f64,
    /// Blanks expected.
    pub expected: f64,
    /// The 90 % interval.
    pub interval: (f64, f64),
    /// Blanks of every draw.
    pub draws: Vec<f64>,
    /// Expected of the marked runs alone, and of every draw.
    pub marked: (f64, Vec<f64>),
    /// Where the marked runs begin, mm, piece by piece.
    pub marks: Vec<Vec<f64>>,
    /// Readings doubted.
    pub doubted: usize,
    /// Suspicions raised.
    pub suspicions: usize,
}

/// The lot the studies work with: ordinary limits and a blank of ordinary thickness; the wall is not checked, since these
/// readings say nothing of it: no more of it is asked for than there is at least.
#[must_use]
pub fn lot() -> Lot {
    let mut lot = Lot::default();
    lot.target.clean_up_mm = -lot.target.blank_thickness_mm;
    lot
}

/// The same for the instrument that a make is grown for.
#[must_use]
pub fn lot_for(recipe: &Recipe) -> Lot {
    let target = recipe.instrument.as_deref().and_then(Target::for_instrument).unwrap_or_default();
    let clean_up_mm = -target.blank_thickness_mm;
    Lot { target: Target { clean_up_mm, ..target }, ..lot() }
}

/// The same rules for the evaluator.
#[must_use]
pub fn rules(lot: &Lot) -> Rules {
    let t = &lot.target;
    Rules {
        pieces: t.pieces,
        blank_mm: [t.blank_length_mm, t.blank_width_mm],
        thick_mm: t.blank_thickness_mm,
        wall_mm: t.blank_thickness_mm + t.clean_up_mm,
        arc_mm: [t.arc_diameter_mm, t.arc_tolerance_mm],
        hollow_mm: t.hollow_mm,
        rock_mm: t.rock_mm,
        skew_mm: t.skew_mm,
        drift_mm: t.grain_drift_mm,
        margin_mm: t.edge_margin_mm,
        kerf_mm: lot.saw.kerf_mm,
        trim_mm: lot.saw.trim_mm,
    }
}

/// The tube as the maker hands it over, with its readings.
#[must_use]
pub fn tube_of(truth: &TrueTube, taken: &[Taken]) -> Tube {
    Tube {
        name: truth.name.clone(),
        length_mm: truth.length_mm,
        weight_g: Some(truth.weight_g),
        readings: taken.iter().map(reading_of).collect(),
        ..Tube::default()
    }
}

fn reading_of(t: &Taken) -> Reading {
    let kind = match t.tool {
        Tool::Caliper(_) => Kind::Diameter,
        Tool::Axis(_) => Kind::Radius,
        Tool::Dial(_) => Kind::Runout,
        Tool::Vee(_) => Kind::Vee,
        Tool::Resting => Kind::Gap,
        Tool::Lifted => Kind::Lifted,
        Tool::Bridge(_) => Kind::Bridge,
        Tool::Wall => Kind::Wall,
        Tool::Arc(_) => Kind::Arc,
        Tool::Traced => Kind::Outline,
        Tool::Fibre => Kind::Grain,
    };
    let mut r = Reading::new(kind, t.z_mm, Angle::from_degrees(t.angle_deg), t.value);
    r.sd_mm = t.stated_sd;
    r.set.clone_from(&t.set);
    match t.tool {
        Tool::Vee(v) => r.vee_deg = Some(v),
        Tool::Arc(w) => r.width_mm = Some(w),
        Tool::Bridge(s) => r.span_mm = Some(s),
        _ => {}
    }
    r
}

/// The tool's scales set to those of a population.
#[must_use]
pub fn population_of(scales: &Scales) -> Population {
    let of = |s: &Scale| {
        let least = |v: f64| v.max(1e-5);
        FieldScale {
            level: least(s.level),
            tilt: least(s.tilt),
            bend: least(s.bend),
            ess: least(s.ess),
            rough: least(s.rough),
        }
    };
    let mut p = Population::default();
    p.radius = of(&scales.radius);
    for (lobe, scale) in p.lobes.iter_mut().zip(&scales.lobes) {
        *lobe = of(scale);
    }
    // level and tilt of the centreline only fix the frame
    p.centre = FieldScale { level: p.centre.level, tilt: p.centre.tilt, ..of(&scales.centre) };
    p.held()
}

/// What the tool promises for the tubes of one lot; `scales`: the ones to use, else its own.
///
/// # Errors
/// [`StudyError`]: readings that do not see a tube, or tubes too short for a blank.
pub fn promises(tubes: Vec<Tube>, scales: Option<&Scales>, seed: u64, draws: u64) -> Result<Vec<Promise>, StudyError> {
    promises_of(&Lot { tubes, ..lot() }, scales, seed, draws)
}

/// The same for a lot with limits of its own.
///
/// # Errors
/// As of [`promises`].
pub fn promises_of(lot: &Lot, scales: Option<&Scales>, seed: u64, draws: u64) -> Result<Vec<Promise>, StudyError> {
    let before = Model { centre_radius_mm: lot.target.arc_diameter_mm / 2.0, ..Model::default() };
    let model = match scales {
        Some(scales) => Model { population: population_of(scales), ..before },
        None => learn_population(&lot.tubes, &before)?.model(&before),
    };
    lot.tubes
        .par_iter()
        .map(|tube| {
            let plan = plan_tube(tube, lot, &model, PlanOptions { seed, draws })
                .map_err(|why| StudyError::NoPlan { tube: tube.name.clone(), why })?;
            let split = plan.split.as_ref().ok_or_else(|| StudyError::Short { tube: tube.name.clone() })?;
            Ok(Promise {
                angle_deg: split.best.angle_deg,
                expected: split.best.expected,
                interval: split.interval,
                draws: split.draws.iter().map(|&n| f64::from(n)).collect(),
                marked: plan
                    .marked
                    .as_ref()
                    .map_or((0.0, Vec::new()), |m| (m.expected, m.draws.iter().map(|&n| f64::from(n)).collect())),
                marks: plan.pieces.iter().map(|p| p.runs.iter().map(|r| r.from_mm).collect()).collect(),
                doubted: plan.fit.doubted.len(),
                suspicions: plan.fit.suspicions.len(),
            })
        })
        .collect()
}

/// What the tool takes the tubes of a lot to be like once it has seen their readings: what every command begins with.
///
/// # Errors
/// [`LearnError`] when too few of them can be fitted.
pub fn learned(tubes: &[Tube]) -> Result<Model, LearnError> {
    let before = Model::default();
    Ok(learn_population(tubes, &before)?.model(&before))
}
