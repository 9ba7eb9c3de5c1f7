//! The unknowns of one tube, their prior and the rows that were read; what the unknowns are and why stands in `belief`, how they are
//! solved for in `passes`.

use super::bridge::Posts;
use super::error::BeliefError;
use super::fields::Fields;
use super::gram::Before;
use super::group::Group;
use super::instrument::{MOST_LINES, Probe, Unknown, line, scale, surface_value, tenths, turns, unknowns};
use super::layout::Layout;
use super::model::Model;
use super::population::{Population, TOP};
use super::resting::{Placement, placements};
use super::rows::{Row, scan_rows, scan_unknowns, scan_wall_rows, scan_wall_unknowns, tracing_point, unwrap_fibres};
use super::section::Section;
use super::tangents::Tangents;
use super::uneven::{Uneven, band_prior, half_log_det};
use crate::domain::{Angle, Kind, Reading, Tube};
use crate::numeric::arrow::{Arrow, ArrowFactor};
#[cfg(test)]
use crate::numeric::draws;
use crate::numeric::summary::{count, median};
use std::collections::BTreeSet;

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
    pub(super) resting: Vec<Placement>,
    /// of every field; what else the prior says stands in `border`
    uneven: Vec<Uneven>,
    /// prior precision of level, tilt, bend and ess of every field, then of the unknowns of the measuring
    pub(super) border: Vec<f64>,
    pub(super) centre: Vec<f64>,
    unmodelled: Unmodelled,
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
        let border: f64 = self.border.iter().map(|p| p.ln()).sum();
        Some(half_log_det(&self.layout, uneven)? + 0.5 * border)
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
    pub(super) fn first_contact(&self) -> usize {
        self.rows.len() - 2 * self.resting.len()
    }

    /// The unknowns less the prior's centre.
    pub(super) fn less_centre(&self, x: &[f64]) -> Vec<f64> {
        x.iter().zip(&self.centre).map(|(x, c)| x - c).collect()
    }

    /// Where every straightedge touches under the unknowns `x`, mm.
    pub(super) fn contacts(&self, x: &[f64]) -> Vec<[f64; 2]> {
        self.resting.iter().map(|edge| edge.contacts(&self.layout, x)).collect()
    }

    /// Takes the tangents of all rows at `x`, straightedges touching at `contacts`.
    pub(super) fn take_tangents(&self, tangents: &mut Tangents, x: &[f64], contacts: &[[f64; 2]]) {
        tangents.take(0, &self.rows[..self.first_contact()], &self.layout, x);
        self.retake_contacts(tangents, x, contacts);
    }

    /// Takes those of the contacts anew, straightedges touching elsewhere now.
    pub(super) fn retake_contacts(&self, tangents: &mut Tangents, x: &[f64], contacts: &[[f64; 2]]) {
        let touch = self.resting.iter().zip(contacts).flat_map(|(edge, at)| edge.contact_rows(&self.layout, *at));
        tangents.take(self.first_contact(), &touch.collect::<Vec<_>>(), &self.layout, x);
    }

    /// The tangents of all rows at `x`.
    pub(super) fn tangents(&self, x: &[f64]) -> Tangents {
        let mut tangents = Tangents::default();
        self.take_tangents(&mut tangents, x, &self.contacts(x));
        tangents
    }

    pub(super) fn predict(&self, x: &[f64]) -> Vec<f64> {
        self.tangents(x).values()
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
