//! Which readings would help a tube, in words.

use super::show::Units;
use crate::decide::packages::{Next, Package, Round, Way};
use crate::decide::tube_plan::TubePlan;
use crate::domain::counted;
use crate::domain::units::decimal;

/// What to measure next on a planned tube and what it may gain, where much is left to gain.
pub(super) fn next(plan: &TubePlan, units: Units) -> Option<String> {
    let left = decimal(plan.much_left()?, 1);
    Some(match &plan.next {
        Some(Next::Take(p)) => format!("{}; knowing it all would add {left}", sentence(p, units)),
        Some(Next::Nothing) => {
            format!(
                "knowing it all would add {left} blanks, but no readings with what is at hand are worth their minutes"
            )
        }
        None => format!("more readings could add up to {left} blanks: 'advise' says which to take next"),
    })
}

/// What would help, in one sentence.
pub(super) fn sentence(p: &Package, units: Units) -> String {
    format!(
        "measure next: {} ({} min): may gain {} of a blank",
        rounds(&p.rounds, units),
        decimal(p.minutes, 1),
        decimal(p.gain_blanks, 1)
    )
}

/// Rounds in words.
pub(super) fn rounds(rounds: &[Round], units: Units) -> String {
    rounds.iter().map(|r| round(r, units)).collect::<Vec<_>>().join("; then ")
}

fn round(r: &Round, units: Units) -> String {
    let list = |of: &[f64], say: &dyn Fn(f64) -> String| of.iter().map(|v| say(*v)).collect::<Vec<_>>().join(", ");
    let places = || format!("{} {}", list(&r.places_mm, &|z| units.length(z, 0)), units.word());
    let even = |over: f64| {
        let n = r.angles_deg.len();
        let step = over / f64::from(u32::try_from(n.max(1)).unwrap_or(1));
        let whole =
            r.angles_deg.iter().enumerate().all(|(i, a)| (a - step * crate::numeric::summary::count(i)).abs() < 1e-9);
        if whole && n > 6 {
            format!("every {} deg", decimal(step, 0))
        } else {
            format!("{} deg", list(&r.angles_deg, &|a| decimal(a, 0)))
        }
    };
    match r.way {
        Way::Caliper => format!("widths at {}, at {}", even(180.0), places()),
        Way::Dial => format!("dial at {}, at {}", even(360.0), places()),
        Way::Bridge => format!(
            "bridge of {} {} on the lines at {}, its middle at {}",
            units.length(r.span_mm.unwrap_or(0.0), 0),
            units.word(),
            even(360.0),
            places()
        ),
        Way::Straightedge => {
            format!("straightedge on the lines at {}, gap at {}", even(360.0), places())
        }
        Way::Ends => format!("{} traced or scanned", counted(r.places_mm.len(), "end")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decide::plan::plan_tube;
    use crate::decide::tube_plan::PlanOptions;
    use crate::domain::{Angle, Kind, Lot, Pace, Reading, Tube};
    use crate::tube::Model;

    #[test]
    fn a_plan_says_what_to_measure_that_nothing_pays_or_where_to_ask() {
        let width = |deg: f64| Reading::new(Kind::Diameter, 90.0, Angle::from_degrees(deg), 25.4);
        let tube =
            Tube { name: "A".into(), length_mm: 180.0, readings: vec![width(0.0), width(90.0)], ..Tube::default() };
        let options = PlanOptions { seed: 1, draws: 40 };
        let mut plan = plan_tube(&tube, &Lot::default(), &Model::default(), options).expect("measured");
        let told = |plan: &TubePlan| next(plan, Units::Mm).expect("two widths leave much to gain");
        plan.left_to_gain = Some(0.8);
        assert_eq!(told(&plan), "more readings could add up to 0.8 blanks: 'advise' says which to take next");
        plan.next = Some(Next::Nothing);
        assert!(told(&plan).starts_with("knowing it all would add 0.8 blanks, but no readings"), "{}", told(&plan));
        let pace = Pace::of(Kind::Diameter, None);
        let rounds = vec![Round::of(Way::Caliper, vec![0.0, 45.0], vec![20.0], None, pace)];
        let (readings, minutes) = (2, 1.3);
        let package = Package { rounds, readings, minutes, gain_blanks: 0.31, gain_error: 0.1 };
        plan.next = Some(Next::Take(package));
        assert_eq!(
            told(&plan),
            "measure next: widths at 0, 45 deg, at 20 mm (1.3 min): may gain 0.3 of a blank; knowing it all would add 0.8"
        );
        plan.left_to_gain = Some(0.2);
        assert_eq!(next(&plan, Units::Mm), None);
    }
}
