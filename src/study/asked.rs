//! What is asked of a simulated lot: makes and plans by name, or from a TOML file.
//!
//! ```toml
//! [population]            # invented
//! name = "long ovals"
//! from = "smooth"         # the make it starts from
//! ovality_mm = 1.2        # any of its numbers
//! instrument = "oboe"     # the starting set they are grown for; the clarinet unless said
//!
//! [[plan.mine]]           # one table for each tool of a plan
//! tool = "dial"
//! angles = 8
//! stations = 5            # or every_mm = 17
//! sd_mm = 0.02
//! step_mm = 0.01
//! line_deg = 0.5
//! ```

use super::promise::{lot_for, rules};
use crate::domain::{Finding, Instrument, Target, counted};
use crate::known::faults::{Fault, Often};
use crate::known::instruments::Foot;
use crate::known::measuring::Tool;
use crate::known::numbers::{Named, Numbers};
use crate::known::populations::{Population, Recipe};
use crate::known::way::{OwnTake, Places, Reads, Way};
use crate::known::whole;
use crate::readings::{Plain, Setting, nearest, plain_toml};

/// Most readings of a tube.
const MOST_READINGS: f64 = 4000.0;
/// Shortest tube a plan has to fit on, mm: the shortest that a make may have.
const SHORTEST_MM: f64 = 90.0;

/// What a file asks for.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Asked {
    /// The make, where it has one.
    pub recipe: Option<Recipe>,
    /// Its plans.
    pub ways: Vec<Way>,
}

/// The one of `words` that is meant: itself, or the only one with these letters in it.
///
/// # Errors
/// What was found, what there is, and the nearest.
pub fn pick<'a>(what: &str, text: &str, words: &[&'a str]) -> Result<&'a str, String> {
    let plain = |t: &str| t.trim().to_lowercase();
    let wanted = plain(text);
    if let Some(word) = words.iter().find(|w| plain(w) == wanted) {
        return Ok(word);
    }
    let within: Vec<&&str> = words.iter().filter(|w| wanted.len() > 2 && plain(w).contains(&wanted)).collect();
    if let [only] = within[..] {
        return Ok(only);
    }
    let shown: String = text.chars().filter(|c| !c.is_control()).take(60).collect();
    let near = nearest(text, words.iter().copied()).map_or(String::new(), |n| format!("; did you mean '{n}'?"));
    Err(format!("found {what} '{shown}'; expected one of '{}'{near}", words.join("', '")))
}

/// A built-in make by its word.
///
/// # Errors
/// As of [`pick`].
pub fn population(text: &str) -> Result<Population, String> {
    let word = pick("population", text, &Population::ALL.map(|p| p.0))?;
    Population::from_word(word).ok_or_else(|| word.to_string())
}

/// A plan by its word, of these first and then of the built-in ones.
///
/// # Errors
/// As of [`pick`].
pub fn way(text: &str, own: &[Way]) -> Result<Way, String> {
    let all: Vec<Way> = own.iter().cloned().chain(Way::all()).collect();
    let words: Vec<&str> = all.iter().map(|w| w.name.as_str()).collect();
    let word = pick("plan", text, &words)?.to_string();
    all.into_iter().find(|w| w.name == word).ok_or(word)
}

/// A slip and how often, `off=2` tubes or `off=10%` of them; `off` alone is one tube.
///
/// # Errors
/// What was found and expected.
pub fn fault(text: &str) -> Result<(Fault, Often), String> {
    let (word, often) = text.split_once('=').unwrap_or((text, "1"));
    let word = pick("slip", word, &Fault::ALL.map(|f| f.0))?;
    let fault = Fault::ALL.iter().find(|f| f.0 == word).map_or(Fault::Off, |f| f.1);
    let bad = || {
        format!("found '{text}'; expected a number of tubes such as {word}=2, or a share of them such as {word}=10%")
    };
    let often = often.trim();
    if let Some(share) = often.strip_suffix('%') {
        let share: f64 = share.trim().parse().map_err(|_| bad())?;
        return if (0.0..=100.0).contains(&share) { Ok((fault, Often::Share(share / 100.0))) } else { Err(bad()) };
    }
    let n: u16 = often.parse().map_err(|_| bad())?;
    Ok((fault, Often::Tubes(usize::from(n))))
}

