//! What to measure next, in words.

use super::next_readings::rounds;
use super::show::Units;
use super::table::{Cell, Table};
use super::text::wrapped;
use crate::decide::advice::Advice;
use crate::decide::packages::Package;
use crate::domain::units::decimal;
use crate::lot::{AdviceOutcome, Advised};
use std::fmt::Write;

/// What is told of a tube that needs no more.
pub const SETTLED: &str = "nothing: settled";

/// The advice, a row for each tube.
#[must_use]
pub fn table(advised: &Advised, units: Units) -> Table {
    let mut table = Table::new(&["tube", "readings", "blanks", "at most", "next", "minutes", "may gain"]);
    for AdviceOutcome { tube, advice } in &advised.tubes {
        match advice {
            Ok(a) => table.push(row(a, units)),
            Err(why) => table.push_note(tube, &why.to_string()),
        }
    }
    table
}

fn row(a: &Advice, units: Units) -> Vec<Cell> {
    let next = a.next.as_ref();
    vec![
        Cell::text(&a.tube),
        Cell::Number(f64::from(u32::try_from(a.readings).unwrap_or(u32::MAX)), 0),
        Cell::Number(a.expected_blanks, 1),
        Cell::Number(a.ceiling_blanks, 1),
        Cell::text(next.map_or_else(|| settled(a, units), |p| rounds(&p.rounds, units))),
        Cell::known(next.map(|p| p.minutes), 1),
        Cell::known(next.map(|p| p.gain_blanks), 1),
    ]
}

/// Said of a tube on which nothing at hand is worth its minutes.
fn settled(a: &Advice, units: Units) -> String {
    a.elsewhere.as_ref().map_or_else(|| SETTLED.into(), |p| format!("{SETTLED} with these; {}", elsewhere(p, units)))
}

/// What an instrument that is not at hand may gain.
#[must_use]
pub fn elsewhere(p: &Package, units: Units) -> String {
    let (minutes, gain) = (decimal(p.minutes, 1), decimal(p.gain_blanks, 1));
    format!("with others {} ({minutes} min) may gain {gain}", rounds(&p.rounds, units))
}

/// The whole answer as text: the table, its sum, and for up to two tubes the ways side by side.
#[must_use]
pub fn text(advised: &Advised, units: Units) -> String {
    let mut out = table(advised, units).to_text();
    let asked = &advised.rules;
    let (minutes, gain) = advised.totals();
    let settled = advised.advice().filter(|a| a.settled()).count();
    let with: Vec<&str> = asked.with.iter().map(|h| h.way.word()).collect();
    let bring = decimal(asked.minute_blanks, 2);
    let mut said = format!(
        "Measuring with {}; a minute should bring {bring} of a blank. \"At most\": what knowing the surface exactly would add.",
        with.join(", ")
    );
    if settled < advised.advice().count() {
        let _ = write!(
            said,
            " All that is advised takes {} minutes and may gain {} blanks; measure the tubes with the largest gain first.",
            decimal(minutes, 0),
            decimal(gain, 1)
        );
    }
    if settled > 0 {
        let _ = write!(
            said,
            " {} settled.",
            if settled == 1 { "1 tube is".into() } else { format!("{settled} tubes are") }
        );
    }
    out.push('\n');
    out += wrapped(&said).trim_end();
    out.push('\n');
    let few: Vec<&Advice> = advised.advice().take(3).collect();
    if few.len() <= 2 {
        for a in few {
            out.push('\n');
            out += &ways(a, units);
        }
    }
    out
}

/// The best of every way on one tube.
fn ways(a: &Advice, units: Units) -> String {
    let mut out = format!("{}: the best of each way by itself\n", a.tube);
    for p in &a.by_way {
        let line = format!(
            "{}: {}; {} min; {}",
            p.rounds.first().map_or("", |r| r.way.word()),
            rounds(&p.rounds, units),
            decimal(p.minutes, 1),
            gain(p.gain_blanks, p.gain_error)
        );
        out += &super::text::hanging(&line, 2);
    }
    out
}

/// What readings may gain, blanks, with its standard error; what is too little for the decimals is not told as none.
fn gain(blanks: f64, error: f64) -> String {
    if blanks.max(error) < 0.005 {
        return "may gain less than 0.01 blanks".to_string();
    }
    format!("may gain {} +-{} blanks", decimal(blanks.max(0.0), 2), decimal(error, 2))
}

#[cfg(test)]
mod tests {
    use super::gain;

    #[test]
    fn a_gain_too_small_for_the_decimals_is_not_told_as_nought() {
        for (blanks, error, told) in [
            (0.0, 0.0, "may gain less than 0.01 blanks"),
            (-0.3, 0.004, "may gain less than 0.01 blanks"),
            (-0.01, 0.02, "may gain 0.00 +-0.02 blanks"),
            (0.126, 0.031, "may gain 0.13 +-0.03 blanks"),
        ] {
            assert_eq!(gain(blanks, error), told);
        }
    }
}
