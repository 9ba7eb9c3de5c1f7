//! The equations of one tube and their solution by reweighting; what the unknowns are and why stands in `belief`.

use super::bridge::Posts;
use super::doubted::Doubted;
use super::error::BeliefError;
use super::fields::Fields;
use super::gram::Before;
use super::group::Group;
use super::instrument::{MOST_LINES, Probe, Unknown, line, scale, surface_value, tenths, turns, unknowns};
use super::layout::{Layout, SHAPES};
use super::linearised::{Equations, Linearised};
use super::model::Model;
use super::pass_fit::PassFit;
use super::population::{Population, TOP};
use super::prior::{Alone, unevenness};
use super::resting::{CONTACT_PASSES, LOOSE_MM, Placement, drawn, placements};
use super::rounding::Site;
use super::rows::{Row, scan_rows, scan_unknowns, scan_wall_rows, scan_wall_unknowns, tracing_point, unwrap_fibres};
use super::section::Section;
use super::tangents::Tangents;
use crate::domain::{Angle, Kind, Reading, Tube};
use crate::numeric::arrow::{Arrow, ArrowFactor};
#[cfg(test)]
use crate::numeric::draws;
use crate::numeric::summary::{count, median};
use std::collections::BTreeSet;

/// Departure up to which a reading has its full weight, sd: 93 % of good ones.
const PLATEAU: f64 = 1.8;
/// How fast the weight falls beyond, sd: a quarter is left at 3.9, about as under a Student-t likelihood of 4 degrees of
/// freedom (Lange, Little and Taylor, J. Amer. Statist. Assoc. 84 (1989) 881-896).
const FALL: f64 = 1.2;
/// Reweighting passes with a bounded-influence (Huber) weight before the Student-t one takes over.
const BOUNDED_PASSES: usize = 12;
/// Passes in all; the report says when they were not enough.
const MOST_PASSES: usize = 60;
/// The fit has settled when a full step would move no predicted reading by more than this share of its noise.
const SETTLED_SD: f64 = 0.01;
/// The bounded weights have done their work when no predicted reading moves by more than this share of its noise.
const NEARLY_SD: f64 = 0.1;
/// Least share of a step that is taken.
const LEAST_STEP: f64 = 0.1;
/// Each time the way turns back the largest share of a whole step shrinks by this: else two bumps are visited in turn for
/// ever.
const TIRED: f64 = 0.75;
/// A reading is listed as doubted when its weight falls below this (a departure of about 3.7 sd).
const DOUBT_WEIGHT: f64 = 0.28;
/// How well the one wall figure of the tube list stands for the mean wall, mm; common practice, no source.
const LISTED_WALL_SD_MM: f64 = 0.25;

/// Prior doubt of what the readings do not bring into the model at all.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Unmodelled {
    /// Of the mean wall, mm.
    pub(super) wall_mm: f64,
    /// Of the even twist over 200 mm, degrees.
    pub(super) twist_deg: f64,
}

/// The model of one tube, ready to be solved.
#[derive(Debug, Clone)]
pub(super) struct Problem {
    pub(super) layout: Layout,
    pub(super) rows: Vec<Row>,
    /// straightedges that rest; their contacts are the last rows, two of each
    resting: Vec<Placement>,
    /// of every field; what else the prior says stands in `border`
    uneven: Vec<Uneven>,
    /// prior precision of level, tilt, bend and ess of every field, then of the unknowns of the measuring
    pub(super) border: Vec<f64>,
    pub(super) centre: Vec<f64>,
    unmodelled: Unmodelled,
}

/// The unevenness of one field.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Uneven {
    /// See [`super::population::FieldScale::rough`].
    pub(super) rough: f64,
    pub(super) reach_mm: f64,
}

impl Uneven {
    /// Of every field of a population, `rougher` times as large as it says.
    fn all(fields: Fields, p: &Population, rougher: f64) -> Vec<Uneven> {
        let group = |field| Group::of(fields, field);
        let one = |g: Group| Uneven { rough: rougher * g.scale(p).rough, reach_mm: g.reach_mm(p) };
        (0..fields.count()).map(|field| one(group(field))).collect()
    }
}

/// Prior precision of level, tilt, bend and ess of every field.
pub(super) fn effect_precision(fields: Fields, p: &Population) -> Vec<f64> {
    let one = |field: usize| {
        let s = Group::of(fields, field).scale(p);
        [s.level, s.tilt, s.bend, s.ess].map(|sd| sd.powi(-2))
    };
    (0..fields.count()).flat_map(one).collect()
}

