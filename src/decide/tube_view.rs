//! What a picture of one tube shows beyond its plan, from the same belief and the same draws.

use super::fan::LINES;
use super::girth::{IndexEnd, across_mm};
use super::plan::{Depth, mean_radius_mm, plan_and_keep};
use super::split::{DrawnSurface, Splitter};
use super::tube_plan::{NoPlan, PlanOptions, TubePlan};
use crate::domain::{Angle, Lot, Tube};
use crate::numeric::summary::count;
use crate::tube::{Belief, Contact, Fields, Model, Quantity, contacts};
use std::f64::consts::TAU;

/// Directions at which an outline is given: every 2 degrees.
const DIRECTIONS: usize = 180;
/// Places at which the centreline is given.
const PLACES: usize = 41;

/// The section at one place as believed.
#[derive(Debug, Clone, PartialEq)]
pub struct Outline {
    /// The place, mm from the index end.
    pub z_mm: f64,
    /// Mean radius there, mm.
    pub mean_mm: f64,
    /// Radius about the section's own centre at equal steps of angle from the index line, clockwise, mm.
    pub radius_mm: Vec<f64>,
    /// Standard deviation of the departure from the mean radius at the same angles, mm.
    pub departure_sd_mm: Vec<f64>,
    /// Wall at the same angles, mm; `None` where no reading of the wall exists.
    pub wall_mm: Option<Vec<f64>>,
}

/// A place of the centreline, measured from the chord between its ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CentrePlace {
    /// mm from the index end.
    pub z_mm: f64,
    /// Distance from the chord toward 0 deg and toward 90 deg, mm.
    pub off_mm: [f64; 2],
    /// Standard deviations of the two, mm.
    pub sd_mm: [f64; 2],
}

/// For every place of the bark the chance that it lies under a stretch that passes.
#[derive(Debug, Clone, PartialEq)]
pub struct ChanceMap {
    /// Places along the tube, mm from the index end, rising.
    pub z_mm: Vec<f64>,
    /// Chances: bark line `i` (every 2 deg from the index line) at place `j` stands at `i * z_mm.len() + j`.
    pub within: Vec<f32>,
}

impl ChanceMap {
    /// Number of bark lines.
    pub const LINES: usize = LINES;

    /// The chances along bark line `i`.
    #[must_use]
    pub fn line(&self, i: usize) -> &[f32] {
        let n = self.z_mm.len();
        &self.within[i % LINES * n..(i % LINES + 1) * n]
    }

    fn of(splitter: &Splitter, draws: &[DrawnSurface]) -> ChanceMap {
        let fan = splitter.judge().fan();
        let (n, window) = (fan.z_mm().len(), fan.window());
        let mut hits = vec![0_u32; LINES * n];
        for d in draws {
            for line in 0..LINES {
                // the first place not yet counted for this draw and line
                let mut next = 0;
                for s in (0..fan.starts()).filter(|&s| d.passing.passes_at(s, line)) {
                    for hit in &mut hits[line * n + s.max(next)..=line * n + s + window] {
                        *hit += 1;
                    }
                    next = s + window + 1;
                }
            }
        }
        let all = count(draws.len().max(1));
        let within = hits.iter().map(|&h| super::fan::single(f64::from(h) / all)).collect();
        ChanceMap { z_mm: fan.z_mm().to_vec(), within }
    }
}

/// Where a reading touched the bark.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReadPlace {
    /// mm from the index end.
    pub z_mm: f64,
    /// Degrees in [0, 360).
    pub deg: f64,
    /// True when the fit does not believe it.
    pub doubted: bool,
}

/// What pictures and strips of one tube need beside its plan.
#[derive(Debug, Clone, PartialEq)]
pub struct TubeView {
    /// Girth at the index end, mm.
    pub girth_mm: f64,
    /// Its standard deviation, mm; meaningless where the plan says that size is not seen.
    pub girth_sd_mm: f64,
    /// The index end, where the splits are marked.
    pub end: IndexEnd,
    /// For every run, piece by piece as in the plan, mm of bark from its blank's middle clockwise to the edge of its piece.
    pub across_mm: Vec<Vec<f64>>,
    /// Mean radius of the whole tube, mm: what unrolls the bark.
    pub mean_radius_mm: f64,
    /// The section at the place most runs cover, else half way along.
    pub section: Outline,
    /// The centreline from end to end.
    pub centreline: Vec<CentrePlace>,
    /// Chances over the bark; `None` when the tube is too short for a blank.
    pub chance: Option<ChanceMap>,
    /// Where the readings of the outside touched the bark, in the order of the files; one place for every contact.
    pub readings: Vec<ReadPlace>,
}

