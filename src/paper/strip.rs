//! Paper strips at true size, to wrap round a tube or lay along it, so that no angle or length is measured by hand.
//!
//! Each tube gets a **wrap strip** as long as its girth at the index end, with the index line at both ends and one
//! numbered tick per split, and a **length strip** as long as the tube with the ends of the runs of each piece. A tube
//! longer than the sheet has its length strip in parts that join at lettered marks. Every page carries lines of
//! 100 mm and of 4 in to check the printer by.
//!
//! # How a wrap strip lies
//!
//! Its lower edge goes flush with the index end, print outwards, the left edge on the index line. Numbers then
//! run from left to right, which is clockwise seen looking at the index end: standing over the bark at angle 0
//! with the index end towards you, "right" is angle 90 and "away" is z.
//!
//! # What it takes for granted
//!
//! A tick stands as far round the bark as it is told ([`StripSpec::split_along_mm`]), on a tube nobody measured at girth x
//! angle / 360. The girth must be that of the outside of the tube; paper 0.1 mm thick adds 0.3 mm to a turn,
//! spread over all ticks, which the lap takes up.

mod length;
mod page;
mod spec;
mod wrap;

use super::font::{Weight, plain, shorten};
use super::scene::Scene;
use page::Layout;

pub use spec::{StripMark, StripRun, StripSheet, StripSpec, millimetres};

/// Longest tube a length strip is made for, mm: cane is cut to handle long before this.
const LONGEST_MM: f64 = 3000.0;
/// Shortest girth and length a strip is made for, mm: below it the words would hide the ticks.
const SHORTEST_MM: f64 = 15.0;
/// Most splits, and most pieces, on one strip.
const MOST_PIECES: usize = 12;
/// Most marks on one strip.
pub const MOST_MARKS: usize = 200;
/// Most runs on one strip.
pub const MOST_RUNS: usize = 400;

/// Why no strips were made.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum StripError {
    /// There is no tube to make a strip for.
    #[error("no strips to print: the lot has no tube with a split\n  hint: split at least one tube first")]
    NoTubes,
    /// The lap is out of its range.
    #[error("lap of {lap_mm} mm: expected 5 to 30 mm")]
    Lap {
        /// As given.
        lap_mm: f64,
    },
    /// Some tubes cannot be drawn; every one is listed.
    #[error("no strips printed:\n{}", .0.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))]
    Refused(Vec<StripFault>),
}

/// What is wrong with one tube's strip.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("  tube {tube}: {what} is {found}, expected {expected}")]
pub struct StripFault {
    /// Its name, made plain and short.
    pub tube: String,
    /// Which number or list.
    pub what: String,
    /// What it was.
    pub found: String,
    /// What would have been right.
    pub expected: String,
}