impl Problem {
    /// Sets up everything measured on a tube whose scan is laid out.
    pub(super) fn new(tube: &Tube, model: &Model) -> Result<Problem, BeliefError> {
        let has = |kind: Kind| tube.readings.iter().any(|r| r.kind == kind);
        let scan_walls = tube.scan.as_ref().and_then(|s| s.unrolled.as_ref()).map_or(&[][..], |u| &u.walls);
        let wall = tube.wall_mm.is_some() || has(Kind::Wall) || !scan_walls.is_empty();
        let fields = Fields { top: TOP, wall, twist: has(Kind::Grain) };
        let posts =
            Posts::of(tube, model).map_err(|(i, what)| BeliefError::lacks(&tube.name, &tube.readings[i], what))?;
        let lists: Vec<Vec<(Unknown, f64)>> = {
            let of = |(i, r): (usize, &Reading)| {
                let own = unknowns(r, tube.length_mm).into_iter().chain(scale(r, model.rig(&r.rig), r.value_mm));
                own.chain(posts.under(i)).collect()
            };
            tube.readings.iter().enumerate().map(of).collect()
        };
        let mut names: BTreeSet<Unknown> = lists.iter().flatten().map(|(u, _)| u.clone()).collect();
        let mut turned: BTreeSet<Unknown> = tube.readings.iter().flat_map(turns).collect();
        let lined = tube.readings.iter().filter(|r| turns(r).contains(&line(r)));
        // lines round the tube: several instruments may be read on one
        if lined.map(|r| tenths(r.angle.wrapped().degrees())).collect::<BTreeSet<_>>().len() > MOST_LINES {
            turned.retain(|u| !matches!(u, Unknown::Line(..)));
        }
        names.extend(turned);
        names.extend(posts.names());
        if tube.scan.is_some() {
            names.extend(scan_unknowns(0.0, Angle::ZERO).map(|(u, _)| u));
            names.insert(Unknown::IndexLine);
        }
        if !scan_walls.is_empty() {
            names.extend(scan_wall_unknowns(Angle::ZERO).map(|(u, _)| u));
        }
        let layout = Layout::new(fields, tube.length_mm, names);
        let mut rows: Vec<Row> = Vec::with_capacity(tube.readings.len() + 1);
        for ((index, r), list) in tube.readings.iter().enumerate().zip(&lists) {
            let rig = model.rig(&r.rig);
            let probe = Probe::of(r, rig).map_err(|what| BeliefError::lacks(&tube.name, r, what))?;
            let mut row = Row::of(index, r, probe, rig, model.population.noise_of(r.kind, &r.rig));
            row.nuisance = list.iter().map(|(u, factor)| (layout.measuring[u], *factor)).collect();
            row.turn = turns(r).iter().filter_map(|u| layout.measuring.get(u).copied()).collect();
            rows.push(row);
        }
        unwrap_fibres(&mut rows);
        if let Some(value) = tube.wall_mm {
            let (z_mm, sd) = (tube.length_mm / 2.0, LISTED_WALL_SD_MM);
            let probe = Probe::new(Kind::Wall, Angle::ZERO, Probe::ALL_ROUND);
            let (nuisance, turn) = (Vec::new(), Vec::new());
            rows.push(Row {
                index: None,
                probe,
                z_mm,
                value,
                sd,
                half_step: 0.0,
                nuisance,
                turn,
                foot: None,
                held: false,
            });
        }
        if let Some(scan) = &tube.scan {
            rows.extend(scan_rows(scan, tube.length_mm, &layout.measuring));
            rows.extend(scan_wall_rows(scan_walls, &layout.measuring));
        }
        rows.extend(posts.rows(&layout.measuring));
        let resting = placements(&layout, &rows);
        rows.extend(resting.iter().flat_map(|p| p.rows(&layout)));
        let uneven = Uneven::all(fields, &model.population, 1.0);
        let border = vec![0.0; layout.border()];
        let centre = vec![0.0; layout.size()];
        let unmodelled = Unmodelled { wall_mm: model.population.wall.level, twist_deg: model.population.twist.tilt };
        let mut problem = Problem { layout, rows, resting, uneven, border, centre, unmodelled };
        problem.set_centre(model);
        problem.set_border(tube, model);
        Ok(problem)
    }