/// As [`super::plan::plan_tube`], and what pictures need, from the same belief and draws.
///
/// # Errors
/// See [`NoPlan`].
pub fn plan_tube_with_view(
    tube: &Tube,
    lot: &Lot,
    model: &Model,
    options: PlanOptions,
) -> Result<(TubePlan, TubeView), NoPlan> {
    viewed(tube, lot, model, options, Depth::Whole)
}

/// The same without what takes longer than the split itself: no slips are looked for, no other limits, no other order of the
/// work and no grain or wall nobody read are tried. The split, the pieces and the runs are those of the whole plan.
///
/// # Errors
/// See [`NoPlan`].
pub fn glance_tube_with_view(
    tube: &Tube,
    lot: &Lot,
    model: &Model,
    options: PlanOptions,
) -> Result<(TubePlan, TubeView), NoPlan> {
    viewed(tube, lot, model, options, Depth::Glance)
}

fn viewed(
    tube: &Tube,
    lot: &Lot,
    model: &Model,
    options: PlanOptions,
    depth: Depth,
) -> Result<(TubePlan, TubeView), NoPlan> {
    let (plan, basis) = plan_and_keep(tube, lot, model, options, depth)?;
    let belief = &basis.belief;
    let end = IndexEnd::of(belief);
    let view = TubeView {
        girth_mm: end.girth.whole_mm(),
        girth_sd_mm: girth_sd_mm(belief),
        end,
        across_mm: across_mm(belief, &plan),
        mean_radius_mm: mean_radius_mm(belief),
        section: outline(belief, busiest_place(&plan)),
        centreline: centreline(belief),
        chance: basis.draws.as_ref().map(|(splitter, draws)| ChanceMap::of(splitter, draws)),
        readings: read_places(tube, lot, &plan),
    };
    Ok((plan, view))
}

/// Doubt of the girth at the index end, mm: that of the mean radius there.
fn girth_sd_mm(belief: &Belief) -> f64 {
    belief.doubt_of(&Quantity::of(belief.fields()).field(0.0, Fields::R0, TAU)).sd
}

/// The place that lies under most runs, nearest to the middle of the tube; the middle without runs. Whole millimetres.
fn busiest_place(plan: &TubePlan) -> f64 {
    let middle = plan.fit.length_mm / 2.0;
    let runs: Vec<(f64, f64)> = plan.pieces.iter().flat_map(|p| &p.runs).map(|r| (r.from_mm, r.to_mm)).collect();
    let covers = |z: f64| runs.iter().filter(|r| r.0 <= z && z <= r.1).count();
    let whole = |z: f64| z.round().clamp(0.0, plan.fit.length_mm);
    let places = runs.iter().flat_map(|r| [r.0.ceil(), r.1.floor(), f64::midpoint(r.0, r.1)]);
    let mut best = (covers(whole(middle)), whole(middle));
    for z in places.map(whole) {
        let (n, nearer) = (covers(z), (z - middle).abs() < (best.1 - middle).abs());
        if n > best.0 || (n == best.0 && nearer) {
            best = (n, z);
        }
    }
    best.1
}

fn outline(belief: &Belief, z_mm: f64) -> Outline {
    let sections = belief.mean_sections(&[z_mm]);
    let section = sections.section(0);
    let angles: Vec<Angle> = (0..DIRECTIONS).map(|i| Angle::from_radians(TAU * count(i) / count(DIRECTIONS))).collect();
    let departure_sd = |&a: &Angle| belief.doubt_of(&Quantity::of(belief.fields()).waves(z_mm, a, 1.0, |_| 1.0)).sd;
    // the doubt changes no faster than the highest lobe: every fourth direction, the rest in between
    let coarse: Vec<f64> = angles.iter().step_by(4).map(departure_sd).collect();
    let departure_sd_mm = (0..DIRECTIONS)
        .map(|i| {
            let (k, t) = (i / 4, count(i % 4) / 4.0);
            (1.0 - t) * coarse[k] + t * coarse[(k + 1) % coarse.len()]
        })
        .collect();
    Outline {
        z_mm,
        mean_mm: section.mean_radius_mm(),
        radius_mm: angles.iter().map(|&a| section.radius_mm(a)).collect(),
        departure_sd_mm,
        wall_mm: angles.iter().map(|&a| section.wall_mm(a)).collect(),
    }
}