/// The strips of `specs` as pages at true size, in the order of `specs`.
///
/// All pages stand upright if every wrap strip fits that way, else all lie on their long side. Strips fill a page
/// from the top, several side by side where they fit.
///
/// # Errors
/// [`StripError::NoTubes`]; [`StripError::Lap`]; [`StripError::Refused`] with every fault of every tube: a girth that
/// with its lap is longer than the sheet, a girth or length outside 15 to 3000 mm or not a number, a split
/// angle that is not a number, more than 12 splits or pieces, 400 runs or 200 marks, a run or mark of an unknown
/// piece, a run outside its tube.
///
/// # Example
/// ```
/// use quarterlight::domain::Angle;
/// use quarterlight::paper::strip::{StripSheet, StripSpec, pages};
/// let tube = StripSpec { tube: "T1".into(), girth_mm: 80.0, length_mm: 210.0,
///     split_angles: [12.0, 102.0, 192.0, 282.0].map(Angle::from_degrees).to_vec(), ..StripSpec::default() };
/// assert_eq!(pages(&[tube.clone()], &StripSheet::default()).unwrap().len(), 1);
/// let thick = StripSpec { girth_mm: 400.0, ..tube };
/// assert!(pages(&[thick], &StripSheet::default()).unwrap_err().to_string().contains("girth"));
/// ```
pub fn pages(specs: &[StripSpec], sheet: &StripSheet) -> Result<Vec<Scene>, StripError> {
    if specs.is_empty() {
        return Err(StripError::NoTubes);
    }
    if !(5.0..=30.0).contains(&sheet.lap_mm) {
        return Err(StripError::Lap { lap_mm: sheet.lap_mm });
    }
    let faults: Vec<StripFault> = specs.iter().flat_map(|s| faults_of(s, sheet)).collect();
    if !faults.is_empty() {
        return Err(StripError::Refused(faults));
    }
    let (upright, _) = sheet.paper.upright_mm();
    let longest = specs.iter().map(|s| s.girth_mm).fold(0.0, f64::max) + sheet.lap_mm;
    let size =
        if longest <= upright - 2.0 * page::MARGIN_MM { sheet.paper.upright_mm() } else { sheet.paper.lying_mm() };
    let mut layout = Layout::new(size, &sheet.heading, &sheet.foot);
    for spec in specs {
        let (scene, at) = layout.room_for(spec.girth_mm + sheet.lap_mm, wrap::HEIGHT_MM);
        wrap::draw(scene, at, spec, sheet);
        let parts = length::parts(spec.length_mm, layout.usable_width());
        for part in 0..parts.count {
            let (from, to) = parts.span(part);
            let (scene, at) = layout.room_for(to - from, length::height_mm(spec, sheet, &parts));
            length::draw(scene, at, spec, sheet, &parts, part);
        }
    }
    Ok(layout.finish())
}