    /// Where the prior expects every unknown.
    fn set_centre(&mut self, model: &Model) {
        let fields = self.layout.fields;
        self.centre[self.layout.effect(Fields::R0, 0)] = model.centre_radius_mm;
        if let Some(w) = fields.wall_at() {
            self.centre[self.layout.effect(w, 0)] = model.population.wall_mm;
        }
        for (name, &at) in &self.layout.measuring {
            // asked of those names alone that need them, few a tube: a pass over all rows for each of them
            let rows =
                || -> Vec<&Row> { self.rows.iter().filter(|r| r.nuisance.iter().any(|&(i, _)| i == at)).collect() };
            match name {
                // a dial's zero is arbitrary: start it where its readings are, with the same weak sd
                Unknown::Zero(..) => {
                    let rows = rows();
                    let readings: Vec<f64> = rows.iter().map(|r| r.value).collect();
                    let mut row = vec![0.0; fields.count()];
                    row[Fields::R0] = model.centre_radius_mm;
                    let plain = rows.first().map_or(0.0, |r| {
                        surface_value(r.probe, Section::new(fields, &row), &mut vec![0.0; fields.count()])
                    });
                    self.centre[at] = median(&readings) - plain;
                }
                Unknown::Post(..) => self.centre[at] = model.centre_radius_mm,
                // likewise the point a tracing was measured from
                Unknown::Tracing(.., part) => self.centre[at] = tracing_point(&rows())[usize::from(*part)],
                _ => self.centre[at] = model.common.get(name).map_or(0.0, |c| c.0),
            }
        }
    }

    fn set_border(&mut self, tube: &Tube, model: &Model) {
        let effects = effect_precision(self.layout.fields, &model.population);
        self.border[..effects.len()].copy_from_slice(&effects);
        let band = self.layout.band();
        for (name, &at) in &self.layout.measuring {
            let sd = match (name, &tube.scan) {
                (Unknown::ScanSize, Some(scan)) => scan.accuracy_mm.max(1e-6),
                (Unknown::ScanWall, Some(scan)) => 2.0 * scan.accuracy_mm.max(1e-6),
                (Unknown::IndexLine, _) => model.index_line_deg.to_radians().max(1e-6),
                _ => model.common.get(name).map_or_else(|| name.sd_with(model.rig(name.rig())), |c| c.1.max(1e-6)),
            };
            self.border[at - band] = sd.powi(-2);
        }
    }

    /// The same problem under other scales of the tube, noise and errors of the instruments as they were; whether the
    /// unevenness is as it was.
    pub(super) fn move_to(&mut self, tube: &Tube, model: &Model) -> bool {
        self.set_border(tube, model);
        let before = std::mem::replace(&mut self.uneven, Uneven::all(self.layout.fields, &model.population, 1.0));
        before == self.uneven
    }

    /// The factor of the precision that readings which add `added` leave.
    pub(super) fn factor_with(&self, added: &Arrow) -> Option<ArrowFactor> {
        self.factor_under(&self.uneven, added)
    }

    /// The same under the unevenness of a population, `rougher` times as large.
    pub(super) fn factor_of(&self, population: &Population, rougher: f64, added: &Arrow) -> Option<ArrowFactor> {
        self.factor_under(&Uneven::all(self.layout.fields, population, rougher), added)
    }

    /// Half the logarithm of the determinant of the prior's precision under the unevenness of a population, `rougher` times as
    /// large.
    pub(super) fn half_log_det_of(&self, population: &Population, rougher: f64) -> Option<f64> {
        self.half_log_det_under(&Uneven::all(self.layout.fields, population, rougher))
    }

    /// The same of its own unevenness.
    pub(super) fn half_log_det(&self) -> Option<f64> {
        self.half_log_det_under(&self.uneven)
    }

    fn half_log_det_under(&self, uneven: &[Uneven]) -> Option<f64> {
        let (m, h) = (self.layout.spline.size(), self.layout.spline.spacing());
        let mut half = 0.5 * self.border.iter().map(|p| p.ln()).sum::<f64>();
        let mut known: Option<(f64, f64)> = None;
        for u in uneven {
            let alone = match known.filter(|k| k.0.to_bits() == u.reach_mm.to_bits()) {
                Some((_, alone)) => alone,
                None => Alone::of(m, h, u.reach_mm)?.half_log_det(),
            };
            known = Some((u.reach_mm, alone));
            half += alone - count(m) * u.rough.ln();
        }
        Some(half)
    }

