//! Records of tubes taken up line by line, and joined with others.

use super::super::terms::Terms;
use super::line::{About, Line};
use super::problems::{MOST, bounded};
use super::sums::{Both, Sums};
use crate::decide::plan::{NoPlan, PlanOptions};
use crate::domain::{Finding, Place};
use std::collections::btree_map::Entry;
use std::collections::{BTreeMap, BTreeSet};
use std::io::{self, BufRead, Read};
use std::sync::Arc;

use super::super::json::FORMAT;

/// Longest line that is read, bytes: a tube's record of 20,000 draws takes about 200 kB.
const LONGEST: usize = 4 << 20;
/// Most of a text that a finding quotes, characters.
const QUOTED: usize = 60;

/// A file and a line of it.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct At {
    file: Arc<str>,
    line: u64,
}

impl At {
    pub(super) fn place(&self) -> Place {
        Place { file: Arc::clone(&self.file), line: self.line, column: String::new() }
    }
}

/// What a lot's own line says.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Head {
    pub(super) at: At,
    pub(super) terms: Terms,
    /// Tubes listed.
    pub(super) tubes: usize,
}

/// All records of one lot.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct LotRecords {
    /// Its own lines, by what its plans rest on: one, or something is wrong.
    pub(super) heads: BTreeMap<String, Head>,
    /// What the lines of its tubes rest on, and the first that does.
    pub(super) models: BTreeMap<String, At>,
    /// Its tubes, and the first line of each.
    pub(super) tubes: BTreeMap<Box<str>, At>,
    /// Further lines of tubes that have one.
    pub(super) twice: BTreeSet<(At, Box<str>)>,
    /// Tubes that nobody measured, and those that could not be analysed.
    pub(super) not_measured: usize,
    pub(super) not_analysed: usize,
    pub(super) sums: Both,
}

/// Records of tubes, summed up as far as sums do not depend on order: join any number of them with [`Gathered::with`].
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Gathered {
    pub(super) lots: BTreeMap<String, LotRecords>,
    /// Seeds and draws that occur, and the first line of each.
    pub(super) runs: BTreeMap<(u64, u64), At>,
    /// Targets that occur, in words of JSON, and the first line of each.
    pub(super) targets: BTreeMap<String, At>,
    /// What is wrong with single lines, in the order of files and lines.
    pub(super) faults: Vec<Finding>,
}

impl Gathered {
    /// Reads the records of one file, known by the name `file`. A line that is no record is a fault, told by
    /// [`summed_up`](Gathered::summed_up); so is a file without any.
    ///
    /// # Errors
    /// What the system says where the file cannot be read.
    pub fn read(file: &str, mut from: impl BufRead) -> io::Result<Gathered> {
        let (mut all, mut faults, mut beyond) = (Gathered::default(), Vec::new(), 0);
        let name: Arc<str> = file.into();
        let (mut line, mut text, mut records) = (0, Vec::new(), 0_usize);
        loop {
            text.clear();
            let read = from.by_ref().take(LONGEST as u64 + 1).read_until(b'\n', &mut text)?;
            if read == 0 {
                break;
            }
            line += 1;
            let at = At { file: Arc::clone(&name), line };
            let done = if text.len() > LONGEST && text.last() != Some(&b'\n') {
                skip_line(&mut from)?;
                Err(("a line of more than 4 MiB".to_string(), String::new(), "leave it out"))
            } else if text.trim_ascii().is_empty() {
                continue;
            } else {
                all.take(&text, &at).map_err(|why| {
                    let cut = text.last() != Some(&b'\n');
                    let fix = if cut { "the file was cut off: write it again" } else { why.fix };
                    (why.found, why.column, fix)
                })
            };
            records += 1;
            if let Err((found, column, fix)) = done {
                if faults.len() < MOST {
                    let place = Place { column, ..at.place() };
                    faults.push(Finding::error(place, found, "a record as `split --jsonl` writes it", fix));
                } else {
                    beyond += 1;
                }
            }
        }
        if records == 0 {
            let place = Place { file: name, line: 0, column: String::new() };
            faults.push(Finding::error(
                place,
                "no record",
                "a line for the lot and one for each tube",
                "write it again",
            ));
        }
        all.faults = bounded(faults, MOST, file, beyond);
        Ok(all)
    }

