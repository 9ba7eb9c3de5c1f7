//! What is said of pictures of sawn ends: their scale, every ring, what was left out and what to type next.

use super::fold::hanging;
use super::show::Units;
use crate::domain::units::decimal;
use crate::domain::{Angle, counted};
use crate::lot::ends::{LeftOut, NamedEnd, NamesError, Seen, Written};
use crate::picture::{CardFault, Found, Refusal, Ring, ScaleFault, ScaleFound, ScaleFrom, TickFault, Unclear};

/// An edge of which more than this share did not count is told.
const TOLD_SHARE: f64 = 0.02;
/// A tick that stands this much aside for each millimetre inwards leans.
const LEANS: f64 = 0.3;

/// Whom the words are for: what a reader is told to do must be something he can do there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Face {
    /// Whoever runs `ends`.
    CommandLine,
    /// Whoever drops a picture on the page.
    Page,
}

/// Where a scale comes from, with what it says of the scanner.
#[must_use]
pub fn scale_line(scale: &ScaleFound, face: Face) -> String {
    let (x, y) = scale.scale.dpi();
    let size = format!("{} by {} pixels per inch", decimal(x, 1), decimal(y, 1));
    let stretched = scale.stretch_percent.map_or(String::new(), |(x, y)| {
        format!("; against the stated resolution {} % across, {} % down", signed(x), signed(y))
    });
    let words = match (scale.from, &scale.card) {
        (ScaleFrom::Card { measured: true }, Some(c)) => {
            format!(
                "scale {size}, from the measured card ({}{stretched}); sizes are good to about 0.1 %",
                discs(c.discs)
            )
        }
        (ScaleFrom::Card { .. }, Some(c)) => format!(
            "scale {size}, from the card as it was meant to be printed ({}{stretched}); nobody measured it, so sizes are \
             taken as good to 0.3 %: {}",
            discs(c.discs),
            match face {
                Face::CommandLine => "measure its two lines and give --card",
                Face::Page => "'quarterlight ends' takes the lengths of its two lines as they were measured",
            }
        ),
        (ScaleFrom::Given, _) => format!("scale {size}, as given; {UNCHECKED}"),
        _ => format!("scale {size}, as the file states; {UNCHECKED}"),
    };
    hanging(&words, 2)
}

/// What stands under every run that wrote readings.
pub const LOOK_AT_IT: &str = "Look at the picture before you believe the readings: outline, bore and tick of every ring, and \
     the arrow that shows which way its angles run. An end out of square by 2 deg reads 0.06 % longer one way; bark and \
     bore torn by the saw are in the doubt of each reading.";

const UNCHECKED: &str = "scanners stretch by up to 0.6 %, so sizes are taken as good to 0.3 %: a scale card beside the rings \
     makes them surer";

fn discs(n: usize) -> String {
    format!("{n} of 31 discs")
}

fn signed(percent: f64) -> String {
    format!("{}{}", if percent >= 0.0 { "+" } else { "" }, decimal(percent, 2))
}

/// Why a picture has no scale, and what to do.
#[must_use]
pub fn scale_fault(fault: ScaleFault, face: Face) -> (String, String) {
    let of = |line: &str, page: &str| if face == Face::CommandLine { line.to_string() } else { page.to_string() };
    let again = of(
        "print it at 100 %, lay it flat on the glass, or leave it out and give --dpi",
        "Print it at 100 % and lay it flat on the glass, or leave it out where the file states what it was scanned at",
    );
    match fault {
        ScaleFault::None { stated_dpi } => (
            match stated_dpi {
                Some((x, y)) => format!(
                    "no scale: no scale card in the picture, and {} by {} pixels per inch is no scanner's resolution",
                    decimal(x, 0),
                    decimal(y, 0)
                ),
                None => "no scale: no scale card in the picture, and its file states no resolution".into(),
            },
            of(
                "give --dpi 600 if that is what it was scanned at, or lay the scale card (ends --scale-sheet FILE.pdf) beside \
                 the rings",
                "Lay the scale card (scale-card.pdf, which 'quarterlight new' makes) beside the rings, or scan into a file that \
                 states its resolution",
            ),
        ),
        ScaleFault::Card(CardFault::NotFlat { rms_mm }) => (
            format!("the scale card is bent or seen from the side: its discs lie {} mm off", decimal(rms_mm, 2)),
            again,
        ),
        ScaleFault::Card(CardFault::Skew { skew }) => (
            format!(
                "the picture is not square-on: the card's rows and columns are {} deg off square",
                decimal(skew.to_degrees().abs(), 1)
            ),
            again,
        ),
        ScaleFault::Mirrored => (
            "the picture is mirrored: the card's missing corner is on the wrong side".into(),
            of("save it without mirroring", "Save it without mirroring"),
        ),
        ScaleFault::Apart { percent: (x, y) } => (
            format!(
                "the scale card and the stated resolution differ by {} % across and {} % down, more than scanners stretch",
                signed(x),
                signed(y)
            ),
            of(
                "was the card printed at 100 %? Measure its two lines and give them: --card 140.2x60.1",
                "Was the card printed at 100 %? Print it again, or let 'quarterlight ends' read the picture: it takes the \
                 lengths of the card's two lines as they were measured",
            ),
        ),
    }
}