    fn factor_under(&self, uneven: &[Uneven], added: &Arrow) -> Option<ArrowFactor> {
        let mut whole = band_prior(&self.layout, uneven);
        whole.add_all(added);
        whole.factor_with(|r| self.border[r])
    }

    /// The same problem with every unevenness so many times as large.
    pub(super) fn roughen(&mut self, population: &Population, by: f64) {
        self.uneven = Uneven::all(self.layout.fields, population, by);
    }

    /// The same readings taken `louder` times as noisy.
    pub(super) fn louder(&mut self, by: f64) {
        self.rows.iter_mut().for_each(|r| r.sd *= by);
    }

    /// Prior precision of all unknowns.
    #[cfg(test)]
    pub(super) fn prior(&self) -> Arrow {
        let mut prior = band_prior(&self.layout, &self.uneven);
        let n = self.layout.band();
        self.border.iter().enumerate().for_each(|(r, &p)| prior.add(n + r, n + r, p));
        prior
    }

    /// Readings of a tube drawn from the prior itself, with the noise their instruments state.
    #[cfg(test)]
    pub(super) fn drawn(&self, tube: &Tube, seed: u64) -> Tube {
        let mut rng = draws::stream(seed, &tube.name, 0);
        let mut x = draws::normals(&mut rng, self.centre.len());
        self.prior().factor().expect("a proper prior").backward(&mut x);
        x.iter_mut().zip(&self.centre).for_each(|(x, c)| *x += c);
        let mut out = tube.clone();
        for (row, value) in self.rows.iter().zip(self.predict(&x)) {
            if let Some(i) = row.index {
                out.readings[i].value_mm = value + row.sd * draws::normals(&mut rng, 1)[0];
            }
        }
        out
    }

    /// Solves by reweighting from the prior's centre; `None` when the equations are not positive definite.
    pub(super) fn solve(&self) -> Option<Solved> {
        let mut sites: Vec<Site> = self.rows.iter().map(Row::site).collect();
        for (i, _) in self.resting.iter().enumerate().filter(|(_, edge)| !edge.open) {
            let at = self.first_contact() + 2 * i;
            sites[at..at + 2].fill(Site::normal(0.0, LOOSE_MM * LOOSE_MM));
        }
        let laying = if self.resting.is_empty() { 0 } else { CONTACT_PASSES };
        self.passes(self.centre.clone(), sites, true, laying, 1.0, MOST_PASSES)
    }

    /// The same with every straightedge lifted off the bark: where it rests follows from the scales, and so must not teach
    /// them.
    pub(super) fn solve_lifted(&self) -> Option<Solved> {
        let mut sites: Vec<Site> = self.rows.iter().map(Row::site).collect();
        sites[self.first_contact()..].fill(Site::normal(0.0, LOOSE_MM * LOOSE_MM));
        self.passes(self.centre.clone(), sites, true, 0, 1.0, MOST_PASSES)
    }

    /// The rows about the unknowns `x` under these sites, not solved.
    pub(super) fn about(&self, x: &[f64], sites: Vec<Site>) -> Linearised {
        Linearised::new(self.tangents(x), self.from_centre(x), sites, None)
    }

