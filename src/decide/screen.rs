//! Which tubes are worth splitting, with the reason in words.

use super::tube_plan::TubePlan;
use crate::domain::units::decimal;
use crate::domain::{Phrase, ScreenRule, Target};

pub use super::verdict::{Screened, Verdict};

/// A limit is named in a reason when it rules out at least this share of all windows.
const NAMED_SHARE: f64 = 0.15;
/// Good stretches count as lying only in some thirds when the other thirds hold less than this share of them.
const ELSEWHERE_SHARE: f64 = 0.08;

/// What a chance has to reach, or stay under from 1, before a tube that is unlike its lot gets a firm verdict. The model
/// did not foresee such a tube, so its chances are held to the ends of the 90 % interval of its blanks.
const SURE: f64 = 0.95;

/// Judges one tube by its expected blanks and its chance of reaching the rule's least number.
///
/// A tube whose doubt was widened is doubtful unless the chance is beyond 95 % or 5 %, whatever the rule.
#[must_use]
pub fn screen(plan: &TubePlan, target: &Target, rule: &ScreenRule) -> Screened {
    let chance = plan.chance_of(rule.least_blanks);
    let by_rule = by_rule(plan, chance, rule);
    let open = plan.fit.widened.filter(|_| plan.split.is_some() && (1.0 - SURE..SURE).contains(&chance));
    let reason = reason(plan, target, chance);
    match open {
        Some(widened) if by_rule != Verdict::Doubtful => {
            let what = if by_rule == Verdict::Split { "split" } else { "leave" };
            let why = format!("{}, so {:.0} % is not sure enough to {what} it; ", widened.words(), 100.0 * chance);
            Screened { verdict: Verdict::Doubtful, chance, reason: Phrase::new(why).then(reason) }
        }
        _ => Screened { verdict: by_rule, chance, reason },
    }
}

fn by_rule(plan: &TubePlan, chance: f64, rule: &ScreenRule) -> Verdict {
    if plan.split.is_none() || chance <= rule.leave_chance {
        Verdict::Leave
    } else if chance >= rule.split_chance {
        Verdict::Split
    } else {
        Verdict::Doubtful
    }
}

fn reason(plan: &TubePlan, target: &Target, chance: f64) -> Phrase {
    if plan.split.is_none() {
        return Phrase::new("too short: ")
            .length(plan.fit.length_mm, 0)
            .words(" leaves no room for a blank between the trims");
    }
    let mut limits: Vec<(&str, f64)> = plan.limits.broken.iter().copied().filter(|l| l.1 >= NAMED_SHARE).collect();
    limits.sort_by(|a, b| b.1.total_cmp(&a.1));
    let mut parts: Vec<Phrase> = Vec::new();
    for (word, _) in limits.iter().take(3) {
        let part = explain(word, plan, target);
        // one cause can break several limits: say it once, in its longer form
        let new = part.to_string();
        if let Some(said) = parts.iter_mut().find(|p| p.begins(&new) || part.begins(&p.to_string())) {
            if new.len() > said.to_string().len() {
                *said = part;
            }
        } else {
            parts.push(part);
        }
    }
    if let Some(place) = only_where(plan.limits.passing_by_third) {
        parts.push(Phrase::new(place));
    }
    let unseen = unseen(plan);
    if parts.is_empty() {
        parts.push(Phrase::new(if unseen.is_none() { "good nearly everywhere" } else { "good as far as is seen" }));
    }
    // where the verdict could still turn, what nobody saw decides: it comes first
    let at = if (1.0 - SURE..SURE).contains(&chance) { 0 } else { parts.len() };
    parts.splice(at..at, unseen);
    let mut parts = parts.into_iter();
    let first = parts.next().unwrap_or_default();
    parts.fold(first, |all, part| all.words("; ").then(part))
}

/// What the readings do not see of the outside.
fn unseen(plan: &TubePlan) -> Option<Phrase> {
    let f = &plan.fit.figures;
    let all = [("size", f.diameter_mm.is_none()), ("ovality", f.ovality_mm.is_none()), ("bow", f.bow_mm.is_none())];
    let words: Vec<&str> = all.into_iter().filter(|u| u.1).map(|u| u.0).collect();
    let (last, others) = words.split_last()?;
    let list = if others.is_empty() { (*last).to_string() } else { format!("{} and {last}", others.join(", ")) };
    Some(Phrase::new(format!("{list} not seen by these readings")))
}

fn explain(limit: &str, plan: &TubePlan, target: &Target) -> Phrase {
    let f = &plan.fit.figures;
    match limit {
        "hollow" | "rock" => match (f.bow_mm, f.bow_deg) {
            (Some(bow), Some(toward)) if bow.value > 2.0 * bow.sd => {
                Phrase::new("bow ").length(bow.value, 1).words(format!(" toward {} deg", decimal(toward.value, 0)))
            }
            _ => Phrase::new("not flat along"),
        },
        "small" | "large" => match (f.diameter_mm, f.ovality_mm) {
            (Some(d), _) if (d.value - target.arc_diameter_mm).abs() > 0.5 * target.arc_tolerance_mm => {
                let side = if d.value < target.arc_diameter_mm { "small" } else { "large" };
                Phrase::new(format!("{side}: diameter ")).length(d.value, 1)
            }
            (_, Some(o)) => Phrase::new("ovality ").length(o.value, 1),
            _ => Phrase::new(format!("back too {limit}")),
        },
        "skew" => match f.ovality_mm {
            Some(o) => Phrase::new("ovality ").length(o.value, 1).words(" (rails unlike)"),
            None => Phrase::new("rails unlike"),
        },
        "wall" => match f.wall_mm {
            Some(w) => {
                let needed = target.blank_thickness_mm + target.clean_up_mm;
                Phrase::new("wall ").length(w.value, 1).words(", needed ").length(needed, 1)
            }
            None => Phrase::new("thin wall"),
        },
        "mark" => Phrase::new("marks in the way"),
        other => Phrase::new(other),
    }
}