/// Reads a file of a make and of plans.
///
/// # Errors
/// Everything in it that cannot be used, with its line.
pub fn read(bytes: &[u8], file: &str) -> Result<Asked, Vec<Finding>> {
    let settings = plain_toml(bytes, file)?;
    let mut findings = Vec::new();
    let mut make: Vec<&Setting> = Vec::new();
    let mut takes: Vec<(&str, &str, Vec<&Setting>)> = Vec::new();
    for s in &settings {
        let path: Vec<&str> = s.path.iter().map(String::as_str).collect();
        match path[..] {
            ["population"] => make.push(s),
            ["plan", name, number] if number.parse::<usize>().is_ok() => {
                match takes.iter_mut().find(|t| (t.0, t.1) == (name, number)) {
                    Some(t) => t.2.push(s),
                    None => takes.push((name, number, vec![s])),
                }
            }
            ["plan", ..] => {
                findings.push(s.error("a list of tools, each under [[plan.NAME]]", "write two brackets on either side"))
            }
            _ => findings.push(s.error("[population] or [[plan.NAME]] before it", "only these are read")),
        }
    }
    let recipe = (!make.is_empty()).then(|| recipe(&make, &mut findings));
    let mut ways: Vec<Way> = Vec::new();
    for (name, _, facts) in &takes {
        let plain = !name.trim().is_empty() && name.chars().count() <= 40 && !name.chars().any(char::is_control);
        if !plain {
            findings.push(facts[0].error("a name of 1 to 40 characters for the plan", "write [[plan.NAME]]"));
        }
        let take = own_take(facts, &mut findings);
        match ways.iter_mut().find(|w| w.name == *name) {
            Some(Way { reads: Reads::Own(own), .. }) => own.extend(take),
            _ => ways.push(Way { name: (*name).to_string(), reads: Reads::Own(take.into_iter().collect()) }),
        }
    }
    if settings.is_empty() {
        let place = crate::domain::Place { file: file.into(), ..Default::default() };
        let empty = Setting { path: Vec::new(), key: String::new(), value: Plain::Other("nothing".into()), place };
        findings.push(empty.error("[population] or [[plan.NAME]]", "name a make to start from: from = \"smooth\""));
    }
    findings.sort_by(|a, b| a.place.cmp(&b.place));
    if findings.is_empty() { Ok(Asked { recipe: recipe.flatten(), ways }) } else { Err(findings) }
}

fn recipe(settings: &[&Setting], findings: &mut Vec<Finding>) -> Option<Recipe> {
    let before = findings.len();
    let word = settings.iter().find(|s| s.key == "from");
    let from = match word.map(|s| (s, &s.value)) {
        Some((s, Plain::Text(text))) => {
            population(text).map_err(|e| findings.push(s.error("a built-in make", &e))).ok()
        }
        Some((s, _)) => {
            findings.push(s.error("a built-in make", "write its word in quotes: from = \"smooth\""));
            None
        }
        None => {
            let mut whole = settings[0].clone();
            whole.value = Plain::Other("no key 'from'".into());
            let words = Population::ALL.map(|p| p.0).join("', '");
            findings.push(whole.error("from = \"MAKE\" under [population]", &format!("the makes are '{words}'")));
            None
        }
    };
    let mut out = Recipe::of(from.unwrap_or(Population::Smooth));
    for s in settings.iter().filter(|s| s.key != "from") {
        if s.key == "instrument" {
            match &s.value {
                Plain::Text(t) if Target::for_instrument(t).is_some() => {
                    out.instrument = Target::for_instrument(t).map(|t| t.instrument);
                    out.rules = Some(rules(&lot_for(&out)));
                }
                _ => {
                    findings.push(s.error(&format!("one of {}", Instrument::names().join(", ")), "name a starting set"))
                }
            }
            continue;
        }
        if s.key == "name" {
            match &s.value {
                Plain::Text(t)
                    if !t.trim().is_empty() && t.chars().count() <= 60 && !t.chars().any(char::is_control) =>
                {
                    out.name.clone_from(t);
                }
                _ => findings.push(s.error("a name of 1 to 60 characters in quotes", "")),
            }
            continue;
        }
        let Some(named) = Numbers::NAMED.iter().find(|n| n.name == s.key) else {
            findings.push(unknown(s, Numbers::NAMED.iter().map(|n| n.name).chain(["instrument"])));
            continue;
        };
        let Named { what, least, most, .. } = named;
        if let Some(x) = number(s, (*least, *most), what, findings) {
            *(named.place)(&mut out.numbers) = x;
        }
    }
    for (low, high) in out.numbers.crossed() {
        if let Some(s) = settings.iter().find(|s| s.key == low || s.key == high) {
            findings.push(s.error(&format!("{low} no more than {high}"), "change one of the two"));
        }
    }
    (findings.len() == before).then_some(out)
}

