//! What one tube gives for each of several sets of targets, on one and the same belief of it.

use super::plan::{NoPlan, PlanOptions, begun, believe, capacity, fitted, limit_shares, mean_radius_mm, surfaces};
use super::screen::screen;
use super::split::splitter_for;
use super::verdict::Screened;
use crate::domain::{Lot, Phrase, Target, Tube};
use crate::tube::{FittedTube, Model, TubeFigures};

/// Lobes beyond the oval, and how the size changes along the tube, bend the bark by no more than this, mm of diameter. Own
/// choice, wide: on all sample lots and makes a tube beyond it gives no blank in any draw.
const OTHER_LOBES_MM: f64 = 1.5;
/// So many standard deviations a figure may be off before a tube is called out of reach.
const SURELY: f64 = 4.0;

/// What one tube gives for one set.
#[derive(Debug, Clone, PartialEq)]
pub struct Served {
    /// Blanks expected, valued on draws that did not choose the split.
    pub expected: f64,
    /// 5 % and 95 % points of the blanks.
    pub interval: (f64, f64),
    /// Blanks of every draw; none of a tube that is too short or out of reach.
    pub draws: Vec<u16>,
    /// Where to split it for this set, degrees.
    pub angle_deg: Option<f64>,
    /// Most blanks the length could hold were every stretch good.
    pub capacity: usize,
    /// Whether it is worth splitting for this set.
    pub screen: Screened,
    /// False where the tube's size is so far from the set that nothing was planned.
    pub in_reach: bool,
}

/// A tube's figures, and what it gives for each set in their order.
#[derive(Debug, Clone, PartialEq)]
pub struct ServedTube {
    /// Its figures.
    pub fit: FittedTube,
    /// One for each set.
    pub sets: Vec<Served>,
    /// False where no fibre was followed: the grain is taken as running true.
    pub grain_checked: bool,
    /// False where no reading of the wall exists: the wall limit was not checked.
    pub wall_checked: bool,
}

/// Believes a tube once and plans it for each of `lots`, which differ in nothing but what is wanted.
///
/// The draws are the same surfaces for every set. No runs are laid out, and what the whole plan tries beside (other limits, sawing
/// first, grain and wall nobody read) is left out: none of it enters the blanks expected or the verdict.
///
/// # Errors
/// See [`NoPlan`].
pub fn serve_tube(tube: &Tube, lots: &[Lot], model: &Model, options: PlanOptions) -> Result<ServedTube, NoPlan> {
    let belief = believe(tube, model)?;
    let fit = fitted(tube, &belief, model, options);
    let radius_mm = mean_radius_mm(&belief);
    let one = |lot: &Lot| {
        if let Some(why) = out_of_reach(&fit.figures, fit.length_mm, &lot.target) {
            return Served {
                expected: 0.0,
                interval: (0.0, 0.0),
                draws: Vec::new(),
                angle_deg: None,
                capacity: 0,
                screen: Screened { reason: why, ..Screened::default() },
                in_reach: false,
            };
        }
        let mut plan = begun(tube, lot, &belief, fit.clone());
        if let Some(splitter) = splitter_for(tube.length_mm, belief.fields(), lot, &tube.marks, radius_mm) {
            let (draws, map) = surfaces(&splitter, &belief, options);
            plan.split = Some(splitter.choose(&draws, &map));
            plan.capacity = capacity(&splitter);
            plan.limits = limit_shares(&map, splitter.judge().fan());
        }
        let screen = screen(&plan, &lot.target, &lot.screen);
        Served {
            expected: plan.expected(),
            interval: plan.split.as_ref().map_or((0.0, 0.0), |s| s.interval),
            angle_deg: plan.split.as_ref().map(|s| s.best.angle_deg),
            draws: plan.split.map_or_else(Vec::new, |s| s.draws),
            capacity: plan.capacity,
            screen,
            in_reach: true,
        }
    };
    let sets = lots.iter().map(one).collect();
    Ok(ServedTube { fit, sets, grain_checked: belief.grain_seen(), wall_checked: belief.wall_seen() })
}

