//! What cut lots teach, all of it: what promises came to, the hand, the limits, and the same lots planned again by that.

use super::assessed::Assessed;
use super::borne_out::BorneOut;
use super::error::LotError;
use super::kept::Kept;

use super::own_limits::{OwnLimits, own_limits};
use super::prepared::{Prepared, Told};
use crate::decide::judged::gauged_limits;
use crate::decide::plan::PlanOptions;
use crate::domain::Angle;

/// Lots that were cut, each under its name, as read and as planned at the angles that were aimed at.
pub type CutLots = Vec<(String, Prepared, Assessed)>;

/// Learns from lots that were cut. Where they teach limits or a wander, they are planned again by them at the angles they were
/// aimed at, so that what a promise comes to is told of promises as they will be made. `progress` is told after every tube that is planned again.
///
/// # Errors
/// [`LotError::Population`].
pub fn learn_from(mut lots: CutLots, options: PlanOptions, progress: Told<'_>) -> Result<BorneOut, LotError> {
    let learned = BorneOut::of(&lots).with_limits(limits(&lots, options)?);
    let kept = Kept::of(&learned);
    if !kept.changes_plans() {
        return Ok(learned);
    }
    for (_, lot, assessed) in &mut lots {
        kept.put_into(&mut lot.lot);
        for plan in assessed.plans() {
            let aim = plan.split.as_ref().map(|s| Angle::from_degrees(s.best.angle_deg));
            lot.lot.tubes.iter_mut().filter(|t| t.name == plan.fit.tube).for_each(|t| t.aim = aim);
        }
        *assessed = lot.assess(options, progress)?;
    }
    Ok(learned.with_again(&BorneOut::of(&lots)))
}

/// The maker's own limits, all lots together, in terms of the first one's.
fn limits(lots: &CutLots, options: PlanOptions) -> Result<Option<OwnLimits>, LotError> {
    let Some((_, first, _)) = lots.first() else { return Ok(None) };
    let stated = gauged_limits(&first.lot.target);
    let mut judged = Vec::new();
    for (_, lot, _) in lots {
        let own = gauged_limits(&lot.lot.target);
        let mut tubes = lot.judged(options)?;
        for over in tubes.iter_mut().flatten().flat_map(|s| &mut s.over) {
            over.iter_mut().zip(own.iter().zip(&stated)).for_each(|(v, (a, b))| *v += (a / b).ln());
        }
        judged.extend(tubes);
    }
    Ok(own_limits(&judged, stated))
}
