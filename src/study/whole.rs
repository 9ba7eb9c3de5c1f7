//! A study as a value: one make, several ways of measuring.

use super::goals::Goals;
use super::outcome::{IN_A_LOT, Make, Outcome, outcome};
use super::promise::StudyError;
use crate::known::figures::quantile;
use crate::known::measuring::Rig;
use crate::known::populations::Recipe;
use crate::known::way::Way;
use crate::known::yields::Known;
use serde::Serialize;

/// What is studied.
#[derive(Debug, Clone)]
pub struct StudyOrder {
    /// The make.
    pub recipe: Recipe,
    /// The ways of measuring.
    pub ways: Vec<Way>,
    /// Tubes, in lots of ten.
    pub tubes: usize,
    /// Seed of tubes, readings and draws.
    pub seed: u64,
    /// Draws a tube.
    pub draws: u64,
    /// What is off in every reading beside its noise.
    pub hand: Rig,
    /// Whether a belief that knows the true scales is set beside it.
    pub reference: bool,
}

/// What came of it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Study {
    /// That it is invented.
    pub says: &'static str,
    /// The make.
    pub population: Recipe,
    /// Tubes.
    pub tubes: usize,
    /// Lots of ten that they make, the last with what is left.
    pub lots: usize,
    /// Seed.
    pub seed: u64,
    /// Draws a tube.
    pub draws: u64,
    /// Blanks a tube at the best angle: mean, 5 % and 95 % point over tubes.
    pub best: [f64; 3],
    /// Share that an arbitrary angle loses; `None` where no angle gives any blank.
    pub arbitrary_lost: Option<f64>,
    /// One for each way of measuring.
    pub rows: Vec<StudyRow>,
}

/// One way of measuring.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StudyRow {
    /// Its word.
    pub plan: String,
    /// With the scales the lot teaches.
    pub own: Outcome,
    /// With the true ones.
    pub scales_known: Option<Outcome>,
    /// The goals it misses beyond one standard error, where a reference stands beside it.
    pub misses: Vec<String>,
}

/// Grows, measures, plans and judges; `told` is called with plans done and plans in all.
///
/// # Errors
/// [`StudyError`]: readings that do not see a tube; tubes without room for a blank.
pub fn study(order: &StudyOrder, told: &dyn Fn(usize, usize)) -> Result<Study, StudyError> {
    let make = Make::grow(order.recipe.clone(), order.seed, order.tubes as u64)?;
    let (best, arbitrary) = make.blanks();
    let each: Vec<f64> = make.known.iter().map(Known::best).collect();
    let lots = order.tubes.div_ceil(IN_A_LOT);
    let mut rows = Vec::new();
    for (i, way) in order.ways.iter().enumerate() {
        let own = outcome(&make, way, &order.hand, None, order.draws)?;
        let known =
            order.reference.then(|| outcome(&make, way, &order.hand, Some(&make.scales), order.draws)).transpose()?;
        let misses =
            known.as_ref().map_or(Vec::new(), |k| Goals::beside(k, lots as u64, 1.0).missed(&own, way.sees_all()));
        rows.push(StudyRow { plan: way.name.clone(), own, scales_known: known, misses });
        told(i + 1, order.ways.len());
    }
    Ok(Study {
        says: "invented tubes, grown by chance, read by plain instruments, judged by brute force",
        population: order.recipe.clone(),
        tubes: order.tubes,
        lots,
        seed: order.seed,
        draws: order.draws,
        best: [best / each.len().max(1) as f64, quantile(&each, 0.05), quantile(&each, 0.95)],
        arbitrary_lost: (best > 0.0).then(|| 1.0 - arbitrary / best),
        rows,
    })
}