fn faults_of(spec: &StripSpec, sheet: &StripSheet) -> Vec<StripFault> {
    let mut faults = Vec::new();
    let name = shorten(&plain(&spec.tube), 1.0, Weight::Regular, 25.0).into_owned();
    let mut fault = |what: &str, found: String, expected: String| {
        faults.push(StripFault { tube: name.clone(), what: what.to_string(), found, expected });
    };
    let most_girth = sheet.paper.lying_mm().0 - 2.0 * page::MARGIN_MM - sheet.lap_mm;
    if !(SHORTEST_MM..=most_girth).contains(&spec.girth_mm) {
        let text = format!("{SHORTEST_MM} to {most_girth:.1} mm on this paper");
        fault("girth", format!("{} mm", spec.girth_mm), text);
    }
    if !(SHORTEST_MM..=LONGEST_MM).contains(&spec.length_mm) {
        fault("length", format!("{} mm", spec.length_mm), format!("{SHORTEST_MM} to {LONGEST_MM} mm"));
    }
    let ticks = &spec.split_along_mm;
    if !ticks.is_empty() && ticks.len() != spec.split_angles.len() {
        fault("places of splits", ticks.len().to_string(), format!("none, or {}", spec.split_angles.len()));
    }
    for along in ticks.iter().filter(|mm| !(0.0..=spec.girth_mm).contains(*mm)) {
        fault("place of a split", format!("{along} mm"), format!("0 to the girth, {} mm", spec.girth_mm));
    }
    for angle in spec.split_angles.iter().filter(|a| !a.is_finite()) {
        fault("split angle", format!("{}", angle.degrees()), "a number of degrees".to_string());
    }
    for (what, count, most) in [
        ("number of splits", spec.split_angles.len(), MOST_PIECES),
        ("number of pieces", spec.piece_names.len(), MOST_PIECES),
        ("number of runs", spec.runs.len(), MOST_RUNS),
        ("number of marks", spec.marks.len(), MOST_MARKS),
    ] {
        if count > most {
            fault(what, count.to_string(), format!("at most {most}"));
        }
    }
    for mark in spec.marks.iter().take(MOST_MARKS) {
        let right = mark.from_mm <= mark.to_mm && mark.pieces.iter().all(|p| *p < spec.piece_names.len());
        if !right {
            fault("a mark", format!("{} to {} mm", mark.from_mm, mark.to_mm), "from below to, on known pieces".into());
        }
    }
    for run in spec.runs.iter().take(MOST_RUNS) {
        let inside = run.from_mm >= 0.0 && run.from_mm < run.to_mm && run.to_mm <= spec.length_mm + 1e-6;
        if run.piece >= spec.piece_names.len() {
            fault("piece of a run", (run.piece + 1).to_string(), format!("1 to {}", spec.piece_names.len()));
        } else if !inside {
            let expected = format!("from below to, both within 0 and {} mm", spec.length_mm);
            fault("a run", format!("{} to {} mm", run.from_mm, run.to_mm), expected);
        }
    }
    faults
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::Angle;
    use crate::paper::scene::Paper;

    fn tube() -> StripSpec {
        StripSpec {
            tube: "T1".into(),
            girth_mm: 80.0,
            length_mm: 230.0,
            split_angles: [12.0, 102.0, 192.0, 282.0].map(Angle::from_degrees).to_vec(),
            piece_names: ["1", "2", "3", "4"].map(String::from).to_vec(),
            runs: vec![StripRun { piece: 0, from_mm: 10.0, to_mm: 80.0, ..StripRun::default() }],
            ..StripSpec::default()
        }
    }

    #[test]
    fn every_fault_of_every_tube_is_listed() {
        let bad = StripSpec { tube: "bad\u{0}".repeat(50), girth_mm: f64::NAN, length_mm: -1.0, ..tube() };
        let mut worse = tube();
        worse.split_angles.push(Angle::from_degrees(f64::INFINITY));
        worse.runs.push(StripRun { piece: 9, from_mm: 0.0, to_mm: 1.0, ..StripRun::default() });
        worse.runs.push(StripRun { piece: 0, from_mm: 50.0, to_mm: 40.0, ..StripRun::default() });
        worse.split_along_mm = vec![1.0];
        worse.marks.push(StripMark { pieces: vec![9], from_mm: 1.0, to_mm: 2.0, why: "hole".into() });
        let Err(StripError::Refused(faults)) = pages(&[tube(), bad, worse], &StripSheet::default()) else { panic!() };
        let what: Vec<&str> = faults.iter().map(|f| f.what.as_str()).collect();
        assert_eq!(
            what,
            ["girth", "length", "a run", "places of splits", "split angle", "a mark", "piece of a run", "a run"],
            "{faults:?}"
        );
        assert!(faults[0].tube.chars().count() < 60 && !faults[0].tube.contains('\u{0}'), "{}", faults[0].tube);
    }

    #[test]
    fn an_empty_lot_and_a_silly_lap_are_errors_and_no_runs_is_not() {
        assert_eq!(pages(&[], &StripSheet::default()), Err(StripError::NoTubes));
        for lap_mm in [0.0, 100.0, f64::NAN] {
            assert!(pages(&[tube()], &StripSheet { lap_mm, ..StripSheet::default() }).is_err(), "{lap_mm}");
        }
        let bare = StripSpec { runs: vec![], piece_names: vec![], split_angles: vec![], ..tube() };
        assert_eq!(pages(&[bare], &StripSheet::default()).unwrap().len(), 1);
    }

    #[test]
    fn runs_that_touch_are_drawn_end_to_end() {
        let run = |from_mm: f64| StripRun { piece: 0, from_mm, to_mm: from_mm + 70.0, ..StripRun::default() };
        let made = pages(
            &[StripSpec { length_mm: 180.0, runs: vec![run(10.0), run(80.0)], ..tube() }],
            &StripSheet::default(),
        )
        .unwrap();
        let titled = |what: &str| made[0].marks.iter().filter(|m| m.title == what).count();
        assert_eq!((titled("run from 10.0 mm to 80.0 mm"), titled("run from 80.0 mm to 150.0 mm")), (1, 1));
    }

    #[test]
    fn a_girth_wider_than_the_upright_sheet_turns_it_and_one_wider_still_is_refused() {
        for paper in Paper::ALL {
            let sheet = StripSheet { paper, ..StripSheet::default() };
            let size = |girth_mm: f64| {
                pages(&[tube(), StripSpec { girth_mm, ..tube() }], &sheet).map(|p| (p[0].width_mm, p[0].height_mm))
            };
            assert_eq!(size(90.0), Ok(paper.upright_mm()));
            assert_eq!(size(240.0), Ok(paper.lying_mm()));
            assert!(matches!(size(300.0), Err(StripError::Refused(_))));
        }
    }
}