/// What does not fit about the names, and what to do.
#[must_use]
pub fn names_fix(error: &NamesError, face: Face) -> &'static str {
    match error {
        NamesError::Twice { .. } if face == Face::Page => "Choose the other end for one of them, or none",
        NamesError::Unknown { .. } if face == Face::Page => "Was it renamed in its files? Choose again",
        NamesError::NoLength { .. } if face == Face::Page => "Write its length into tubes.csv",
        NamesError::Count { .. } => {
            "give one name for each number on the picture, in that order, and - for one to be passed over"
        }
        NamesError::Which { .. } => "write it as it stands in tubes.csv",
        NamesError::Unknown { .. } => "write the names as in tubes.csv, or add the tubes to it",
        NamesError::NoLength { .. } => "write its length into tubes.csv",
        NamesError::NoSuchRing { .. } => "take the numbers from the picture",
        _ => "say /far for the other end",
    }
}

/// Why a ring was refused.
#[must_use]
pub fn refusal(why: Refusal) -> String {
    match why {
        Refusal::Cut => "it reaches over the edge of the picture, or bright ground joins it to that edge".into(),
        Refusal::NotRound { reach } => format!(
            "it is not round (longest reach {} times the shortest): rings that touch, a shadow, or no ring",
            decimal(reach, 2)
        ),
        Refusal::OnCard => "it touches or lies on the scale card".into(),
        Refusal::Unclear { unclear } => format!(
            "its edge is not clear over {} % of its girth ({}); 20 % are the most",
            decimal(100.0 * unclear.share(), 0),
            reasons(unclear)
        ),
        Refusal::Soft { soft_mm } => format!(
            "its edge is soft all round ({} mm): it does not stand on the glass, or is out of focus",
            decimal(soft_mm, 2)
        ),
    }
}

fn reasons(u: Unclear) -> String {
    let parts =
        [(u.faint, "glare or bright ground"), (u.soft, "shadow or off the glass"), (u.off, "fibres, chips or dirt")];
    let told: Vec<String> =
        parts.iter().filter(|p| p.0 >= 0.005).map(|p| format!("{} {} %", p.1, decimal(100.0 * p.0, 0))).collect();
    told.join(", ")
}

/// Why there is no tick.
#[must_use]
pub fn tick_fault(fault: TickFault) -> &'static str {
    match fault {
        TickFault::None => "no pencil tick found across its wall",
        TickFault::Two => "two marks on its face that could both be the tick",
        TickFault::NoBore => "its bore is not clear, so no tick can be looked for",
    }
}

/// Why nothing of a ring was written.
#[must_use]
pub fn left_out(why: LeftOut) -> String {
    match why {
        LeftOut::Refused(why) => refusal(why),
        LeftOut::NoTick(fault) => tick_fault(fault).into(),
        LeftOut::PassedOver => "passed over, as asked".into(),
    }
}

/// What to do about a ring of which nothing was written.
fn left_out_fix(number: usize, why: LeftOut, face: Face) -> Option<String> {
    match why {
        LeftOut::Refused(Refusal::Cut | Refusal::NotRound { .. } | Refusal::OnCard) => {
            Some("move it clear of the others, the card and the edge, and scan again".into())
        }
        LeftOut::Refused(_) => Some("clean its rim, stand it flat, darken the room, and scan again".into()),
        LeftOut::NoTick(_) if face == Face::Page => Some("draw it and scan again".into()),
        LeftOut::NoTick(_) => Some(format!(
            "draw it and scan again, or give it: --tick {number}=DEG, clockwise on the picture from straight up"
        )),
        LeftOut::PassedOver => None,
    }
}

/// One line a ring before names are known, and what to type next.
#[must_use]
pub fn numbers_block(found: &Found, units: Units) -> String {
    let mut out = String::new();
    for (i, thing) in found.things.iter().enumerate() {
        let words = match &thing.what {
            Ok(ring) => format!(
                "{}{}",
                sizes(ring, units),
                ring.tick.err().map_or(String::new(), |f| format!("; {}", tick_fault(f)))
            ),
            Err(why) => format!("refused: {}", refusal(*why)),
        };
        out.push_str(&numbered(i + 1, &words));
    }
    out + &large_line(found, units)
}