    /// The prior as the equations of the readings need it, where these are the smaller ones.
    pub(super) fn before(&self) -> Option<Before<'_>> {
        self.before_under(&self.uneven)
    }

    /// The same under the unevenness of a population, `rougher` times as large.
    pub(super) fn before_of(&self, population: &Population, rougher: f64) -> Option<Before<'_>> {
        self.before_under(&Uneven::all(self.layout.fields, population, rougher))
    }

    fn before_under(&self, uneven: &[Uneven]) -> Option<Before<'_>> {
        if self.is_few() { Before::of(&self.layout, uneven, &self.border) } else { None }
    }

    /// Whether the equations of the readings are the smaller ones, by the multiplications both take.
    fn is_few(&self) -> bool {
        let layout = &self.layout;
        let sizes = [self.rows.len(), layout.fields.count(), layout.band(), layout.half_band(), layout.border()];
        let [m, fields, n, w, b] = sizes.map(count);
        m * m * (m / 6.0 + fields) < n * (w * w / 2.0 + w * b + b * b / 2.0)
    }

    /// The first row that is a contact of a straightedge.
    fn first_contact(&self) -> usize {
        self.rows.len() - 2 * self.resting.len()
    }

    /// Whether the contacts of some straightedge are renewed after this pass: those under which a gap shows by what is believed
    /// then, the others once, by what all other readings say.
    fn is_laid_anew(&self, pass: usize) -> bool {
        self.resting.iter().any(|edge| edge.is_due(pass))
    }

    /// Renews what the contacts of straightedges say after a pass.
    fn renew_contacts(&self, sites: &mut [Site], x: &[f64], factor: &ArrowFactor, pass: usize) {
        if !self.is_laid_anew(pass) {
            return;
        }
        let surfaces = drawn(x, factor);
        for (i, edge) in self.resting.iter().enumerate().filter(|(_, edge)| edge.is_due(pass)) {
            for (side, (value, sd)) in edge.doubt(&self.layout, x, &surfaces).into_iter().enumerate() {
                sites[self.first_contact() + 2 * i + side] = Site::normal(value, sd * sd);
            }
        }
    }

    /// Goes on from an earlier answer, its contacts kept, for at most `passes` passes; `share`: of a whole step, where it
    /// left off.
    pub(super) fn solve_from(&self, start: Vec<f64>, sites: Vec<Site>, share: f64, passes: usize) -> Option<Solved> {
        self.passes(start, sites, false, 0, share, passes)
    }

    fn passes(
        &self,
        start: Vec<f64>,
        sites: Vec<Site>,
        bounded: bool,
        laying: usize,
        share: f64,
        passes: usize,
    ) -> Option<Solved> {
        let (mut x, mut sites, mut bounded, mut share) = (start, sites, bounded, share);
        let mut most_share: f64 = 1.0;
        let mut weights = vec![1.0; self.rows.len()];
        let coarse = self.rows.iter().any(|r| r.half_step > 0.0);
        let before = self.before();
        let (mut here, mut last) = (Tangents::default(), Tangents::default());
        self.take_tangents(&mut here, &x);
        let mut way: Vec<f64> = Vec::new();
        let mut settled = false;
        let mut done = None;
        for pass in 0..passes {
            let from_centre = self.from_centre(&x);
            let before = before.as_ref().filter(|_| pass >= laying || !self.is_laid_anew(pass));
            let fit = PassFit::of(self, before, &here, &from_centre, &sites)?;
            for ((x, c), s) in x.iter_mut().zip(&self.centre).zip(&fit.off_centre()) {
                *x += share * (c + s - *x);
            }
            std::mem::swap(&mut here, &mut last);
            self.take_tangents(&mut here, &x);
            let predicted = here.values();
            let pulled = sites.clone();
            if pass > 0 {
                let moved: Vec<f64> = (last.rows.iter().zip(&predicted).zip(&self.rows))
                    .map(|((a, b), r)| if r.held { 0.0 } else { (b - a.value) / r.sd })
                    .collect();
                let most = moved.iter().map(|m| m.abs()).fold(0.0, f64::max) / share;
                if bounded && (pass >= BOUNDED_PASSES || most < NEARLY_SD) {
                    bounded = false;
                } else if !bounded && most < SETTLED_SD && pass >= laying {
                    settled = true;
                    done = Some((fit, from_centre, pulled));
                    break;
                }
                // jaws that ride from bump to bump and back again never come to rest with whole steps
                let back = way.iter().zip(&moved).map(|(a, b)| a * b).sum::<f64>() < 0.0;
                if back {
                    share = (0.5 * share).max(LEAST_STEP);
                    most_share = (TIRED * most_share).max(LEAST_STEP);
                } else {
                    share = (1.5 * share).min(most_share);
                }
                way = moved;
            }
            let spread = if coarse { fit.spreads(self, &here) } else { Vec::new() };
            if let (PassFit::Unknowns(Equations { factor, .. }), true) = (&fit, pass < laying) {
                self.renew_contacts(&mut sites, &x, factor, pass);
            }
            for (i, (row, p)) in self.rows.iter().zip(&predicted).enumerate().take(self.first_contact()) {
                if row.held {
                    continue;
                }
                let u = row.departure(*p);
                weights[i] = if bounded { bounded_weight(u) } else { tail_weight(u) };
                let variance = row.sd * row.sd / weights[i];
                sites[i] = if row.half_step > 0.0 {
                    sites[i].renewed(row.value, row.half_step, variance, *p, spread[i])
                } else {
                    Site { pull: 1.0 / variance, moment: row.value / variance }
                };
            }
            done = Some((fit, from_centre, pulled));
        }
        let (fit, from_centre, pulled) = done?;
        let equations = if let PassFit::Unknowns(equations) = fit { Some(equations) } else { None };
        let last = Linearised::new(last, from_centre, pulled, equations);
        Some(Solved { x, last, weights, sites, share, settled })
    }

    /// What rows added to the equations, renewed for the noise they have now; coarse rows and contacts keep their own.
    pub(super) fn renewed(&self, mut sites: Vec<Site>, weights: &[f64]) -> Vec<Site> {
        for ((site, row), weight) in sites.iter_mut().zip(&self.rows).zip(weights).take(self.first_contact()) {
            if row.half_step <= 0.0 {
                *site = Site::normal(row.value, row.sd * row.sd / weight);
            }
        }
        sites
    }

    /// The unknowns less the prior's centre.
    fn from_centre(&self, x: &[f64]) -> Vec<f64> {
        x.iter().zip(&self.centre).map(|(x, c)| x - c).collect()
    }

    /// Takes the tangents of all rows at `x`.
    fn take_tangents(&self, tangents: &mut Tangents, x: &[f64]) {
        tangents.take(&self.rows[..self.first_contact()], &self.resting, &self.layout, x);
    }

    /// The tangents of all rows at `x`.
    pub(super) fn tangents(&self, x: &[f64]) -> Tangents {
        let mut tangents = Tangents::default();
        self.take_tangents(&mut tangents, x);
        tangents
    }

    pub(super) fn predict(&self, x: &[f64]) -> Vec<f64> {
        self.tangents(x).values()
    }

    /// Readings whose weight fell below `DOUBT_WEIGHT`.
    pub(super) fn doubted(&self, solved: &Solved) -> Vec<Doubted> {
        let predicted = self.predict(&solved.x);
        let rows = self.rows.iter().zip(&solved.weights).zip(predicted);
        rows.filter(|((_, w), _)| **w < DOUBT_WEIGHT)
            .filter_map(|((row, &weight), expected_mm)| {
                let departure_sd = row.departure(expected_mm);
                // what rests has no negative gap
                let shown = if row.probe.kind == Kind::Gap { expected_mm.max(0.0) } else { expected_mm };
                row.index.map(|index| Doubted { index, expected_mm: shown, departure_sd, weight })
            })
            .collect()
    }

    /// The unevenness of every field.
    pub(super) fn uneven(&self) -> &[Uneven] {
        &self.uneven
    }

    /// Prior doubt of what is not in the model.
    pub(super) fn unmodelled(&self) -> Unmodelled {
        self.unmodelled
    }
}