    /// Takes up a line.
    fn take(&mut self, text: &[u8], at: &At) -> Result<(), Wrong> {
        let line = parsed(text)?;
        let PlanOptions { seed, draws } = line.options;
        let tube = match (&line.about, &line.plan, &line.not_planned) {
            (Some(_), None, None) => None,
            (None, Some(plan), None) => {
                let draws = usize::try_from(draws).unwrap_or(usize::MAX);
                Sums::takes(plan, draws).map_err(|word| Wrong {
                    found: "a number out of range, or another count of draws".into(),
                    column: word.into(),
                    fix: "plan the lot again",
                })?;
                Some(plan.fit.tube.clone())
            }
            (None, None, Some(why)) => Some(why.tube.to_string()),
            _ => return Err(Wrong::plain("a line that is neither of a lot nor of one tube")),
        };
        least(&mut self.runs, (seed, draws), at);
        let lot = self.lots.entry(line.lot.to_string()).or_default();
        if let Some(About { terms, tubes, .. }) = line.about {
            // all keys are strings, so this cannot fail
            least(&mut self.targets, serde_json::to_string(&terms.target).expect("plain data"), at);
            let head = Head { at: at.clone(), terms: terms.into_owned(), tubes };
            lot.take_head(line.model.to_string(), head);
            return Ok(());
        }
        least(&mut lot.models, line.model.to_string(), at);
        lot.take_tube(tube.unwrap_or_default().into(), at.clone());
        match (line.plan, line.not_planned.map(|n| n.reason.into_owned())) {
            (Some(plan), _) => lot.sums.add(&plan),
            (_, Some(NoPlan::NotMeasured)) => lot.not_measured += 1,
            _ => lot.not_analysed += 1,
        }
        Ok(())
    }

    /// Both together. `a.with(b) == b.with(a)` and `a.with(b).with(c) == a.with(b.with(c))`, to the last bit.
    #[must_use]
    pub fn with(mut self, other: Gathered) -> Gathered {
        for (name, theirs) in other.lots {
            match self.lots.entry(name) {
                Entry::Vacant(free) => drop(free.insert(theirs)),
                Entry::Occupied(mut mine) => mine.get_mut().join(theirs),
            }
        }
        other.runs.into_iter().for_each(|(run, at)| least(&mut self.runs, run, &at));
        other.targets.into_iter().for_each(|(target, at)| least(&mut self.targets, target, &at));
        self.faults.extend(other.faults);
        self.faults.sort_by(|a, b| (&a.place, &a.found).cmp(&(&b.place, &b.found)));
        self
    }
}

impl LotRecords {
    fn take_head(&mut self, model: String, head: Head) {
        match self.heads.entry(model) {
            Entry::Vacant(free) => drop(free.insert(head)),
            Entry::Occupied(mut known) if head.at < known.get().at => drop(known.insert(head)),
            Entry::Occupied(_) => {}
        }
    }

    fn take_tube(&mut self, name: Box<str>, at: At) {
        match self.tubes.entry(name) {
            Entry::Vacant(free) => drop(free.insert(at)),
            Entry::Occupied(mut known) => {
                let name = known.key().clone();
                let later = if at < *known.get() { known.insert(at) } else { at };
                self.twice.insert((later, name));
            }
        }
    }

    fn join(&mut self, other: LotRecords) {
        other.heads.into_iter().for_each(|(model, head)| self.take_head(model, head));
        other.models.into_iter().for_each(|(model, at)| least(&mut self.models, model, &at));
        other.tubes.into_iter().for_each(|(name, at)| self.take_tube(name, at));
        self.twice.extend(other.twice);
        self.not_measured += other.not_measured;
        self.not_analysed += other.not_analysed;
        self.sums.join(&other.sums);
    }
}