/// A paragraph behind its number.
fn numbered(number: usize, words: &str) -> String {
    format!("{number:>4}  {}", hanging(words, 6))
}

/// Words on things that are too large for a ring.
#[must_use]
pub fn large_line(found: &Found, units: Units) -> String {
    let sizes: Vec<String> =
        found.large.iter().map(|[w, h]| format!("{} by {}", units.length(*w, 0), units.length(*h, 0))).collect();
    if sizes.is_empty() {
        return String::new();
    }
    hanging(&format!("passed over as no rings, by their size: {} {}", sizes.join(", "), units.word()), 2)
}

fn sizes(ring: &Ring, units: Units) -> String {
    let wall = ring.bore.as_ref().map_or("wall not seen".into(), |bore| {
        format!("wall {}", units.length(ring.bark.mean_mm() - bore.mean_mm(), 2))
    });
    format!("diameter {} {}, {wall}", units.length(2.0 * ring.bark.mean_mm(), 2), units.word())
}

/// One line for each ring that was named: what was written, or why nothing.
#[must_use]
pub fn named_block(seen: &[Seen], written: &[Written], units: Units, face: Face) -> String {
    let mut out = String::new();
    let mut written = written.iter();
    for (i, end) in seen.iter().enumerate() {
        let number = i + 1;
        let words = match end {
            Ok(end) => written.next().map_or(String::new(), |w| kept(end, w, units)),
            Err(why) => {
                let fix = left_out_fix(number, *why, face).map_or(String::new(), |f| format!("; {f}"));
                format!("left out: {}{fix}", left_out(*why))
            }
        };
        out.push_str(&numbered(number, &words));
    }
    out
}

/// Which end, in words.
#[must_use]
pub fn end_words(end: &NamedEnd) -> String {
    format!("{} {} end", end.name.tube, if end.name.far { "far" } else { "index" })
}

fn kept(end: &NamedEnd, w: &Written, units: Units) -> String {
    let mut words = vec![
        format!("{}: diameter {} {}", end_words(end), units.length(w.diameter_mm, 2), units.word()),
        format!("{} to {} {}", counted(w.outlines, "outline reading"), units.length(w.sd_mm, 3), units.word()),
    ];
    words.push(match w.wall_mm {
        Some(wall) => format!("{} about {} {}", counted(w.walls, "wall reading"), units.length(wall, 2), units.word()),
        None => "wall not seen: its bore is not clear".into(),
    });
    let up = Angle::from_radians(end.tick.radians() + std::f64::consts::FRAC_PI_2).wrapped().degrees();
    words.push(format!("tick at {} deg{}", decimal(up, 1), if end.by_hand { ", given" } else { "" }));
    if end.ring.tick.is_ok_and(|t| t.lean.abs() > LEANS) && !end.by_hand {
        words.push("the tick leans: taken where it meets the bark".into());
    }
    if end.ring.bark.unclear.share() > TOLD_SHARE {
        let share = decimal(100.0 * end.ring.bark.unclear.share(), 0);
        words.push(format!("{share} % of its edge left out ({})", reasons(end.ring.bark.unclear)));
    }
    words.join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_page_tells_nobody_to_give_an_option() {
        let card = [CardFault::NotFlat { rms_mm: 1.0 }, CardFault::Skew { skew: 0.1 }];
        let mut faults: Vec<ScaleFault> = card.map(ScaleFault::Card).to_vec();
        faults.extend([
            ScaleFault::None { stated_dpi: None },
            ScaleFault::None { stated_dpi: Some((72.0, 72.0)) },
            ScaleFault::Mirrored,
            ScaleFault::Apart { percent: (1.0, -1.0) },
        ]);
        let names = [
            NamesError::Unknown { names: vec!["T1".into()] },
            NamesError::Twice { tube: "T1".into() },
            NamesError::NoLength { tube: "T1".into() },
        ];
        let said = |face: Face| {
            let mut all: Vec<String> = faults.iter().map(|f| scale_fault(*f, face).1).collect();
            all.extend(names.iter().map(|e| names_fix(e, face).to_string()));
            all.extend(left_out_fix(1, LeftOut::NoTick(TickFault::None), face));
            all.join("\n")
        };
        let (line, page) = (said(Face::CommandLine), said(Face::Page));
        assert!(["--dpi", "--card", "--tick", "/far"].iter().all(|o| line.contains(o) && !page.contains(o)), "{page}");
    }
}
