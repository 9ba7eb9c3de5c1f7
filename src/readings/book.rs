//! The lot as it grows while its files are read.

use super::findings::{Findings, quoted};
use super::nearest::nearest;
use crate::domain::{Kind, Lot, Place, Rig, Tube, counted, units::WeightUnit};
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// What is said once per file and name: where first, and in how many rows.
type Mentions = BTreeMap<(Arc<str>, String), (Place, usize)>;

/// The lot so far.
#[derive(Debug, Default)]
pub(super) struct Book {
    pub(super) lot: Lot,
    pub(super) findings: Findings,
    /// The folder that paths in the settings start from; none of a lot in memory.
    pub(super) folder: Option<PathBuf>,
    index: BTreeMap<String, usize>,
    /// The names in the list of tubes, once one has been read: then other names are strangers.
    pub(super) list: Option<BTreeSet<String>>,
    /// Set once `lot.toml` or its sheet has been read without error in its form.
    pub(super) has_settings: bool,
    /// Where the bought weight stands, once it is read.
    pub(super) bought_at: Option<Place>,
    /// How many weights of tubes were typed in each unit.
    pub(super) weight_units: BTreeMap<WeightUnit, usize>,
    /// The unit the bought weight was typed in.
    pub(super) bought_unit: WeightUnit,
    /// Tubes of which the list holds the name alone, and where their length belongs.
    pub(super) only_named: BTreeMap<String, Place>,
    strangers: Mentions,
    undeclared: Mentions,
    /// Rigs that this program names itself and no settings declare.
    built_in: BTreeMap<String, Rig>,
}

impl Book {
    /// An empty one of a lot in this folder.
    pub(super) fn in_folder(folder: Option<&Path>) -> Book {
        Book { folder: folder.map(Path::to_path_buf), ..Book::default() }
    }

    /// The tube of that name, if it is known.
    pub(super) fn tube(&self, name: &str) -> Option<&Tube> {
        self.index.get(name).and_then(|i| self.lot.tubes.get(*i))
    }

    /// The tube of that name, added at the end when it is new.
    pub(super) fn tube_mut(&mut self, name: &str) -> &mut Tube {
        let tubes = &mut self.lot.tubes;
        let i = *self.index.entry(name.to_string()).or_insert_with(|| {
            tubes.push(Tube { name: name.to_string(), ..Tube::default() });
            tubes.len() - 1
        });
        &mut tubes[i]
    }

    /// A row of readings or marks mentions a tube.
    pub(super) fn mention(&mut self, name: &str, place: Place) {
        if self.list.as_ref().is_some_and(|list| !list.contains(name)) {
            let entry = self.strangers.entry((place.file.clone(), name.to_string())).or_insert((place, 0));
            entry.1 += 1;
        }
        self.tube_mut(name);
    }

    /// A reading names a rig.
    pub(super) fn rig(&mut self, name: &str, place: Place, tube: &str) -> bool {
        if name.is_empty() || self.lot.rigs.contains_key(name) {
            return true;
        }
        if let Some(rig) = Rig::built_in(name) {
            self.built_in.insert(name.to_string(), rig);
            return true;
        }
        if self.has_settings && !self.lot.rigs.is_empty() {
            let known: Vec<&str> = self.lot.rigs.keys().map(String::as_str).collect();
            let fix = match nearest(name, known.iter().copied()) {
                Some(near) => format!("is {near} meant? Else add a section [rig.{name}]"),
                None => format!("add a section [rig.{name}], or correct the name"),
            };
            let found = quoted(name);
            let expected = format!("one of the rigs {}", known.join(", "));
            self.findings.error(place, Some(tube), found, expected, fix);
            return false;
        }
        let entry = self.undeclared.entry((place.file.clone(), name.to_string())).or_insert((place, 0));
        entry.1 += 1;
        true
    }

    /// Gives V-block readings the angle of their rig, bars the span of theirs and gauge readings the width of a blank, now that `lot.toml` is read;
    /// says which V-block readings still have no angle.
    fn fill_sizes(&mut self) {
        let width = self.lot.target.blank_width_mm;
        for tube in &mut self.lot.tubes {
            for r in &mut tube.readings {
                match r.kind {
                    Kind::Arc => r.width_mm = r.width_mm.or(Some(width)),
                    Kind::Vee => r.vee_deg = r.vee_deg.or(self.lot.rigs.get(&r.rig).and_then(|rig| rig.vee_deg)),
                    Kind::Bridge => r.span_mm = r.span_mm.or(self.lot.rigs.get(&r.rig).and_then(|rig| rig.span_mm)),
                    _ => continue,
                }
                if r.kind == Kind::Vee && r.vee_deg.is_none() {
                    let fix = "add a column vee with the angle between the block's faces, or name a rig with vee_deg";
                    let found = "no angle of the V-block".to_string();
                    self.findings.error(r.place.clone(), Some(&tube.name), found, "10 to 170 deg", fix);
                }
            }
        }
    }

    /// The unit most weights were typed in: of tubes where any is weighed, else of the whole; of two as frequent the one that
    /// comes first in the list of units.
    fn weight_unit(&self) -> WeightUnit {
        let most = self.weight_units.iter().max_by_key(|(unit, n)| (**n, std::cmp::Reverse(**unit)));
        most.map_or(self.bought_unit, |(unit, _)| *unit)
    }

    /// Says what could only be said after the last row: strangers, undeclared rigs, lengths guessed.
    pub(super) fn close(&mut self) {
        // a tube named only in rows that could not be used is listed all the same, in doubt
        for name in self.findings.doubtful().clone() {
            self.tube_mut(&name);
        }
        for (name, rig) in std::mem::take(&mut self.built_in) {
            self.lot.rigs.entry(name).or_insert(rig);
        }
        self.fill_sizes();
        self.lot.weight_unit = self.weight_unit();
        let strangers = std::mem::take(&mut self.strangers);
        let listed = self.list.take().unwrap_or_default();
        for ((_, name), (place, rows)) in &strangers {
            let fix = match nearest(name, listed.iter().map(String::as_str)) {
                Some(near) => format!("is {near} meant? Else add the tube to the list, with its length"),
                None => "add it to the list of tubes, with its length".to_string(),
            };
            let found = format!("a tube called {} ({})", quoted(name), counted(*rows, "row"));
            self.findings.error(place.clone(), Some(name), found, "a tube of the list of tubes", fix);
        }
        for ((_, name), (place, rows)) in std::mem::take(&mut self.undeclared) {
            let found = format!("a rig called {} ({})", quoted(&name), counted(rows, "row"));
            let fix =
                format!("nothing to do, or state its sd under [rig.{name}]: until then each kind's default holds");
            self.findings.note(place, None, found, "a rig declared in lot.toml", fix);
        }
    }
}