fn unknown<'a>(s: &Setting, known: impl Iterator<Item = &'a str> + Clone) -> Finding {
    let near = nearest(&s.key, known.clone());
    let all: Vec<&str> = known.collect();
    let mut shown = s.clone();
    shown.value = Plain::Other(format!("key '{}'", s.place.column));
    let fix = near.map_or_else(|| format!("known are {}", all.join(", ")), |n| format!("did you mean {n}?"));
    shown.error("a key that is known", &fix)
}

fn number(s: &Setting, (least, most): (f64, f64), what: &str, findings: &mut Vec<Finding>) -> Option<f64> {
    match s.value {
        Plain::Number(x) if x.is_finite() && (least..=most).contains(&x) => Some(x),
        _ => {
            findings.push(s.error(&format!("a number from {least} to {most}"), what));
            None
        }
    }
}

/// The tools of a plan, each with its word and what it needs beside the rest.
const TOOLS: [&str; 11] = [
    "caliper",
    "axis",
    "dial",
    "vblock",
    "straightedge",
    "blocks",
    "bridge",
    "wallgauge",
    "radiusgauge",
    "tracer",
    "fibre",
];

/// The facts of a tool in a plan: key, what it is, least, most.
const FACTS: [(&str, &str, f64, f64); 14] = [
    ("angles", "a whole number of angles round, of a caliper directions half round", 1.0, 72.0),
    ("stations", "a whole number of places along", 1.0, 200.0),
    ("every_mm", "distance of the places", 2.0, 500.0),
    ("inset_mm", "distance of the outermost places from the ends", 0.0, 40.0),
    ("sd_mm", "noise of one reading", 0.0, 1.0),
    ("sd_deg", "noise of a followed fibre", 0.0, 20.0),
    ("step_mm", "the step it shows; 0: none", 0.0, 1.0),
    ("zero_mm", "sd of its zero over lots", 0.0, 1.0),
    ("line_deg", "sd of where a line lies", 0.0, 20.0),
    ("setting_deg", "sd of how a tube lies at a station", 0.0, 20.0),
    ("jaw_mm", "width of a caliper's jaws along the tube", 0.0, 20.0),
    ("vee_deg", "included angle of the V-block", 60.0, 150.0),
    ("span_mm", "distance between the feet of the bar", 10.0, 80.0),
    ("width_mm", "width that a radius gauge fits over", 3.0, 20.0),
];