fn centreline(belief: &Belief) -> Vec<CentrePlace> {
    let (length, centre) = (belief.length_mm(), belief.fields().centre());
    let z: Vec<f64> = (0..PLACES).map(|i| length * count(i) / count(PLACES - 1)).collect();
    let sections = belief.mean_sections(&z);
    let at = |j: usize, part: usize| sections.row(j)[centre + part];
    z.iter()
        .enumerate()
        .map(|(j, &z_mm)| {
            let t = z_mm / length;
            let off = |part: usize| at(j, part) - (1.0 - t) * at(0, part) - t * at(PLACES - 1, part);
            let sd = |part: usize| {
                let f = centre + part;
                let off = Quantity::of(belief.fields()).field(z_mm, f, 1.0).field(0.0, f, t - 1.0).field(length, f, -t);
                belief.doubt_of(&off).sd
            };
            CentrePlace { z_mm, off_mm: [off(0), off(1)], sd_mm: [sd(0), sd(1)] }
        })
        .collect()
}

fn read_places(tube: &Tube, lot: &Lot, plan: &TubePlan) -> Vec<ReadPlace> {
    let doubted: std::collections::BTreeSet<usize> = plan.fit.doubted.iter().map(|d| d.index).collect();
    let places = tube.readings.iter().enumerate().flat_map(|(i, r)| {
        let doubted = doubted.contains(&i);
        let place = move |c: Contact| ReadPlace { z_mm: c.z_mm, deg: c.angle.wrapped().degrees(), doubted };
        contacts(r, lot.rigs.get(&r.rig)).into_iter().map(place)
    });
    places.collect()
}

/// Half the angle a blank of this width takes up on a tube of this radius, degrees.
#[must_use]
pub fn half_blank_deg(blank_width_mm: f64, radius_mm: f64) -> f64 {
    (blank_width_mm / 2.0 / radius_mm).clamp(0.0, 1.0).asin().to_degrees()
}

#[cfg(test)]
mod tests {
    use super::super::plan::plan_tube;
    use super::*;
    use crate::domain::{Cut, Kind};
    use crate::numeric::draws;
    use crate::tube::learn::learn_population;
    use crate::tube::simulate::{Stand, TrueTube};

    fn read_tube() -> Tube {
        let truth = TrueTube::grow(&Stand::default(), 20, 1);
        let mut rng = draws::stream(20, "view", 1);
        let mut tube = truth.listed();
        tube.readings = truth.rings(Kind::Runout, 12, 17.0, 0.02, &mut rng);
        tube.readings.extend(truth.rings(Kind::Diameter, 4, 1e6, 0.05, &mut rng));
        tube
    }

    #[test]
    fn the_view_changes_nothing_about_the_plan_and_fits_it() {
        let (tube, lot) = (read_tube(), Lot::default());
        let options = PlanOptions { seed: 1, draws: 60 };
        let model = Model::default();
        let (plan, view) = plan_tube_with_view(&tube, &lot, &model, options).expect("measured");
        assert_eq!(plan, plan_tube(&tube, &lot, &model, options).expect("measured"));
        // a girth lies between those of the circles of its least and largest radius
        assert!((view.girth_mm / TAU - 12.7).abs() < 1.5, "{}", view.girth_mm);
        assert!(view.girth_sd_mm > 0.0 && view.girth_sd_mm < 1.0, "{}", view.girth_sd_mm);
        let (first, last) = (view.centreline[0], view.centreline[PLACES - 1]);
        assert!(first.off_mm.iter().chain(&last.off_mm).all(|v| v.abs() < 1e-9));
        let bow = view.centreline.iter().map(|p| p.off_mm[0].hypot(p.off_mm[1])).fold(0.0, f64::max);
        let told = plan.fit.figures.bow_mm.expect("runout sees bow").value;
        assert!((bow - told).abs() < 0.02, "{bow} {told}");
    }

