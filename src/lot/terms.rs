//! What a lot says beside its tubes.

use crate::domain::units::WeightUnit;
use crate::domain::{Assumed, Lot, Promise, SPLIT_MINUTES, Saw, ScreenRule, Split, Target, weight_at};
use serde::{Deserialize, Serialize};

/// The terms a lot's tubes are judged by, and what was paid for them.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Terms {
    /// The lot's name.
    pub name: String,
    /// Weight paid for, g.
    pub bought_weight_g: Option<f64>,
    /// Price paid for that weight, in `currency`.
    pub price: Option<f64>,
    /// Free text put behind prices.
    pub currency: String,
    /// Relative humidity when the tubes were weighed, percent.
    pub humidity_percent: Option<f64>,
    /// Relative humidity when the bought weight was weighed, percent; `None`: as when the tubes were.
    #[serde(default)]
    pub bought_humidity_percent: Option<f64>,
    /// Unit that its weights are told in.
    #[serde(default)]
    pub weight_unit: WeightUnit,
    /// The limits.
    pub target: Target,
    /// The saw.
    pub saw: Saw,
    /// The splitting.
    pub split: Split,
    /// What is taken of grain and wall where they were not read.
    #[serde(default)]
    pub assumed: Assumed,
    /// When a tube is worth splitting.
    pub screen: ScreenRule,
    /// Blanks between two sharpenings.
    pub edge_life: Option<f64>,
    /// Minutes that marking and splitting a tube take.
    #[serde(default = "usual_split_minutes")]
    pub split_minutes: f64,
    /// What earlier lots of this maker bore out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub promise: Option<Promise>,
}

fn usual_split_minutes() -> f64 {
    SPLIT_MINUTES
}

impl Terms {
    /// The terms of a lot.
    #[must_use]
    pub fn of(lot: &Lot) -> Terms {
        Terms {
            name: lot.name.clone(),
            bought_weight_g: lot.bought_weight_g,
            price: lot.price,
            currency: lot.currency.clone(),
            humidity_percent: lot.humidity_percent,
            bought_humidity_percent: lot.bought_humidity_percent,
            weight_unit: lot.weight_unit,
            target: lot.target.clone(),
            saw: lot.saw,
            split: lot.split,
            assumed: lot.assumed,
            screen: lot.screen,
            edge_life: lot.edge_life,
            split_minutes: lot.split_minutes.unwrap_or(SPLIT_MINUTES),
            promise: lot.promise,
        }
    }

    /// The bought weight as it would weigh in the air the tubes were weighed in, g; none of nought.
    #[must_use]
    pub fn bought_as_weighed_g(&self) -> Option<f64> {
        let bought = self.bought_weight_g.filter(|b| *b > 0.0);
        bought.map(|g| weight_at(g, self.bought_humidity_percent, self.humidity_percent))
    }
}