fn own_take(facts: &[&Setting], findings: &mut Vec<Finding>) -> Option<OwnTake> {
    let before = findings.len();
    let mut seen: Vec<(&str, f64, &Setting)> = Vec::new();
    let mut word = None;
    for s in facts.iter().filter(|s| !s.key.is_empty()) {
        if s.key == "tool" {
            match &s.value {
                Plain::Text(t) => match pick("tool", t, &TOOLS) {
                    Ok(w) => word = Some(w),
                    Err(e) => findings.push(s.error("a tool", &e)),
                },
                _ => findings.push(s.error("a tool", "write its word in quotes: tool = \"dial\"")),
            }
            continue;
        }
        match FACTS.iter().find(|f| f.0 == s.key) {
            Some((key, what, least, most)) => {
                if let Some(x) = number(s, (*least, *most), what, findings) {
                    if matches!(*key, "angles" | "stations") && x.fract() != 0.0 {
                        findings.push(s.error("a whole number", what));
                    }
                    seen.push((key, x, s));
                }
            }
            None => findings.push(unknown(s, FACTS.iter().map(|f| f.0).chain(["tool"]))),
        }
    }
    if findings.len() > before {
        return None;
    }
    let of = |key: &str| seen.iter().find(|f| f.0 == key).map(|f| f.1);
    let missing = |what: &str, fix: &str| {
        let mut s = facts[0].clone();
        s.place.column = String::new();
        s.value = Plain::Other(format!("no {what}"));
        s.error(&format!("{what} of this tool"), fix)
    };
    let Some(word) = word else {
        findings.push(missing("tool", &format!("tools are {}", TOOLS.join(", "))));
        return None;
    };
    let tool = match word {
        "caliper" => Tool::Caliper(of("jaw_mm").unwrap_or(0.0)),
        "axis" => Tool::Axis(Foot::Height),
        "dial" => Tool::Dial(Foot::Height),
        "vblock" => Tool::Vee(of("vee_deg").unwrap_or(90.0)),
        "straightedge" => Tool::Resting,
        "blocks" => Tool::Lifted,
        "bridge" => Tool::Bridge(of("span_mm").unwrap_or(70.0)),
        "wallgauge" => Tool::Wall,
        "radiusgauge" => Tool::Arc(of("width_mm").unwrap_or(13.0)),
        "tracer" => Tool::Traced,
        _ => Tool::Fibre,
    };
    // what belongs to other tools
    let others = [
        ("jaw_mm", "caliper"),
        ("vee_deg", "vblock"),
        ("span_mm", "bridge"),
        ("width_mm", "radiusgauge"),
        ("sd_deg", "fibre"),
    ];
    for (key, _, s) in &seen {
        if let Some((_, of)) = others.iter().find(|o| o.0 == *key && o.1 != word) {
            findings.push(s.error(&format!("{key} with a {of} only"), "leave it out"));
        }
        if (tool == Tool::Traced && ["stations", "every_mm", "inset_mm"].contains(key))
            || (tool == Tool::Fibre && ["sd_mm", "step_mm", "zero_mm"].contains(key))
        {
            findings.push(s.error(&format!("no {key} with a {word}"), "leave it out"));
        }
    }
    let Some(angles) = of("angles") else {
        findings.push(missing("angles", "write angles = 8"));
        return None;
    };
    let places = match (of("stations"), of("every_mm")) {
        _ if tool == Tool::Traced => Places::Count(2),
        (Some(n), None) => Places::Count(whole(n)),
        (None, Some(step)) => Places::Every(step),
        (Some(_), Some(_)) => {
            findings.push(missing("single way to say the places", "write either stations or every_mm"));
            return None;
        }
        (None, None) => {
            findings.push(missing("stations", "write stations = 5, or every_mm = 17"));
            return None;
        }
    };
    let along = match places {
        Places::Count(n) => n as f64,
        Places::Every(step) => 1000.0 / step,
    };
    if angles * along > MOST_READINGS {
        findings
            .push(missing(&format!("plan below {} on a tube", counted(4000_usize, "reading")), "read at fewer places"));
    }
    let inset = of("inset_mm").unwrap_or(10.0);
    let inset_mm =
        if let Tool::Bridge(span) = tool { inset.max(span / 2.0 + 1.0).min(SHORTEST_MM / 2.0) } else { inset };
    (findings.len() == before).then(|| OwnTake {
        tool,
        sd: of("sd_mm").or(of("sd_deg")).unwrap_or(0.0),
        step: of("step_mm").unwrap_or(0.0),
        bias: of("zero_mm"),
        line_deg: of("line_deg"),
        setting_deg: of("setting_deg"),
        angles: u32::try_from(whole(angles)).unwrap_or(1),
        places,
        inset_mm,
    })
}
