//! Prior scales learned from a lot: as the `[population]` section they make and as a table.

use super::scales;
use super::show::Units;
use super::table::{Cell, Table};
use super::toml_put::{self, document, put};
use crate::domain::counted;
use crate::domain::units::decimal;
use crate::lot::ScalesUsed;
use crate::tube::learn::{Learned, LearnedScale};
use std::fmt::Write as _;

/// Three significant digits: more than any lot knows.
fn rounded(x: f64) -> f64 {
    format!("{x:.2e}").parse().unwrap_or(x)
}

/// The interval of one standard deviation either way of the logarithm.
fn interval(s: &LearnedScale) -> (f64, f64) {
    (rounded(s.value * (-s.log_sd).exp()), rounded(s.value * s.log_sd.exp()))
}

/// The learned scales as a `[population]` section with their doubts, then the ones left as they were.
#[must_use]
pub fn section(learned: &Learned) -> String {
    let mut instruments = String::new();
    let mut out = format!(
        "# learned from {}; log likelihood up by {}\n[population]\n",
        counted(learned.tubes, "tube"),
        decimal(learned.gain, 1)
    );
    for line in scales::beside(&ScalesUsed::of(learned), Units::Mm) {
        let _ = writeln!(instruments, "# {line}");
    }
    let mut left = Vec::new();
    for s in &learned.scales {
        if s.learned {
            let (low, high) = interval(s);
            let _ =
                writeln!(out, "{} = {} # {low} to {high} (68 %), was {}", s.name, rounded(s.value), rounded(s.before));
        } else {
            left.push(s.name.as_str());
        }
    }
    if !left.is_empty() {
        let _ = writeln!(out, "# not learned, because this lot says too little about each of them by itself:");
        for names in left.chunks(5) {
            let _ = writeln!(out, "#   {}", names.join(", "));
        }
    }
    out + &instruments
}

/// The scales as a table, and the noise of every instrument over the stated one, which is 1 before.
#[must_use]
pub fn table(learned: &Learned) -> Table {
    let mut t = Table::new(&["scale", "value", "low", "high", "before", "learned"]);
    for s in &learned.scales {
        let (low, high) = interval(s);
        let yes = if s.learned { "yes" } else { "no" };
        let doubt = |x: f64| Cell::known(s.learned.then_some(x), 6);
        let cells = vec![Cell::text(&s.name), Cell::Number(s.value, 6), doubt(low), doubt(high)];
        t.push([cells, vec![Cell::Number(s.before, 6), Cell::text(yes)]].concat());
    }
    for i in ScalesUsed::of(learned).instruments {
        let Some(n) = i.noise else { continue };
        let by = if i.rig.is_empty() { String::new() } else { format!(" by {}", i.rig) };
        let numbers = [n.times, n.low, n.high, 1.0].map(|x| Cell::Number(x, 6));
        let name = Cell::text(format!("noise of {}{by}", i.kind));
        t.push([vec![name], numbers.to_vec(), vec![Cell::text("yes")]].concat());
    }
    t
}

/// The text of a `lot.toml` with the learned scales in its `[population]` section, which is added where there is none.
/// Everything else, comments included, stays as it was; scales that were not learned are not touched.
///
/// # Errors
/// What is wrong, in words, when the text is not TOML or `population` is not a section.
pub fn kept_in(text: &str, learned: &Learned) -> Result<String, String> {
    let mut document = document(text)?;
    let table = toml_put::section(&mut document, "population")?;
    for s in learned.scales.iter().filter(|s| s.learned) {
        put(table, &s.name, rounded(s.value));
    }
    Ok(document.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tube::Population;

    fn learned() -> Learned {
        let one = |name: &str, before: f64, value: f64, learned: bool| LearnedScale {
            name: name.into(),
            before,
            value,
            log_sd: 0.2,
            learned,
        };
        let scales = vec![one("radius_level", 1.5, 0.312_34, true), one("lobe3_bend", 0.008, 0.008, false)];
        Learned {
            scales,
            noise: Vec::new(),
            population: Population::default(),
            common: std::collections::BTreeMap::new(),
            tubes: 12,
            of_tubes: 12,
            gain: 31.4,
            settled: true,
        }
    }

    #[test]
    fn comments_and_other_keys_survive_and_the_second_time_changes_nothing() {
        let text = "# mine\n[lot]\nname = \"x\" # keep\n\n[population] # scales\nradius_level = 2 # was a guess\n\
                    lobe3_bend = 0.01\n\n[saw]\nkerf = 1.0\n";
        let once = kept_in(text, &learned()).expect("TOML");
        let want = text.replace("radius_level = 2 #", "radius_level = 0.312 #");
        assert_eq!(once, want);
        assert_eq!(kept_in(&once, &learned()).expect("TOML"), once);
        let added = kept_in("[lot]\nname = \"x\"\n", &learned()).expect("TOML");
        assert_eq!(added, "[lot]\nname = \"x\"\n\n[population]\nradius_level = 0.312\n");
        let new = kept_in("", &learned()).expect("TOML");
        assert!(new.contains("[population]\nradius_level = 0.312\n"), "{new}");
    }

    #[test]
    fn what_is_no_section_is_refused() {
        assert!(kept_in("population = 3\n", &learned()).is_err());
        assert!(kept_in("[lot\n", &learned()).is_err());
    }

    #[test]
    fn the_section_reads_back() {
        let text = section(&learned());
        assert!(text.contains("radius_level = 0.312 # 0.256 to 0.381 (68 %), was 1.5"), "{text}");
        assert!(text.contains("#   lobe3_bend"), "{text}");
        assert!(text.parse::<toml_edit::DocumentMut>().is_ok());
    }
}
