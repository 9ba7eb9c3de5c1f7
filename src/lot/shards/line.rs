//! One line of a file of records.

use super::super::json::FORMAT;
use super::super::record::NotPlanned;
use super::super::scales::ScalesUsed;
use super::super::terms::Terms;
use crate::decide::plan::{PlanOptions, TubePlan};
use crate::numeric::draws::fingerprint;
use serde::{Deserialize, Serialize};
use std::borrow::Cow;

/// A line: exactly one of `about`, `plan` and `not_planned` stands in it.
#[derive(Debug, Serialize, Deserialize)]
pub(super) struct Line<'a> {
    pub(super) format: u64,
    /// The lot's name.
    pub(super) lot: Cow<'a, str>,
    /// What its plans rest on, in 16 digits: terms, scales, seed, draws and the number of tubes. Tubes that say the same here
    /// were planned under the same model.
    pub(super) model: Cow<'a, str>,
    #[serde(flatten)]
    pub(super) options: PlanOptions,
    /// The lot itself.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) about: Option<About<'a>>,
    /// The tube's place in the lot's list, from 1.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) place: Option<usize>,
    /// The tube's plan, as in the record of a lot.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) plan: Option<Cow<'a, TubePlan>>,
    /// Why it has none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) not_planned: Option<NotPlanned<'a>>,
}

/// What a lot's line says of it.
#[derive(Debug, Serialize, Deserialize)]
pub(super) struct About<'a> {
    pub(super) terms: Cow<'a, Terms>,
    pub(super) scales: Cow<'a, ScalesUsed>,
    /// Tubes listed in the lot, whether asked for or not.
    pub(super) tubes: usize,
    /// Whether tubes that are split were planned as they fell.
    pub(super) as_split: bool,
}

impl<'a> Line<'a> {
    /// The lot's own line.
    pub(super) fn of_lot(about: About<'a>, options: PlanOptions) -> Line<'a> {
        let text = serde_json::to_string(&(&about, options)).expect("plain data");
        let lot = about.terms.name.clone();
        Line { about: Some(about), ..Line::bare(lot.into(), format!("{:016x}", fingerprint(&text)).into(), options) }
    }

    /// A line of the lot whose line this is, still empty.
    pub(super) fn of_tube(&'a self, place: usize) -> Line<'a> {
        Line { place: Some(place), ..Line::bare(Cow::Borrowed(&self.lot), Cow::Borrowed(&self.model), self.options) }
    }

    fn bare(lot: Cow<'a, str>, model: Cow<'a, str>, options: PlanOptions) -> Line<'a> {
        Line { format: FORMAT, lot, model, options, about: None, place: None, plan: None, not_planned: None }
    }

    /// Its text, with a line end.
    pub(super) fn text(&self) -> String {
        // all keys are strings and no record refuses to be written, so this cannot fail
        let mut text = serde_json::to_string(self).expect("a record of plain data");
        text.push('\n');
        text
    }
}
