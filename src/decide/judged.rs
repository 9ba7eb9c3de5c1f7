//! Stretches that were judged at the bench, as the belief saw them: what a maker's own limits are learned from.

use super::bark_map::BarkMap;
use super::fan::LINES;
use super::plan::{Depth, plan_and_keep};
use super::split::open_lines;
use super::tube_plan::{NoPlan, PlanOptions};
use crate::domain::{Angle, Lot, Target, Tube};
use crate::numeric::summary::{count, to_index};
use crate::tube::Model;

/// The limits that a gauge shows on a piece, by their words in `lot.toml`.
pub const GAUGED: [&str; 4] = ["hollow", "rock", "arc_tolerance", "skew"];

/// What of each limit, mm.
#[must_use]
pub fn gauged_limits(target: &Target) -> [f64; 4] {
    [target.hollow_mm, target.rock_mm, target.arc_tolerance_mm, target.skew_mm]
}

/// The same, to be set.
pub fn gauged_limits_mut(target: &mut Target) -> [&mut f64; 4] {
    [&mut target.hollow_mm, &mut target.rock_mm, &mut target.arc_tolerance_mm, &mut target.skew_mm]
}

/// A value is never told as less than this share of its limit: its logarithm stays a number.
const LEAST_SHARE: f64 = 1e-3;

/// One stretch that was got or refused.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged {
    /// Whether a blank came of it.
    pub got: bool,
    /// Why not; free text.
    pub why: String,
    /// Draw by draw the logarithm of what the gauge would show over its limit, in the order of [`GAUGED`].
    pub over: Vec<[f64; 4]>,
}

/// The judged stretches of one tube, on its pieces as they fell where the lot is planned so ([`Lot::as_split`]) and somebody
/// wrote it down, else as they were aimed. A stretch is taken where its blank lies best on its piece, draw by draw; one without a piece, or off the tube, is left out.
///
/// # Errors
/// See [`NoPlan`].
pub fn judged_stretches(tube: &Tube, lot: &Lot, model: &Model, options: PlanOptions) -> Result<Vec<Judged>, NoPlan> {
    let Some(cut) = tube.cut.as_ref().filter(|c| c.stretches.iter().any(|s| s.piece.is_some())) else {
        return Ok(Vec::new());
    };
    let (plan, basis) = plan_and_keep(tube, lot, model, options, Depth::Glance)?;
    let (Some((splitter, draws)), Some(split)) = (&basis.draws, &plan.split) else { return Ok(Vec::new()) };
    let (judge, aim) = (splitter.judge(), Angle::from_degrees(split.best.angle_deg).radians());
    let fan = judge.fan();
    let start = |from_mm: f64| {
        let s = ((from_mm - fan.start_mm(0)) / fan.step_mm()).round();
        // half a step beyond the first or last start is still that one
        (-0.5..=count(fan.starts()) - 0.5).contains(&s).then(|| to_index(s.max(0.0)).min(fan.starts() - 1))
    };
    let stretches: Vec<(usize, usize, &crate::domain::Stretch)> = cut
        .stretches
        .iter()
        .filter_map(|s| {
            let piece = s.piece.filter(|p| (1..=splitter.pieces()).contains(p))?;
            // the blank lies in the middle of what was judged
            let from = 0.5 * (s.from_mm + s.to_mm - fan.blank_mm());
            Some((piece - 1, start(from)?, s))
        })
        .collect();
    let mut out: Vec<Judged> =
        stretches.iter().map(|(.., s)| Judged { got: s.got, why: s.why.clone(), over: Vec::new() }).collect();
    let limits = gauged_limits(judge.target());
    let mut map = BarkMap::default();
    for drawn in draws {
        judge.judge(&drawn.sections, &mut map);
        for ((piece, s, _), judged) in stretches.iter().zip(&mut out) {
            let (first, width) = splitter.lines_of(aim, *piece, &[]);
            let on = |line: usize| s * LINES + line;
            let best = open_lines(&map, *s, first, width)
                .map(|(_, line)| on(line))
                .max_by(|a, b| judge.margin(&map, *a).total_cmp(&judge.margin(&map, *b)));
            // a piece too narrow for a blank there: its middle
            let at = best.unwrap_or_else(|| on((first + width / 2 + map.side(*s).shift) % LINES));
            let arc = (f64::from(map.arc[at]) - judge.target().arc_diameter_mm).abs();
            let shown = [f64::from(map.hollow[at]), f64::from(map.rock[at]), arc, f64::from(map.skew[at]).abs()];
            judged.over.push(std::array::from_fn(|q| (shown[q] / limits[q]).max(LEAST_SHARE).ln()));
        }
    }
    Ok(out)
}