    #[test]
    fn a_blank_lies_across_its_piece_where_its_line_and_the_piece_say() {
        let (tube, lot) = (read_tube(), Lot::default());
        let options = PlanOptions { seed: 1, draws: 60 };
        let (plan, view) = plan_tube_with_view(&tube, &lot, &Model::default(), options).expect("measured");
        let mut seen = 0;
        for (piece, across) in plan.pieces.iter().zip(&view.across_mm) {
            assert_eq!(piece.runs.len(), across.len());
            for (run, mm) in piece.runs.iter().zip(across) {
                // no grain was followed: radius times the angle from the line to the next split line, but for the lobes
                let angle = (piece.from_deg + 90.0 - run.line_deg).rem_euclid(360.0).to_radians();
                assert!((mm - view.mean_radius_mm * angle).abs() < 0.6, "{mm} {angle}");
                // half the blank fits on both sides of its middle
                assert!(*mm > 6.75 && *mm < view.girth_mm / 4.0 - 6.0, "{mm}");
                seen += 1;
            }
        }
        assert!(seen > 2, "{seen} runs");
        // the outline drawn is the one the girth was measured on
        let mean = view.end.radius_mm.iter().sum::<f64>() / 180.0;
        assert!((view.girth_mm / TAU - mean).abs() < 0.05, "{mean}");
    }

    #[test]
    fn on_a_split_tube_it_is_measured_from_the_edge_that_fell() {
        let lines = [20.0, 125.0, 200.0, 295.0];
        let cut = Cut { lines: lines.map(Angle::from_degrees).to_vec(), ..Cut::default() };
        let (tube, lot) = (Tube { cut: Some(cut), ..read_tube() }, Lot { as_split: true, ..Lot::default() });
        let options = PlanOptions { seed: 1, draws: 60 };
        let (plan, view) = plan_tube_with_view(&tube, &lot, &Model::default(), options).expect("measured");
        let mut seen = 0;
        for (p, (piece, across)) in plan.pieces.iter().zip(&view.across_mm).enumerate() {
            for (run, mm) in piece.runs.iter().zip(across) {
                let angle = (lines[(p + 1) % 4] - run.line_deg).rem_euclid(360.0).to_radians();
                assert!((mm - view.mean_radius_mm * angle).abs() < 0.6, "{mm} {angle}");
                seen += usize::from(p != 2);
            }
        }
        // on the pieces that are not a quarter wide
        assert!(seen > 1, "{seen} runs");
    }

    #[test]
    fn a_place_under_a_likely_run_is_at_least_as_likely_as_the_run_on_its_line() {
        let (tube, lot) = (read_tube(), Lot::default());
        let options = PlanOptions { seed: 1, draws: 60 };
        let before = Model::default();
        let model = learn_population(std::slice::from_ref(&tube), &before).expect("measured").model(&before);
        let (plan, view) = plan_tube_with_view(&tube, &lot, &model, options).expect("measured");
        let map = view.chance.expect("long enough");
        assert!(map.within.iter().all(|c| (0.0..=1.0).contains(c)));
        let mut seen = 0;
        for run in plan.pieces.iter().flat_map(|p| &p.runs).filter(|r| r.chance > 0.9) {
            // the chance of a run counts any line its piece leaves open, so the best line near it holds as much
            let place = map.z_mm.iter().position(|&z| z > (run.from_mm + run.to_mm) / 2.0).expect("inside");
            let best = (0..LINES).map(|i| map.line(i)[place]).fold(0.0, f32::max);
            assert!(f64::from(best) > 0.5, "{run:?}: {best}");
            seen += 1;
        }
        assert!(seen > 0, "no likely run to look at");
    }

    #[test]
    fn a_diameter_touches_the_bark_twice_a_block_thrice_a_wall_or_a_fibre_not_at_all() {
        let truth = TrueTube::grow(&Stand::default(), 20, 1);
        let mut rng = draws::stream(20, "view", 1);
        let mut tube = truth.listed();
        tube.readings = truth.rings(Kind::Diameter, 4, 100.0, 0.05, &mut rng);
        let n = tube.readings.len();
        tube.readings.extend(truth.rings(Kind::Wall, 4, 100.0, 0.05, &mut rng));
        tube.readings.extend(truth.rings(Kind::Grain, 4, 100.0, 1.0, &mut rng));
        let summits = truth.rings(Kind::Vee, 4, 100.0, 0.02, &mut rng);
        let places = 2 * n + 3 * summits.len();
        tube.readings.extend(summits);
        let (_, view) =
            plan_tube_with_view(&tube, &Lot::default(), &Model::default(), PlanOptions { seed: 1, draws: 20 })
                .expect("measured");
        assert_eq!(view.readings.len(), places);
        assert!(view.section.wall_mm.is_some());
    }
}