/// Keeps the first line of each.
fn least<K: Ord>(map: &mut BTreeMap<K, At>, key: K, at: &At) {
    match map.entry(key) {
        Entry::Vacant(free) => drop(free.insert(at.clone())),
        Entry::Occupied(mut known) if at < known.get() => drop(known.insert(at.clone())),
        Entry::Occupied(_) => {}
    }
}

/// Why a line is no record.
struct Wrong {
    found: String,
    column: String,
    fix: &'static str,
}

impl Wrong {
    fn plain(found: impl Into<String>) -> Wrong {
        Wrong { found: found.into(), column: String::new(), fix: "leave the line out, or plan the lot again" }
    }
}

fn parsed(text: &[u8]) -> Result<Line<'_>, Wrong> {
    #[derive(serde::Deserialize)]
    struct Versioned {
        format: u64,
    }
    match serde_json::from_slice::<Line<'_>>(text) {
        Ok(line) if line.format == FORMAT => Ok(line),
        read => {
            // a later format may hold anything: it says so before it is called broken
            if let Ok(Versioned { format }) = serde_json::from_slice(text)
                && format != FORMAT
            {
                return Err(Wrong {
                    found: format!("a record of format {format}; this version reads format {FORMAT}"),
                    column: String::new(),
                    fix: "plan and sum up with one version of this program",
                });
            }
            let begin: String = String::from_utf8_lossy(&text[..text.len().min(4 * QUOTED)])
                .trim()
                .chars()
                .filter(|c| !c.is_control())
                .take(QUOTED)
                .collect();
            let Err(why) = read else { return Err(Wrong::plain(format!("'{begin}'"))) };
            let what = if why.is_syntax() || why.is_eof() { "no JSON" } else { "no record" };
            // the end of what serde says names the line of the text, which is always the first
            let words = why.to_string();
            let words = words.split(" at line ").next().unwrap_or_default();
            Err(Wrong { column: why.column().to_string(), ..Wrong::plain(format!("{what} ('{begin}...': {words})")) })
        }
    }
}