/// Why no stretch of a tube of these figures can have the arc diameter that is wanted; `None` where one might, or where the
/// readings do not see size and ovality.
///
/// The curvature of a pure oval is that of a circle whose diameter is up to 1.5 times the ovality (largest less smallest
/// diameter) from the mean: for `R + a cos 2t` the radius of curvature is `R - 3 a cos 2t` to first order, the ovality 4 a.
/// A taper carries the size off by half of what it makes over the length. With that, twice the doubt of a careful reader
/// and something for other lobes, a tube that is called out of reach is.
#[must_use]
pub fn out_of_reach(f: &TubeFigures, length_mm: f64, target: &Target) -> Option<Phrase> {
    let (size, oval) = (f.diameter_mm?, f.ovality_mm?);
    let taper = f.taper_mm_per_100mm.map_or(0.0, |t| t.value.abs() * length_mm / 200.0);
    let bends = 1.5 * (oval.value + SURELY * oval.sd) + taper + OTHER_LOBES_MM;
    let room = target.arc_tolerance_mm + bends + SURELY * size.sd;
    let off = size.value - target.arc_diameter_mm;
    (off.abs() > room).then(|| {
        let side = if off < 0.0 { "small" } else { "large" };
        Phrase::new(format!("too {side} all round: diameter ")).length(size.value, 1)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decide::plan::plan_tube;
    use crate::domain::{Angle, INSTRUMENTS, Kind, Reading};

    fn tube(diameter_mm: f64) -> Tube {
        let rings =
            (0..10).map(|j| 5.0 + f64::from(j) * 20.0).flat_map(|z| (0..12).map(move |i| (z, f64::from(i) * 30.0)));
        let height = |deg: f64| diameter_mm / 2.0 + diameter_mm / 120.0 * (2.0 * (deg - 40.0)).to_radians().cos();
        let readings = rings.map(|(z, a)| Reading::new(Kind::Radius, z, Angle::from_degrees(a), height(a)));
        Tube { name: "T".into(), length_mm: 190.0, readings: readings.collect(), ..Tube::default() }
    }

    fn lots() -> Vec<Lot> {
        INSTRUMENTS
            .iter()
            .map(|i| Lot { target: Target::for_instrument(i.name).expect(i.name), ..Lot::default() })
            .collect()
    }

    const OPTIONS: PlanOptions = PlanOptions { seed: 3, draws: 24 };

    #[test]
    fn a_set_gives_what_planning_for_it_alone_gives_and_nothing_out_of_reach_gives_any() {
        for diameter in [10.3, 25.4, 30.0] {
            let tube = tube(diameter);
            let model = Model::default();
            let served = serve_tube(&tube, &lots(), &model, OPTIONS).expect("measured");
            let mut reached = 0;
            for (lot, got) in lots().iter().zip(&served.sets) {
                let name = &lot.target.instrument;
                let alone = plan_tube(&tube, lot, &model, OPTIONS).expect("measured");
                if got.in_reach {
                    reached += 1;
                    let s = alone.split.as_ref().map(|s| (s.best.expected, s.interval, s.best.angle_deg));
                    let same = (got.expected, got.interval, got.angle_deg.unwrap_or(-1.0));
                    assert_eq!(s.unwrap_or((0.0, (0.0, 0.0), -1.0)), same, "{diameter} mm for {name}");
                    assert_eq!((&got.screen, got.capacity), (&alone.screen, alone.capacity), "{diameter} for {name}");
                } else {
                    assert!(alone.expected() < 1e-9, "{diameter} mm for {name}: {}", alone.expected());
                    assert!(got.screen.reason.begins("too "), "{name}");
                }
            }
            assert!((1..9).contains(&reached), "{diameter}: {reached}");
        }
    }

    #[test]
    fn what_is_not_seen_is_not_called_out_of_reach() {
        let target = Target::default();
        let model = Model::default();
        let fit = serve_tube(&tube(10.3), &[], &model, OPTIONS).expect("measured").fit;
        assert!(out_of_reach(&fit.figures, 190.0, &target).is_some());
        let blind = TubeFigures { ovality_mm: None, ..fit.figures };
        assert!(out_of_reach(&blind, 190.0, &target).is_none());
        let blind = TubeFigures { diameter_mm: None, ..fit.figures };
        assert!(out_of_reach(&blind, 190.0, &target).is_none());
    }
}