/// Names the thirds that hold nearly all good windows, when they are not all three.
fn only_where(thirds: [f64; 3]) -> Option<String> {
    let total: f64 = thirds.iter().sum();
    if total <= 0.0 {
        return Some("no stretch passes".to_string());
    }
    let names = ["index third", "middle third", "far third"];
    let held: Vec<&str> = (0..3).filter(|&i| thirds[i] >= ELSEWHERE_SHARE * total).map(|i| names[i]).collect();
    (held.len() < 3).then(|| format!("{} only", held.join(" and ")))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decide::plan::{PlanOptions, plan_tube};
    use crate::domain::{Angle, Kind, Lot, Reading, Tube};
    use crate::tube::{Model, Widened};

    /// The plan of a round tube; of 100 draws so many reach the rule's three blanks.
    fn reaching(three: usize, widened: Option<Widened>) -> TubePlan {
        let around = |z: f64| (0..6).map(move |i| (z, 30.0 * f64::from(i)));
        let readings = [30.0, 90.0, 150.0].into_iter().flat_map(around);
        let readings =
            readings.map(|(z, deg)| Reading::new(Kind::Diameter, z, Angle::from_degrees(deg), 25.4)).collect();
        let tube = Tube { name: "R".into(), length_mm: 180.0, readings, ..Tube::default() };
        let options = PlanOptions { seed: 1, draws: 20 };
        let mut plan = plan_tube(&tube, &Lot::default(), &Model::default(), options).expect("measured");
        plan.split.as_mut().expect("long enough").draws = (0..100).map(|k| if k < three { 3 } else { 2 }).collect();
        plan.fit.widened = widened;
        plan
    }

    #[test]
    fn a_tube_unlike_its_lot_is_doubtful_unless_its_chance_is_all_but_sure() {
        let unlike = Some(Widened { times: 3.0, doubted_before: 20 });
        let judged = |three, widened| screen(&reaching(three, widened), &Target::default(), &ScreenRule::default());
        // the rule splits from 75 % on and leaves at 25 % or less
        for (three, usual, when_unlike) in [
            (100, Verdict::Split, Verdict::Split),
            (96, Verdict::Split, Verdict::Split),
            (80, Verdict::Split, Verdict::Doubtful),
            (50, Verdict::Doubtful, Verdict::Doubtful),
            (20, Verdict::Leave, Verdict::Doubtful),
            (4, Verdict::Leave, Verdict::Leave),
        ] {
            assert_eq!(judged(three, None).verdict, usual, "{three}");
            let said = judged(three, unlike);
            assert_eq!(said.verdict, when_unlike, "{three}");
            assert_eq!(said.reason.begins("these readings do not agree"), usual != when_unlike, "{three}");
        }
        let why = |three| judged(three, unlike).reason.to_string();
        let head = "these readings do not agree with a tube this smooth: doubt widened 3 times, so";
        assert!(why(80).starts_with(&format!("{head} 80 % is not sure enough to split it; ")), "{}", why(80));
        assert!(why(20).starts_with(&format!("{head} 20 % is not sure enough to leave it; ")), "{}", why(20));
    }

    #[test]
    fn a_draw_of_just_the_least_number_reaches_it() {
        let mut plan = reaching(0, None);
        let rule = |least_blanks: f64| ScreenRule { least_blanks, ..ScreenRule::default() };
        let judged = |plan: &TubePlan, least: f64| screen(plan, &Target::default(), &rule(least));
        // ten draws of exactly three blanks
        plan.split.as_mut().expect("long enough").draws = vec![3; 10];
        for (least, chance, verdict) in [
            (2.0, 1.0, Verdict::Split),
            (3.0, 1.0, Verdict::Split),
            (3.5, 0.0, Verdict::Leave),
            (4.0, 0.0, Verdict::Leave),
        ] {
            let said = judged(&plan, least);
            assert_eq!((said.chance, said.verdict), (chance, verdict), "least {least}");
        }
        // 6 of 10 have three or more, 2 of 10 four
        plan.split.as_mut().expect("long enough").draws = vec![0, 1, 2, 2, 3, 3, 3, 3, 4, 4];
        for (least, chance) in [(0.0, 1.0), (2.0, 0.8), (3.0, 0.6), (4.0, 0.2), (5.0, 0.0)] {
            assert!((judged(&plan, least).chance - chance).abs() < 1e-12, "least {least}");
        }
    }

    #[test]
    fn the_place_of_good_stretches_is_named_only_when_it_is_special() {
        assert_eq!(only_where([0.1, 0.1, 0.1]), None);
        assert_eq!(only_where([0.0, 0.001, 0.1]).as_deref(), Some("far third only"));
        assert_eq!(only_where([0.0; 3]).as_deref(), Some("no stretch passes"));
    }
}