/// Prior precision of every field's unevenness; the border is empty.
fn band_prior(layout: &Layout, uneven: &[Uneven]) -> Arrow {
    let (m, h) = (layout.spline.size(), layout.spline.spacing());
    let mut out = Arrow::zeros(layout.band(), layout.half_band(), layout.border());
    for (field, u) in uneven.iter().enumerate() {
        for (apart, values) in unevenness(m, h, u.rough, u.reach_mm).iter().enumerate() {
            for (knot, value) in values.iter().enumerate().take(m.saturating_sub(apart)) {
                out.add(layout.coefficient(knot + apart, field), layout.coefficient(knot, field), *value);
            }
        }
    }
    debug_assert!(SHAPES * layout.fields.count() <= layout.border());
    out
}

/// The answer of a problem.
pub(super) struct Solved {
    /// Mean of every unknown.
    pub(super) x: Vec<f64>,
    /// The rows as the last pass had them.
    pub(super) last: Linearised,
    pub(super) weights: Vec<f64>,
    /// What each row added to the equations in the end.
    pub(super) sites: Vec<Site>,
    /// Share of a whole step that was taken last.
    pub(super) share: f64,
    /// False when the reweighting was stopped by its cap.
    pub(super) settled: bool,
}

/// Full weight within one sd, then falling as 1/|u|: convex, so a wild reading cannot trap the fit.
fn bounded_weight(u: f64) -> f64 {
    1.0 / u.abs().max(1.0)
}

/// Full weight within `PLATEAU` sd, so that good readings count for what they state and scales learned from them are not
/// taken for less; beyond it the weight of a Student-t likelihood (falling as `u^-2`).
fn tail_weight(u: f64) -> f64 {
    let beyond = (u.abs() - PLATEAU).max(0.0) / FALL;
    1.0 / (1.0 + beyond * beyond)
}
