//! The stored form of an [`Assessed`] lot: one JSON object of format 1.
//!
//! Planned tubes stand under `tubes`, the others under `not_planned` with the reason and their place in the lot's list, from
//! which the order is read back. The counts of every draw stand beside each split, so that forecasts of parts of a lot can be
//! added draw by draw.

use super::assessed::Assessed;
use super::error::RecordError;
use super::forecast::Forecast;
use super::json::{FORMAT, pretty};
use super::outcome::TubeOutcome;
use super::scales::ScalesUsed;
use super::terms::Terms;
use crate::decide::plan::{NoPlan, PlanOptions, TubePlan};
use crate::domain::Finding;
use serde::{Deserialize, Serialize};
use std::borrow::Cow;

#[derive(Debug, Serialize, Deserialize)]
struct Record<'a> {
    format: u64,
    #[serde(flatten)]
    options: PlanOptions,
    lot: Cow<'a, Terms>,
    /// missing in what was stored before lots taught their scales
    #[serde(default)]
    scales: Cow<'a, ScalesUsed>,
    tubes: Vec<Cow<'a, TubePlan>>,
    not_planned: Vec<NotPlanned<'a>>,
    forecast: Cow<'a, Forecast>,
    findings: Cow<'a, [Finding]>,
}

#[derive(Debug, Serialize, Deserialize)]
pub(super) struct NotPlanned<'a> {
    pub(super) tube: Cow<'a, str>,
    /// The reason in words.
    #[serde(default)]
    pub(super) why: String,
    /// Its place in the lot's list, from 1.
    pub(super) place: usize,
    pub(super) length_mm: f64,
    pub(super) weight_g: Option<f64>,
    pub(super) reason: Cow<'a, NoPlan>,
}

impl NotPlanned<'_> {
    /// Of a tube without a plan, at this place of the lot's list.
    pub(super) fn of(o: &TubeOutcome, place: usize) -> Option<NotPlanned<'_>> {
        let why = o.plan.as_ref().err()?;
        Some(NotPlanned {
            tube: Cow::Borrowed(&o.tube),
            why: why.to_string(),
            place,
            length_mm: o.length_mm,
            weight_g: o.weight_g,
            reason: Cow::Borrowed(why),
        })
    }
}

impl Assessed {
    /// The stored form: JSON of format 1, indented, with a line end. Lengths are millimetres, weights grams, angles degrees;
    /// numbers are written so that they read back as they were. The same value always gives the same text.
    #[must_use]
    pub fn to_json(&self) -> String {
        pretty(&record_of(self))
    }

    /// Reads a stored plan back; the answer equals the value that was stored.
    ///
    /// # Errors
    /// [`RecordError`] when the text is no plan, or one of a format this version does not know.
    pub fn from_json(text: &str) -> Result<Assessed, RecordError> {
        read(text)
    }
}

fn record_of(a: &Assessed) -> Record<'_> {
    let not_planned = a.outcomes.iter().enumerate().filter_map(|(i, o)| NotPlanned::of(o, i + 1));
    Record {
        format: FORMAT,
        options: a.options,
        lot: Cow::Borrowed(&a.lot),
        scales: Cow::Borrowed(&a.scales),
        tubes: a.plans().into_iter().map(Cow::Borrowed).collect(),
        not_planned: not_planned.collect(),
        forecast: Cow::Borrowed(&a.forecast),
        findings: Cow::Borrowed(&a.findings),
    }
}

fn read(text: &str) -> Result<Assessed, RecordError> {
    #[derive(Deserialize)]
    struct Head {
        format: u64,
    }
    // the format first: a later one may hold anything
    let Head { format } = serde_json::from_str(text)?;
    if format != FORMAT {
        return Err(RecordError::Format { found: format, known: FORMAT });
    }
    let record: Record<'_> = serde_json::from_str(text)?;
    let outcomes = in_order(record.tubes, record.not_planned)?;
    Ok(Assessed {
        options: record.options,
        lot: record.lot.into_owned(),
        scales: record.scales.into_owned(),
        outcomes,
        forecast: record.forecast.into_owned(),
        findings: record.findings.into_owned(),
    })
}

/// The lot's list: every tube without a plan at its place, the planned ones in their order round them.
fn in_order(planned: Vec<Cow<'_, TubePlan>>, mut others: Vec<NotPlanned<'_>>) -> Result<Vec<TubeOutcome>, RecordError> {
    let all = planned.len() + others.len();
    let mut planned = planned.into_iter().map(Cow::into_owned);
    others.sort_by_key(|o| std::cmp::Reverse(o.place));
    let mut list = Vec::with_capacity(all);
    for place in 1..=all {
        let outcome = match others.pop_if(|o| o.place == place) {
            Some(o) => TubeOutcome {
                tube: o.tube.into_owned(),
                length_mm: o.length_mm,
                weight_g: o.weight_g,
                plan: Err(o.reason.into_owned()),
            },
            None => {
                let plan = planned.next().ok_or(RecordError::Places)?;
                let (length_mm, weight_g) = (plan.fit.length_mm, plan.fit.weight_g);
                TubeOutcome { tube: plan.fit.tube.clone(), length_mm, weight_g, plan: Ok(Box::new(plan)) }
            }
        };
        list.push(outcome);
    }
    if others.is_empty() { Ok(list) } else { Err(RecordError::Places) }
}