/// Passes over the rest of a line.
fn skip_line(from: &mut impl BufRead) -> io::Result<()> {
    loop {
        let held = from.fill_buf()?;
        if held.is_empty() {
            return Ok(());
        }
        match held.iter().position(|b| *b == b'\n') {
            Some(end) => {
                from.consume(end + 1);
                return Ok(());
            }
            None => {
                let all = held.len();
                from.consume(all);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::super::counting::Counting;
    use super::super::super::scales::ScalesUsed;
    use super::*;
    use crate::decide::plan::{TubePlan, plan_tube};
    use crate::domain::{Angle, Kind, Lot, Reading, Tube};
    use crate::tube::Model;
    use proptest::prelude::*;
    use std::borrow::Cow;
    use std::sync::LazyLock;

    const RUN: PlanOptions = PlanOptions { seed: 1, draws: 20 };

    fn head(lot: &str, options: PlanOptions) -> Line<'static> {
        let terms =
            Terms::of(&Lot { name: lot.into(), price: Some(9.0), bought_weight_g: Some(500.0), ..Lot::default() });
        let scales = Cow::Owned(ScalesUsed::default());
        Line::of_lot(About { terms: Cow::Owned(terms), scales, tubes: 12, as_split: false }, options)
    }

    /// The line of a tube that gives `blanks` at the least, a third of a blank more expected, and in later draws more.
    fn tube(lot: &str, number: usize, blanks: u16, options: PlanOptions) -> String {
        static PLAN: LazyLock<TubePlan> = LazyLock::new(|| {
            let around = |z: f64| (0..6).map(move |i| (z, 30.0 * f64::from(i)));
            let readings = [30.0, 90.0, 150.0].into_iter().flat_map(around);
            let readings =
                readings.map(|(z, deg)| Reading::new(Kind::Diameter, z, Angle::from_degrees(deg), 25.4)).collect();
            let tube = Tube { name: "P".into(), length_mm: 180.0, readings, ..Tube::default() };
            plan_tube(&tube, &Lot::default(), &Model::default(), RUN).expect("measured")
        });
        let mut plan = PLAN.clone();
        plan.fit.tube = format!("T{number}");
        plan.fit.weight_g = Some(20.1 + 0.7 * f64::from(blanks));
        let split = plan.split.as_mut().expect("long enough");
        split.best.expected = f64::from(blanks) + 1.0 / 3.0;
        split.draws = (0..20).map(|k| blanks + k / 7).collect();
        let head = head(lot, options);
        Line { plan: Some(Cow::Owned(plan)), ..head.of_tube(number) }.text()
    }

    fn file(name: &str, text: &str) -> Gathered {
        Gathered::read(name, text.as_bytes()).expect("no system in between")
    }

    fn told(g: &Gathered) -> String {
        match g.summed_up(Counting::default()) {
            Ok(sums) => sums.to_json(),
            Err(why) => why.0.iter().map(|f| format!("{f}\n")).collect(),
        }
    }

    /// Lines of two lots, some tubes twice, some lines broken.
    fn lines() -> impl Strategy<Value = Vec<String>> {
        let tubes = prop::collection::vec((0..2_usize, 0..400_usize, 0..9_u16), 0..14);
        (tubes, prop::collection::vec(0..40_usize, 0..3), any::<bool>()).prop_map(|(tubes, odd, clean)| {
            let lots = ["ash", "elm"];
            let mut all: Vec<String> = lots.map(|l| head(l, RUN).text()).to_vec();
            all.extend(tubes.iter().map(|(l, n, blanks)| tube(lots[*l], *n, *blanks, RUN)));
            if !clean {
                all.extend(odd.iter().map(|n| format!("{{\"odd\": {n}\n")));
            }
            all
        })
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]

        #[test]
        fn joining_is_associative_and_knows_no_order(lines in lines(), cuts in prop::collection::vec(0..3_usize, 16..20)) {
            let part = |p: usize| -> String {
                lines.iter().zip(cuts.iter().cycle()).filter(|(_, c)| **c == p).map(|(l, _)| l.as_str()).collect()
            };
            let [a, b, c] = [0, 1, 2].map(|p| file(&format!("{p}.jsonl"), &part(p)));
            let all = a.clone().with(b.clone()).with(c.clone());
            prop_assert_eq!(&a.clone().with(b.clone().with(c.clone())), &all);
            prop_assert_eq!(&c.clone().with(a.clone()).with(b.clone()), &all);
            prop_assert_eq!(&b.clone().with(c).with(a), &all);
            prop_assert_eq!(&Gathered::default().with(all.clone()), &all);
        }

        #[test]
        fn the_grouping_into_files_does_not_matter(lines in lines(), cut in 0..20_usize, turn in 0..20_usize) {
            let one: Gathered = file("f", &lines.concat());
            let mut turned = lines.clone();
            turned.rotate_left(turn % lines.len());
            turned.reverse();
            let (a, b) = turned.split_at(cut.min(turned.len()));
            // a file without a record is a fault of its own
            let two = [a, b].into_iter().filter(|x| !x.is_empty()).map(|x| file("f", &x.concat()));
            let two = two.fold(Gathered::default(), Gathered::with);
            match (one.summed_up(Counting::default()), two.summed_up(Counting::default())) {
                (Ok(one), Ok(two)) => prop_assert_eq!(one.to_json(), two.to_json()),
                (Err(one), Err(two)) => prop_assert_eq!(one.0.len(), two.0.len()),
                (one, two) => prop_assert!(false, "{one:?} against {two:?}"),
            }
        }
    }

    #[test]
    fn sums_by_hand() {
        let text = head("ash", RUN).text() + &tube("ash", 1, 4, RUN) + &tube("ash", 2, 7, RUN);
        let sums = file("f", &text).summed_up(Counting::default()).expect("whole");
        let f = &sums.forecast;
        assert!((f.blanks.expected - 35.0 / 3.0).abs() < 1e-11, "{:?}", f.blanks);
        // draws 11 seven times, 13 seven times, 15 six times
        assert!(f.blanks.low.to_bits() == 11.0_f64.to_bits() && f.blanks.high.to_bits() == 15.0_f64.to_bits());
        assert_eq!((f.tubes, sums.lots[0].listed, sums.lots[0].missing), (2, 12, 10));
        // 22.9 + 25.0 g of 500 g for 9
        let (weight, n) = f.weight_g.expect("weighed");
        assert!((weight - 47.9).abs() < 1e-10 && n == 2);
        assert!((sums.lots[0].spent.expect("priced") - 9.0 * 47.9 / 500.0).abs() < 1e-11);
        assert!((f.per_kg.expect("weighed").expected - 1000.0 * 35.0 / 3.0 / 47.9).abs() < 1e-7);
        // one lot by itself has nothing to share its errors with
        assert_eq!(sums.lots_apart, None);
        // two like it: 22, 26 and 30 blanks where both err alike; what is expected stays the middle where they do not
        let both = text.clone() + &text.replace("\"ash\"", "\"elm\"");
        let sums = file("f", &both).summed_up(Counting::default()).expect("whole");
        let (alike, apart) = (sums.forecast.blanks, sums.lots_apart.expect("two lots"));
        assert!((alike.low - 22.0).abs() < 1e-12 && (alike.high - 30.0).abs() < 1e-12, "{alike:?}");
        assert!(apart.high - apart.low < alike.high - alike.low, "{apart:?}");
        assert!(apart.low < apart.expected && apart.expected < apart.high, "{apart:?}");
        assert!((apart.expected - alike.expected).abs() < 1e-12);
    }

    #[test]
    fn whatever_is_wrong_is_told_with_its_file_and_line() {
        let other = PlanOptions { seed: 2, draws: 20 };
        let short = tube("ash", 3, 4, RUN);
        let text = [
            head("ash", RUN).text(),
            tube("ash", 1, 4, RUN),
            "not a record\n".into(),
            tube("ash", 1, 5, RUN),
            tube("elm", 1, 5, RUN),
            tube("ash", 2, 5, other),
            tube("ash", 5, 5, RUN).replace("\"format\":1", "\"format\":7"),
            tube("ash", 6, 5, PlanOptions { seed: 1, draws: 40 }),
            "\n".into(),
            short[..short.len() / 2].into(),
        ];
        let joined = file("a", &text.concat()).with(file("b", "")).with(file("c", &head("ash", other).text()));
        let told = told(&joined);
        for part in [
            "a, line 3, column 2: found no JSON ('not a record...': expected ident)",
            "a, line 4: found tube 1 of lot ash again, first in a, line 2".replace("tube 1", "tube T1").as_str(),
            "a, line 5: found a tube of lot elm, expected the lot's own line",
            "a, line 6: found seed 2, 20 draws, expected seed 1, 20 draws, as in a, line 1",
            "a, line 7: found a record of format 7; this version reads format 1",
            "a, line 8, column split.draws: found a number out of range, or another count of draws",
            "a, line 10, column",
            "the file was cut off",
            "b: found no record",
            "c, line 1: found lot ash with other terms or scales, expected what a, line 1 says of it",
        ] {
            assert!(told.contains(part), "{part}\n{told}");
        }
        assert_eq!(joined.summed_up(Counting::default()).expect_err("faults").0.len(), 9, "{told}");
    }

    #[test]
    fn hostile_files_are_bounded() {
        let many = "{\n".repeat(50_000);
        let told = told(&file("many", &many));
        assert!(told.lines().filter(|l| l.starts_with("error")).count() == MOST + 1, "{}", told.len());
        assert!(told.contains("49900 more of such lines"));
        // one endless line is passed over, and what stands behind it is read
        let long = "x".repeat(2 * LONGEST) + "\n" + &head("ash", RUN).text();
        let got = file("long", &long);
        assert_eq!((got.faults.len(), got.lots.len()), (1, 1));
        assert!(got.faults[0].to_string().contains("more than 4 MiB"));
        // a number beyond all bounds
        let line = tube("ash", 1, 5, RUN).replace("\"weight_g\":23.6", "\"weight_g\":1e300");
        assert!(line.contains("1e300"), "{line}");
        assert!(file("f", &line).faults[0].to_string().contains("column weight_g"));
    }
}
