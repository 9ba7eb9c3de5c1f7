//! What a tube gives when it is split by eye.

use super::split::SplitChoice;
use super::tube_plan::TubePlan;
use crate::numeric::summary::count;

/// How far an eye misses the axes of an oval, one sd, degrees. Common practice, no source.
pub const EYE_DEG: f64 = 10.0;

/// Blanks of a tube split by the usual rule of thumb: split lines on the axes of its oval, found by eye to [`EYE_DEG`]
/// (common practice, no source). Where the readings do not see the oval, those of an arbitrary angle; 0 for a tube too short
/// for a blank; `None` of a tube that is split already.
#[must_use]
pub fn by_eye(plan: &TubePlan) -> Option<f64> {
    (!plan.as_split).then(|| plan.split.as_ref().map_or(0.0, |split| on_the_axes(plan, split)))
}

fn on_the_axes(plan: &TubePlan, split: &SplitChoice) -> f64 {
    let Some(axis) = plan.fit.figures.ovality_deg else { return split.arbitrary };
    // the curve repeats itself after the width of a piece; so does the oval where that divides half a turn, and else one of its
    // ends is taken
    let [first, second, ..] = split.by_angle[..] else { return split.arbitrary };
    let period = (second.angle_deg - first.angle_deg) * count(split.by_angle.len());
    let off = EYE_DEG.hypot(axis.sd);
    let weight = |deg: f64| -> f64 {
        let away = (deg - axis.value).rem_euclid(period);
        (-3..=3).map(|k| (-0.5 * ((away + period * f64::from(k)) / off).powi(2)).exp()).sum()
    };
    let (mut sum, mut all) = (0.0, 0.0);
    for choice in &split.by_angle {
        let w = weight(choice.angle_deg);
        sum += w * choice.expected;
        all += w;
    }
    if all > 0.0 { sum / all } else { split.arbitrary }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::decide::plan::{PlanOptions, plan_tube};
    use crate::decide::split::Choice;
    use crate::domain::{Angle, Kind, Lot, Reading, Tube};
    use crate::tube::{Measured, Model};

    #[test]
    fn an_eye_finds_the_axes_of_the_oval_to_ten_degrees() {
        let around = |z: f64| (0..6).map(move |i| (z, 30.0 * f64::from(i)));
        let readings = [30.0, 90.0, 150.0].into_iter().flat_map(around);
        let readings =
            readings.map(|(z, deg)| Reading::new(Kind::Diameter, z, Angle::from_degrees(deg), 25.4)).collect();
        let tube = Tube { name: "E".into(), length_mm: 180.0, readings, ..Tube::default() };
        let mut plan =
            plan_tube(&tube, &Lot::default(), &Model::default(), PlanOptions { seed: 1, draws: 20 }).expect("measured");
        // a curve of 5 + 2 cos 4a about a top at 20 deg: a Gaussian of 10 deg takes exp(-(4 pi / 18)^2 / 2) = 0.784 of the wave
        let split = plan.split.as_mut().expect("long enough");
        let curve = |deg: f64| 5.0 + 2.0 * (4.0 * (deg - 20.0)).to_radians().cos();
        split.by_angle = (0..90).map(f64::from).map(|deg| Choice { angle_deg: deg, expected: curve(deg) }).collect();
        split.arbitrary = 5.0;
        for (axis, want) in
            [(20.0, 5.0 + 2.0 * 0.783_8), (110.0, 5.0 + 2.0 * 0.783_8), (65.0, 5.0 - 2.0 * 0.783_8), (42.5, 5.0)]
        {
            plan.fit.figures.ovality_deg = Some(Measured { value: axis, sd: 0.0 });
            let got = by_eye(&plan).expect("not split");
            assert!((got - want).abs() < 1e-3, "{axis}: {got}");
        }
        plan.fit.figures.ovality_deg = None;
        assert!((by_eye(&plan).expect("not split") - 5.0).abs() < 1e-12);
        plan.split = None;
        assert!(by_eye(&plan).expect("not split").abs() < 1e-12);
        plan.as_split = true;
        assert_eq!(by_eye(&plan), None);
    }
}
