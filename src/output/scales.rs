//! Which scales a lot was believed under: a line for every report, a table for those who want all.

use super::show::{Units, pair};
use super::table::{Cell, Table};
use crate::domain::counted;
use crate::lot::{InstrumentUsed, ScaleSource, ScaleUsed, ScalesUsed};
use crate::tube::PARTS;

/// What the first line tells of: the scale that stands for it, and the word for it.
const TOLD: [(&str, &str); 11] = [
    ("lobe2_level", "ovality"),
    ("lobe3_level", "lobes"),
    ("lobe3_rough", "unevenness of the lobes"),
    ("radius_tilt", "taper"),
    ("radius_rough", "unevenness of the size"),
    ("centre_bend", "bow"),
    ("centre_rough", "unevenness of the centreline"),
    ("wall_tilt", "change of the wall"),
    ("wall_lean_level", "lean of the wall"),
    ("wall_rough", "unevenness of the wall"),
    ("twist_tilt", "twist"),
];
/// An instrument is named in the line when its noise is off the stated one by this factor and its interval excludes 1.
const LOUD: f64 = 1.5;

/// Tubes of these sizes, mm, are of the size that the built-in law of the scales is made for.
const ABOUT_AN_INCH: std::ops::RangeInclusive<f64> = 18.0..=40.0;
/// What is said of others.
pub(crate) const SMALL_TUBES: &str = "what tubes are like where nobody read them is taken from tubes about an inch thick; of this size only readings tell";

/// Whether the built-in law of the scales is made for tubes of another size than this, mm.
#[must_use]
pub(crate) fn far_from_an_inch(diameter_mm: f64) -> bool {
    !ABOUT_AN_INCH.contains(&diameter_mm)
}

/// Where the scales of a lot came from, in one sentence without a stop.
#[must_use]
pub fn line(used: &ScalesUsed) -> String {
    let words = |source: ScaleSource| -> Vec<&str> {
        let held = |name: &str| used.scale(name).is_some_and(|s| s.source == source);
        TOLD.iter().filter(|(name, _)| held(name)).map(|(_, word)| *word).collect()
    };
    let from = match (used.tubes, used.of_tubes) {
        (0, _) => return "scales: the built-in ones; no tube could be fitted to learn from".to_string(),
        (n, of) if n < of => format!("{n} of {}", counted(of, "tube")),
        (n, _) => counted(n, "tube"),
    };
    let mut out = format!("scales: learned from {from}");
    let kept = words(ScaleSource::BuiltIn);
    if !kept.is_empty() {
        out.push_str(&format!("; too little seen, so by the built-in law: {}", kept.join(", ")));
    }
    let fixed: Vec<&str> =
        used.scales.iter().filter(|s| s.source == ScaleSource::LotToml).map(|s| s.name.as_str()).collect();
    if !fixed.is_empty() {
        out.push_str(&format!("; fixed in lot.toml: {}", fixed.join(", ")));
    }
    for i in &used.instruments {
        if let Some(n) = i.noise.filter(|n| (n.low > 1.0 || n.high < 1.0) && n.times.ln().abs() >= LOUD.ln()) {
            out.push_str(&format!("; {} {} times as noisy as stated", named(i), two_digits(n.times)));
        }
    }
    if !used.settled {
        out.push_str("; the learning was stopped before it came to rest");
    }
    out
}

/// An instrument by its kind and rig.
fn named(i: &InstrumentUsed) -> String {
    if i.rig.is_empty() { i.kind.clone() } else { format!("{} by {}", i.kind, i.rig) }
}

/// Two significant digits: more than any lot knows.
fn two_digits(x: f64) -> String {
    let rounded: f64 = format!("{x:.1e}").parse().unwrap_or(x);
    rounded.to_string()
}

/// A scale with the factor of its 68 % interval, and a letter where it was not learned.
fn shown(s: &ScaleUsed) -> String {
    let value = two_digits(s.value);
    let factor = if s.high > s.low { format!(" x/{}", two_digits((s.high / s.low).sqrt())) } else { String::new() };
    match s.source {
        ScaleSource::Lot => format!("{value}{factor}"),
        ScaleSource::BuiltIn => format!("{value}{factor} b"),
        ScaleSource::LotToml => format!("{value}{factor} f"),
    }
}

/// What the letters and columns of [`rows`] mean.
pub const LEGEND: &str = "mm, of the twist degrees; x/1.5: the 68 % interval is from the value over 1.5 to 1.5 times it; \
                          level: of the mean over the length, tilt: change over 200 mm, bend: sagitta over 200 mm, ess: S-shape over 200 mm, rough: \
                          second difference over 18 mm; b: too little seen by these readings, so it follows from the \
                          others by the built-in law, or is given; f: fixed in lot.toml";

/// The titles of [`rows`].
pub const TITLES: [&str; 6] = ["one sd of", "level", "tilt", "bend", "ess", "rough"];

/// The scales, a row for each field: its name and its parts.
#[must_use]
pub fn rows(used: &ScalesUsed) -> Vec<[String; 6]> {
    let mut fields: Vec<&str> = Vec::new();
    for (field, _) in used.scales.iter().filter_map(|s| s.name.rsplit_once('_')).filter(|(_, p)| PARTS.contains(p)) {
        if !fields.contains(&field) {
            fields.push(field);
        }
    }
    let row = |field: &str| {
        let part = |p: &str| used.scale(&format!("{field}_{p}")).map_or(String::new(), shown);
        [field.to_string(), part(PARTS[0]), part(PARTS[1]), part(PARTS[2]), part(PARTS[3]), part(PARTS[4])]
    };
    fields.into_iter().map(row).collect()
}

