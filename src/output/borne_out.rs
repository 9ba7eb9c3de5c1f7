//! What came of the tubes against what was promised, in words.

use super::fold::fold;
use super::own_file::KeptChange;
use super::show::Units;
use super::table::{Cell, Table};
use crate::domain::counted;
use crate::domain::units::decimal;
use crate::lot::{Again, BorneOut, CutLot, Estimate, OwnLimits, PaceSeen, WanderSeen};

/// A row for each tube that was cut and counted.
#[must_use]
pub fn table(b: &BorneOut) -> Table {
    let mut t = Table::new(&["lot", "tube", "promised", "low", "high", "got", "room", "lines off deg"]);
    for lot in &b.lots {
        for tube in &lot.tubes {
            let off: Vec<String> = tube.off_deg.iter().map(|o| decimal(*o, 1)).collect();
            t.push(vec![
                Cell::text(&lot.lot),
                Cell::text(&tube.tube),
                Cell::Number(tube.promised, 1),
                Cell::Number(tube.low, 0),
                Cell::Number(tube.high, 0),
                Cell::text(tube.got.to_string()),
                Cell::text(tube.room.to_string()),
                Cell::text(off.join(" ")),
            ]);
        }
    }
    t
}

/// Lot by lot, then all together.
#[must_use]
pub fn lines(b: &BorneOut, units: Units) -> String {
    let mut out = String::new();
    for lot in &b.lots {
        out.push_str(&fold(&format!("{}: ", lot.lot), &lot_words(lot), 2));
    }
    if b.lots.len() > 1 {
        let mut words: Vec<String> = b.factor.map(factor_words).into_iter().flatten().collect();
        words.extend(b.wander.map(wander_words).into_iter().flatten());
        if !words.is_empty() {
            out.push_str(&fold("all lots: ", &words, 2));
        }
    }
    if let Some(p) = &b.pace {
        out.push_str(&fold("measuring: ", &pace_words(p), 2));
    }
    if let Some(l) = &b.limits {
        out.push_str(&fold("own limits: ", &limit_words(l, units), 2));
    }
    if let Some(a) = &b.again {
        out.push_str(&fold("with what was learned: ", &again_words(b, a), 2));
    }
    out
}

fn pace_words(p: &PaceSeen) -> Vec<String> {
    let [expected, low, high] = [p.times.expected, p.times.low, p.times.high].map(|x| decimal(x, 2));
    vec![
        format!(
            "{} took {} min, {} counted",
            counted(p.tubes, "tube"),
            decimal(p.noted_minutes, 0),
            decimal(p.counted_minutes, 0)
        ),
        format!("{expected} times what the instruments' seconds say ({low} to {high})"),
        format!("{} s a reading", decimal(p.seconds_a_reading, 1)),
    ]
}

fn limit_words(l: &OwnLimits, units: Units) -> Vec<String> {
    let n = l.got + l.refused;
    let mut words = vec![format!("{n} judged stretches, {} refused", l.refused)];
    if l.otherwise > 0 {
        words.push(format!("{} refused for what no gauge shows left out", l.otherwise));
    }
    words.extend(l.limits.iter().map(|o| {
        let name = o.limit.replace('_', " ");
        if !o.told() {
            return format!("nothing told of {name}");
        }
        let mm = o.own_mm;
        let [own, low, high, stated] = [mm.expected, mm.low, mm.high, o.stated_mm]
            .map(|x| units.with_word(x, if o.stated_mm < 1.0 { 3 } else { 1 }));
        let means = match (mm.excludes(o.stated_mm), mm.expected < o.stated_mm) {
            (true, true) => "you are stricter",
            (true, false) => "you let more pass",
            (false, _) => "as far as these tell that is yours",
        };
        format!("{name} {own} ({low} to {high}), the lot has {stated}: {means}")
    }));
    words
}

fn again_words(b: &BorneOut, a: &Again) -> Vec<String> {
    let before: f64 = b.lots.iter().map(|l| l.promised).sum();
    let got: u32 = b.lots.iter().map(|l| l.got).sum();
    let after: f64 = a.promised.iter().map(|p| p.1).sum();
    let mut words = vec![format!(
        "the same tubes would be promised {} blanks, not {}; {got} were got",
        decimal(after, 1),
        decimal(before, 1)
    )];
    words.extend(a.factor.map(factor_words).into_iter().flatten());
    words
}

/// What goes into the maker's own file, and what stood there before.
#[must_use]
pub fn kept_lines(changes: &[KeptChange], file: &str) -> String {
    let of = |c: &KeptChange| {
        let before = c.before.as_ref().map_or("not set before".to_string(), |b| format!("{b} before"));
        format!("[{}] {} = {} ({before})", c.section, c.key, c.now)
    };
    let mut words: Vec<String> = changes.iter().map(of).collect();
    words.push(
        "a lot uses it with maker = \"PATH\" under [lot] of its lot.toml, the path as seen from its folder".into(),
    );
    fold(&format!("kept in {file}: "), &words, 2)
}

fn lot_words(lot: &CutLot) -> Vec<String> {
    let mut words = Vec::new();
    if lot.tubes.is_empty() {
        words.push("no planned tube whose blanks were counted".to_string());
    } else {
        let [low, high] = lot.promised_90.map(|x| decimal(x, 0));
        let n = counted(lot.tubes.len(), "tube");
        words.push(format!(
            "{n} cut, {} got, {} promised (90 %: {low} to {high})",
            counted(lot.got as usize, "blank"),
            decimal(lot.promised, 1)
        ));
        words.push(format!("{} of {n} within their intervals", lot.held));
    }
    words.extend(lot.factor.map(factor_words).into_iter().flatten());
    words.extend(lot.wander.map(wander_words).into_iter().flatten());
    words
}

fn factor_words(f: Estimate) -> Vec<String> {
    let each = format!(
        "{} blanks for each one promised ({} to {})",
        decimal(f.expected, 2),
        decimal(f.low, 2),
        decimal(f.high, 2)
    );
    let means = match (f.excludes(1.0), f.expected < 1.0) {
        (true, true) => "too much is promised: count on that share of it",
        (true, false) => "too little is promised",
        (false, _) => "the promise holds as far as these tell",
    };
    vec![each, means.to_string()]
}

fn wander_words(w: WanderSeen) -> Vec<String> {
    let of = format!("{} of {}", counted(w.lines, "split line"), counted(w.tubes, "tube"));
    let s = w.shift_deg;
    let [low, high] = [s.low, s.high].map(|x| decimal(x, 1));
    let shift = if s.excludes(0.0) {
        let way = if s.expected > 0.0 { "clockwise" } else { "anticlockwise" };
        format!(
            "they fall {} deg {way} of their aims on average (clockwise {low} to {high})",
            decimal(s.expected.abs(), 1)
        )
    } else {
        format!("no shift to either side that could be told (clockwise {low} to {high} deg)")
    };
    let spread = w.spread_deg;
    let mut parts = vec![of, shift];
    parts.extend(w.turn_deg.map(|t| format!("a whole tube is turned by {} deg", decimal(t, 1))));
    parts.push(format!(
        "a line spreads by {} deg ({} to {})",
        decimal(spread.expected, 1),
        decimal(spread.low, 1),
        decimal(spread.high, 1)
    ));
    parts.push(format!(
        "together a wander of {} deg, where lot.toml has wander_deg = {}",
        decimal(w.wander_deg, 1),
        decimal(w.stated_deg, 1)
    ));
    parts
}