/// What stands beside the fields: single figures, and every instrument, a sentence each.
#[must_use]
pub fn beside(used: &ScalesUsed, units: Units) -> Vec<String> {
    let single = |(name, word): (&str, &str)| used.scale(name).map(|s| format!("{word}: {}", shown(s)));
    let mut out: Vec<String> = [
        ("unevenness_reach", "unevenness along the tube reaches, mm"),
        ("wall_mm", "wall expected, mm"),
        ("texture_mm", "fine texture of the bark, mm"),
    ]
    .into_iter()
    .filter_map(single)
    .collect();
    for i in &used.instruments {
        let mut parts = Vec::new();
        if let Some(n) = i.noise {
            let (times, low, high) = (two_digits(n.times), two_digits(n.low), two_digits(n.high));
            parts.push(format!("noise {times} times the stated ({low} to {high})"));
        }
        if i.bias_mm.is_some() {
            parts.push(format!("zero off by {} {} on all tubes", units.measured(i.bias_mm, 3), units.word()));
        }
        if let Some(s) = i.scale_percent {
            parts.push(format!("scale off by {} percent on all tubes", pair(s.value, s.sd, 2, 3)));
        }
        out.push(format!("{}: {}", named(i), parts.join(", ")));
    }
    out
}

/// The scales as a block of text; empty where none were used.
#[must_use]
pub fn block(used: &ScalesUsed, units: Units) -> String {
    let mut out = super::fold::hanging(&line(used), 2);
    if used.scales.is_empty() {
        return out;
    }
    let mut t = Table::new(&TITLES);
    for row in rows(used) {
        t.push(row.into_iter().map(Cell::Text).collect());
    }
    out.push_str(&t.to_text());
    out.push_str(&super::fold::wrapped(&format!("({LEGEND})")));
    out.extend(beside(used, units).iter().map(|l| super::fold::hanging(l, 2)));
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lot::NoiseUsed;
    use crate::tube::Measured;

    fn used() -> ScalesUsed {
        let one = |name: &str, value: f64, times: f64, source: ScaleSource| ScaleUsed {
            name: name.into(),
            value,
            low: value / times,
            high: value * times,
            source,
        };
        ScalesUsed {
            tubes: 12,
            of_tubes: 40,
            settled: true,
            scales: vec![
                one("lobe2_level", 0.2, 1.25, ScaleSource::Lot),
                one("lobe3_level", 0.0349, 1.0, ScaleSource::LotToml),
                one("centre_bend", 1.3, 2.0, ScaleSource::BuiltIn),
                one("centre_rough", 0.035, 1.1, ScaleSource::Lot),
                one("texture_mm", 0.003, 1.0, ScaleSource::BuiltIn),
            ],
            instruments: vec![InstrumentUsed {
                kind: "runout".into(),
                rig: "dial".into(),
                noise: Some(NoiseUsed { times: 2.31, low: 2.1, high: 2.6 }),
                bias_mm: Some(Measured { value: 0.021, sd: 0.004 }),
                scale_percent: Some(Measured { value: 0.1, sd: 0.2 }),
            }],
        }
    }

    #[test]
    fn the_line_says_from_what_and_what_was_not_learned() {
        assert_eq!(
            line(&used()),
            "scales: learned from 12 of 40 tubes; too little seen, so by the built-in law: bow; fixed in lot.toml: \
             lobe3_level; runout by dial 2.3 times as noisy as stated"
        );
        let one = ScalesUsed { tubes: 1, of_tubes: 1, scales: Vec::new(), instruments: Vec::new(), ..used() };
        assert_eq!(line(&one), "scales: learned from 1 tube");
        let quiet = NoiseUsed { times: 1.4, low: 1.3, high: 1.5 };
        let mut near = used();
        near.instruments[0].noise = Some(quiet);
        assert!(!line(&near).contains("noisy"), "{}", line(&near));
        let none = line(&ScalesUsed::default());
        assert_eq!(none, "scales: the built-in ones; no tube could be fitted to learn from");
        assert!(line(&ScalesUsed { settled: false, ..one }).ends_with("stopped before it came to rest"));
    }

    #[test]
    fn the_table_has_a_row_a_field_with_intervals_and_letters() {
        let rows = rows(&used());
        assert_eq!(rows.len(), 3, "{rows:?}");
        assert_eq!(rows[0][..2], ["lobe2".to_string(), "0.2 x/1.2".into()]);
        assert_eq!(rows[1][1], "0.035 f");
        assert_eq!(rows[2], ["centre", "", "", "1.3 x/2 b", "", "0.035 x/1.1"].map(String::from));
        assert_eq!(
            beside(&used(), Units::Mm),
            [
                "fine texture of the bark, mm: 0.003 b",
                "runout by dial: noise 2.3 times the stated (2.1 to 2.6), zero off by 0.021 +-0.004 mm on all tubes, \
                 scale off by 0.10 +-0.20 percent on all tubes"
            ]
        );
        assert!(block(&used(), Units::Mm).lines().all(|l| l.chars().count() <= 100), "{}", block(&used(), Units::Mm));
    }
}
