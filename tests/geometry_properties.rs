//! What must hold for any points: answers follow rotation, shift, scale and order; optima are optimal; nothing is NaN.
//!
//! Generators lean towards trouble: coordinates snapped to a coarse grid (ties, repeated and cocircular points), part of a
//! turn, points in line, offsets far from the origin.

use approx::{abs_diff_eq, relative_eq};
use proptest::prelude::*;
use quarterlight::domain::Angle;
use quarterlight::geometry::{
    Circle, Ellipse, FitError, Noise, arc::Arc, bow, convex_hull, end_point_band, fit_circle_geometric,
    fit_circle_hyper, fit_circle_taubin, fit_diameter_harmonics, fit_ellipse_direct, fit_ellipse_geometric,
    fit_harmonics, least_squares_band, minimum_zone_band, minimum_zone_cylinder, minimum_zone_strip, reference_circles,
};
use std::f64::consts::TAU;

/// A section all round: at least one point in each eighth of a turn, departures up to a fifth of the radius.
fn section() -> impl Strategy<Value = Vec<[f64; 2]>> {
    let departures = prop::collection::vec((0.0..1.0_f64, -1.0..1.0_f64), 8..40);
    // the grid: none, 0.01 mm (a caliper), 0.5 mm (many ties)
    let grid = prop_oneof![Just(0.0), Just(0.01), Just(0.5)];
    let depth = prop_oneof![Just(0.0), Just(0.001), Just(0.02), Just(0.2)];
    (departures, 8.0..20.0_f64, depth, grid, -500.0..500.0_f64, -500.0..500.0_f64).prop_map(
        |(d, r, depth, grid, x, y)| {
            let n = d.len();
            let snap = |v: f64| if grid > 0.0 { (v / grid).round() * grid } else { v };
            let place = |(k, (turn, out)): (usize, &(f64, f64))| {
                let slot = u32::try_from(k).expect("small");
                let t = (f64::from(slot) + 0.5 * turn) * TAU / f64::from(u32::try_from(n).expect("small"));
                let radius = r * (1.0 + depth * out);
                [snap(x + radius * t.cos()), snap(y + radius * t.sin())]
            };
            d.iter().enumerate().map(place).collect()
        },
    )
}

/// Any points: snapped to a grid, repeated, in line, or hostile numbers.
fn anything() -> impl Strategy<Value = Vec<[f64; 2]>> {
    let grid = prop::collection::vec((-3..4_i32, -3..4_i32), 0..12)
        .prop_map(|v| v.into_iter().map(|(x, y)| [f64::from(x), f64::from(y)]).collect::<Vec<_>>());
    let line = (prop::collection::vec(-5..6_i32, 0..9), -1.0..1.0_f64, -1e3..1e3_f64).prop_map(|(v, slope, up)| {
        v.into_iter().map(|x| [f64::from(x), slope * f64::from(x) + up]).collect::<Vec<_>>()
    });
    let hostile = prop_oneof![
        Just(0.0),
        Just(-0.0),
        Just(1.0),
        Just(1e300),
        Just(-1e300),
        Just(1e-300),
        Just(f64::MAX),
        Just(f64::MIN_POSITIVE),
        Just(5e-324),
        Just(f64::NAN),
        Just(f64::INFINITY),
        Just(1e16),
        Just(1e16 + 2.0),
        -1.0..1.0_f64,
    ];
    let wild = prop::collection::vec([hostile.clone(), hostile], 0..10);
    let tiny = prop::collection::vec([-1e-9..1e-9_f64, -1e-9..1e-9_f64], 3..9)
        .prop_map(|v| v.into_iter().map(|[x, y]| [1e3 + x, 1e3 + y]).collect::<Vec<_>>());
    prop_oneof![grid, line, wild, tiny, section()]
}

/// Scale, turn and shift.
#[derive(Debug, Clone, Copy)]
struct Motion {
    scale: f64,
    turn: f64,
    shift: [f64; 2],
}

impl Motion {
    fn of(&self, p: [f64; 2]) -> [f64; 2] {
        let (s, c) = self.turn.sin_cos();
        [self.scale * (c * p[0] - s * p[1]) + self.shift[0], self.scale * (s * p[0] + c * p[1]) + self.shift[1]]
    }
}

fn motion() -> impl Strategy<Value = Motion> {
    (0.1..10.0_f64, 0.0..TAU, -300.0..300.0_f64, -300.0..300.0_f64).prop_map(|(scale, turn, x, y)| Motion {
        scale,
        turn,
        shift: [x, y],
    })
}

fn finite(values: &[f64]) -> bool {
    values.iter().all(|v| v.is_finite())
}

fn circle_is_finite(c: &Circle) -> bool {
    finite(&[c.centre[0], c.centre[1], c.radius]) && c.radius >= 0.0
}

fn rms(points: &[[f64; 2]], c: &Circle) -> f64 {
    (points.iter().map(|p| c.distance(*p).powi(2)).sum::<f64>() / points.len() as f64).sqrt()
}

/// Largest, smallest distance from a place.
fn spread(points: &[[f64; 2]], c: [f64; 2]) -> (f64, f64) {
    let d = points.iter().map(|p| (p[0] - c[0]).hypot(p[1] - c[1]));
    (d.clone().fold(0.0, f64::max), d.fold(f64::INFINITY, f64::min))
}

/// Rounding of coordinates up to about 1e4 mm, with room for the arithmetic.
const MM: f64 = 1e-10;

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn nothing_returns_a_nan(points in anything(), sd in prop_oneof![Just(0.02), Just(0.0), Just(f64::NAN), Just(-1.0)]) {
        for fit in [fit_circle_taubin, fit_circle_hyper] {
            if let Ok(c) = fit(&points) {
                prop_assert!(circle_is_finite(&c), "{c:?}");
            }
        }
        for noise in [Noise::Stated(sd), Noise::FromResiduals] {
            if let Ok(f) = fit_circle_geometric(&points, noise) {
                prop_assert!(circle_is_finite(&f.circle) && f.rms_residual.is_finite(), "{f:?}");
                prop_assert!(f.covariance.is_none_or(|c| finite(c.as_slice()) && c[(2, 2)] >= 0.0), "{f:?}");
            }
            if let Ok(f) = fit_ellipse_geometric(&points, noise) {
                prop_assert!(finite(&[f.ellipse.semi_major(), f.ellipse.semi_minor(), f.rms_residual]), "{f:?}");
            }
        }
        if let Ok(e) = fit_ellipse_direct(&points) {
            prop_assert!(finite(&[e.semi_major(), e.semi_minor(), e.centre()[0], e.centre()[1]]), "{e:?}");
        }
        if let Ok(all) = reference_circles(&points) {
            prop_assert!(circle_is_finite(&all.minimum_circumscribed.circle), "{all:?}");
            for c in [&all.minimum_zone, &all.maximum_inscribed].into_iter().flatten() {
                prop_assert!(circle_is_finite(&c.circle) && c.peak_to_valley() >= 0.0, "{c:?}");
            }
        }
        let bands = [end_point_band(&points), least_squares_band(&points), minimum_zone_band(&points), minimum_zone_strip(&points)];
        for b in bands.into_iter().flatten() {
            prop_assert!(!b.width.is_nan() && b.width >= 0.0, "{b:?}");
        }
        let line: Vec<[f64; 3]> = points.iter().map(|p| [p[0], p[1], p[0] - p[1]]).collect();
        if let Ok(b) = bow(&line) {
            prop_assert!(!b.height.is_nan() && !b.s_bend.is_nan(), "{b:?}");
        }
        if let Ok(c) = minimum_zone_cylinder(&line) {
            prop_assert!(!c.diameter.is_nan() && c.lower_bound <= c.diameter, "{c:?}");
        }
    }

    #[test]
    fn circle_fits_follow_every_motion_and_any_order(points in section(), m in motion(), first in 0..8_usize) {
        let Ok(fit) = fit_circle_geometric(&points, Noise::Stated(0.02)) else { return Ok(()) };
        let mut moved: Vec<[f64; 2]> = points.iter().map(|p| m.of(*p)).collect();
        moved.rotate_left(first % points.len());
        moved.reverse();
        let other = fit_circle_geometric(&moved, Noise::Stated(0.02)).expect("as before");
        let want = m.of(fit.circle.centre);
        let off = (other.circle.centre[0] - want[0]).hypot(other.circle.centre[1] - want[1]);
        prop_assert!(off < MM && abs_diff_eq!(other.circle.radius, m.scale * fit.circle.radius, epsilon = MM), "{fit:?} {other:?}");
        // the covariance turns with the points; a stated sd does not scale
        let (a, b) = (fit.covariance.expect("stated"), other.covariance.expect("stated"));
        prop_assert!(relative_eq!(a[(2, 2)], b[(2, 2)], epsilon = 0.0, max_relative = 1e-8), "{a} {b}");
        prop_assert!(relative_eq!(a.trace(), b.trace(), epsilon = 0.0, max_relative = 1e-8), "{a} {b}");
    }

    #[test]
    fn the_geometric_circle_has_the_least_rms(points in section(), dx in -0.1..0.1_f64, dy in -0.1..0.1_f64, dr in -0.1..0.1_f64) {
        let Ok(fit) = fit_circle_geometric(&points, Noise::FromResiduals) else { return Ok(()) };
        let c = fit.circle;
        let near = Circle { centre: [c.centre[0] + dx, c.centre[1] + dy], radius: c.radius + dr };
        let rivals = [fit_circle_taubin(&points), fit_circle_hyper(&points), Ok(near)];
        for rival in rivals.into_iter().flatten() {
            prop_assert!(fit.rms_residual <= rms(&points, &rival) + MM, "{fit:?} against {rival:?}");
        }
    }

    #[test]
    fn an_ellipse_fits_no_worse_than_a_circle_and_follows_every_motion(points in section(), m in motion()) {
        let (Ok(e), Ok(c)) = (fit_ellipse_geometric(&points, Noise::FromResiduals), fit_circle_geometric(&points, Noise::FromResiduals))
        else { return Ok(()) };
        prop_assert!(e.rms_residual <= c.rms_residual + MM, "{e:?} {c:?}");
        let moved: Vec<[f64; 2]> = points.iter().map(|p| m.of(*p)).collect();
        if let Ok(other) = fit_ellipse_geometric(&moved, Noise::FromResiduals) {
            // several local minima may tie within rounding; the distance reached is what must not change
            prop_assert!((other.rms_residual - m.scale * e.rms_residual).abs() < 1e-6 * (1.0 + e.rms_residual), "{e:?} {other:?}");
        }
    }

    #[test]
    fn reference_circles_stand_in_their_order(points in section()) {
        let Ok(all) = reference_circles(&points) else { return Ok(()) };
        let zone = all.minimum_zone.expect("points all round have a zone");
        let mic = all.maximum_inscribed.expect("points all round surround a place");
        let (lsc, mcc) = (&all.least_squares, &all.minimum_circumscribed);
        for other in [lsc, mcc, &mic] {
            prop_assert!(zone.peak_to_valley() <= other.peak_to_valley() + MM, "{zone:?} {other:?}");
        }
        prop_assert!(mcc.circle.radius + MM >= lsc.circle.radius && lsc.circle.radius + MM >= mic.circle.radius, "{mcc:?} {lsc:?} {mic:?}");
        prop_assert!(abs_diff_eq!(mcc.outer, mcc.circle.radius, epsilon = MM) && abs_diff_eq!(mic.inner, mic.circle.radius, epsilon = MM), "{mcc:?} {mic:?}");
        // contact patterns: two or three outside, three inside, two and two (or three and one) for the zone
        prop_assert!(mcc.touching_outer.len() >= 2 && mic.touching_inner.len() >= 3, "{mcc:?} {mic:?}");
        let (o, i) = (zone.touching_outer.len(), zone.touching_inner.len());
        prop_assert!((o >= 2 && i >= 2) || o >= 3 || i >= 3, "{zone:?}");
    }

    #[test]
    fn no_centre_beats_a_reference_circle(points in section(), turn in 0.0..TAU, far in prop_oneof![Just(1e-6), Just(1e-3), Just(0.05), 0.0..3.0_f64]) {
        let Ok(all) = reference_circles(&points) else { return Ok(()) };
        let step = [far * turn.cos(), far * turn.sin()];
        let from = |c: [f64; 2]| spread(&points, [c[0] + step[0], c[1] + step[1]]);
        let zone = all.minimum_zone.expect("points all round have a zone");
        let (outer, inner) = from(zone.circle.centre);
        prop_assert!(outer - inner + MM >= zone.peak_to_valley(), "{zone:?}: {}", outer - inner);
        prop_assert!(from(all.minimum_circumscribed.circle.centre).0 + MM >= all.minimum_circumscribed.circle.radius);
        let mic = all.maximum_inscribed.expect("points all round surround a place");
        prop_assert!(from(mic.circle.centre).1 <= mic.circle.radius + MM, "{mic:?}");
    }

    #[test]
    fn reference_circles_follow_every_motion_and_any_order(points in section(), m in motion(), first in 0..8_usize) {
        let Ok(all) = reference_circles(&points) else { return Ok(()) };
        let mut moved: Vec<[f64; 2]> = points.iter().map(|p| m.of(*p)).collect();
        moved.rotate_left(first % points.len());
        let other = reference_circles(&moved).expect("as before");
        let value = |c: Option<quarterlight::geometry::ReferenceCircle>| c.expect("all round");
        let figures = [
            (value(all.minimum_zone).peak_to_valley(), value(other.minimum_zone).peak_to_valley()),
            (value(all.maximum_inscribed).circle.radius, value(other.maximum_inscribed).circle.radius),
            (all.minimum_circumscribed.circle.radius, other.minimum_circumscribed.circle.radius),
            (all.least_squares.peak_to_valley(), other.least_squares.peak_to_valley()),
        ];
        for (k, (a, b)) in figures.into_iter().enumerate() {
            prop_assert!(abs_diff_eq!(m.scale * a, b, epsilon = 10.0 * MM), "figure {k}: {} against {b}", m.scale * a);
        }
    }

    #[test]
    fn straightness_bands_stand_in_their_order_and_no_slope_beats_the_zone(
        heights in prop::collection::vec((0..60_i32, -20..21_i32), 2..25),
        shear in -0.5..0.5_f64, far in -1e3..1e3_f64, slope in -2.0..2.0_f64,
    ) {
        let points: Vec<[f64; 2]> = heights.iter().map(|(x, y)| [5.0 * f64::from(*x), 0.05 * f64::from(*y)]).collect();
        let Ok(zone) = minimum_zone_band(&points) else {
            prop_assert!(points.iter().all(|p| (p[0] - points[0][0]).abs() < 1e-12));
            return Ok(());
        };
        for other in [end_point_band(&points), least_squares_band(&points)] {
            prop_assert!(zone.width <= other.expect("a profile").width + 1e-13, "{zone:?}");
        }
        prop_assert!(minimum_zone_strip(&points).expect("a profile").width <= zone.width + 1e-13, "{zone:?}");
        let width_at = |m: f64| {
            let d = points.iter().map(|p| p[1] - m * p[0]);
            d.clone().fold(f64::NEG_INFINITY, f64::max) - d.fold(f64::INFINITY, f64::min)
        };
        for m in [slope, zone.slope + 1e-3 * slope, zone.slope + 1e-7 * slope] {
            prop_assert!(width_at(m) + 1e-12 >= zone.width, "{zone:?}: {} at {m}", width_at(m));
        }
        // leaning and moving the profile leans and moves the band
        let leaning: Vec<[f64; 2]> = points.iter().rev().map(|p| [p[0] + far, p[1] + shear * p[0]]).collect();
        let other = minimum_zone_band(&leaning).expect("a profile");
        prop_assert!(abs_diff_eq!(other.width, zone.width, epsilon = 1e-11), "{zone:?} {other:?}");
    }

    #[test]
    fn the_narrowest_strip_follows_every_motion(points in anything(), m in motion()) {
        let Ok(strip) = minimum_zone_strip(&points) else { return Ok(()) };
        if points.iter().flatten().any(|v| v.abs() > 1e4) {
            return Ok(());
        }
        let moved: Vec<[f64; 2]> = points.iter().map(|p| m.of(*p)).collect();
        if let Ok(other) = minimum_zone_strip(&moved) {
            prop_assert!(abs_diff_eq!(other.width, m.scale * strip.width, epsilon = MM), "{strip:?} {other:?}");
        }
    }

    #[test]
    fn a_hull_and_the_hull_of_the_hull_hold_every_point(points in anything()) {
        let points: Vec<[f64; 2]> = points.into_iter().filter(|p| p.iter().all(|v| v.abs() < 1e4)).collect();
        let hull: Vec<[f64; 2]> = convex_hull(&points).into_iter().map(|i| points[i]).collect();
        let again: Vec<[f64; 2]> = convex_hull(&hull).into_iter().map(|i| hull[i]).collect();
        for corners in [&hull, &again] {
            for k in 0..corners.len() {
                let (a, b) = (corners[k], corners[(k + 1) % corners.len()]);
                for p in &points {
                    let turn = (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]);
                    prop_assert!(turn >= -1e-9, "{p:?} outside {a:?} {b:?}");
                }
            }
        }
    }

    #[test]
    fn a_bow_turns_with_its_line(
        offsets in prop::collection::vec((-2.0..2.0_f64, -2.0..2.0_f64), 3..12), turn in 0.0..TAU, shift in -100.0..100.0_f64,
    ) {
        let line: Vec<[f64; 3]> =
            offsets.iter().enumerate().map(|(k, (x, y))| [*x, *y, 20.0 * f64::from(u32::try_from(k).expect("small"))]).collect();
        let b = bow(&line).expect("a line");
        let (s, c) = turn.sin_cos();
        let turned: Vec<[f64; 3]> = line.iter().map(|p| [c * p[0] - s * p[1] + shift, s * p[0] + c * p[1] - shift, p[2] + shift]).collect();
        let other = bow(&turned).expect("a line");
        prop_assert!(abs_diff_eq!(b.height, other.height, epsilon = MM) && abs_diff_eq!(b.s_bend, other.s_bend, epsilon = 1e-6), "{b:?} {other:?}");
        if let (Some(was), Some(is)) = (b.direction, other.direction) {
            let gap = (was + Angle::from_radians(turn)).gap_to(is).radians().abs();
            // two points may tie for the largest distance within rounding; then either direction is right
            prop_assert!(gap < 1e-6 || b.at != other.at, "{was:?} {is:?}");
        }
        let back: Vec<[f64; 3]> = line.iter().rev().copied().collect();
        prop_assert!(abs_diff_eq!(bow(&back).expect("a line").height, b.height, epsilon = MM), "{b:?}");
        prop_assert!(b.s_bend <= b.height + MM && b.out_of_plane <= b.height + MM, "{b:?}");
    }

    #[test]
    fn the_thinnest_cylinder_lies_between_a_projection_and_the_bow(
        offsets in prop::collection::vec((-10..11_i32, -10..11_i32), 3..15),
    ) {
        let z = |k: usize| 15.0 * f64::from(u32::try_from(k).expect("small"));
        let line: Vec<[f64; 3]> =
            offsets.iter().enumerate().map(|(k, (x, y))| [0.1 * f64::from(*x), 0.1 * f64::from(*y), z(k)]).collect();
        let c = minimum_zone_cylinder(&line).expect("a line");
        prop_assert!(c.lower_bound <= c.diameter, "{c:?}");
        prop_assert!(c.diameter <= 2.0 * bow(&line).expect("a line").height + MM, "wider than the cylinder round the chord: {c:?}");
        for k in 0..2 {
            let flat: Vec<[f64; 2]> = line.iter().map(|p| [p[2], p[k]]).collect();
            let strip = minimum_zone_strip(&flat).expect("a profile").width;
            prop_assert!(strip <= c.diameter + MM, "thinner than its own shadow {strip}: {c:?}");
        }
        let length = line.last().expect("points")[2];
        let loose = 20.0 * (c.diameter / length).powi(2);
        prop_assert!(c.lower_bound >= c.diameter * (1.0 - loose) - MM, "bound too loose: {c:?}");
    }

    #[test]
    fn harmonics_turn_with_the_angles_and_order_does_not_matter(
        readings in prop::collection::vec(-1.0..1.0_f64, 9..20), turn in -400.0..400.0_f64,
    ) {
        let n = u32::try_from(readings.len()).expect("small");
        let angles: Vec<Angle> = (0..n).map(|k| Angle::from_degrees(360.0 * f64::from(k) / f64::from(n))).collect();
        let radii: Vec<f64> = readings.iter().map(|r| 12.5 + 0.1 * r).collect();
        let h = fit_harmonics(&angles, &radii, &[0.02], Some(3)).expect("good readings");
        let mut pairs: Vec<(Angle, f64)> = angles.iter().map(|a| *a + Angle::from_degrees(turn)).zip(radii).collect();
        pairs.reverse();
        let (turned, radii): (Vec<Angle>, Vec<f64>) = pairs.into_iter().unzip();
        let other = fit_harmonics(&turned, &radii, &[0.02], Some(3)).expect("good readings");
        prop_assert!(abs_diff_eq!(h.mean.expect("seen"), other.mean.expect("seen"), epsilon = 1e-12), "{h:?} {other:?}");
        for order in 1..=3 {
            let (a, b) = (h.order(order).expect("fitted").amplitude(), other.order(order).expect("fitted").amplitude());
            prop_assert!(abs_diff_eq!(a.expect("seen"), b.expect("seen"), epsilon = 1e-12), "{order}: {a:?} {b:?}");
        }
        let at = Angle::from_degrees(33.0);
        prop_assert!(abs_diff_eq!(h.at(at), other.at(at + Angle::from_degrees(turn)), epsilon = 1e-11), "{h:?} {other:?}");
    }

    #[test]
    fn harmonics_refuse_or_say_none_and_never_a_nan(
        degrees in prop::collection::vec(prop_oneof![(0..8_i32).prop_map(|k| 45.0 * f64::from(k)), -1e3..1e3_f64], 1..14),
        highest in prop_oneof![Just(None), (0..9_usize).prop_map(Some)],
    ) {
        let angles: Vec<Angle> = degrees.iter().map(|d| Angle::from_degrees(*d)).collect();
        let radii: Vec<f64> = degrees.iter().map(|d| 12.0 + 0.1 * (2.0 * d.to_radians()).cos()).collect();
        for fit in [fit_harmonics, fit_diameter_harmonics] {
            let h = fit(&angles, &radii, &[0.02], highest).expect("good readings");
            prop_assert!(finite(h.covariance.as_slice()) && h.rank <= angles.len(), "{h:?}");
            prop_assert!(angles.iter().all(|a| h.at(*a).is_finite()), "{h:?}");
            if highest.is_none() {
                prop_assert!(h.orders.iter().all(|o| o.amplitude().is_some()), "the chosen orders are all seen: {h:?}");
            }
        }
    }

    #[test]
    fn no_place_on_an_ellipse_is_nearer_than_the_foot(
        a in 0.1..30.0_f64, ratio in prop_oneof![Just(1.0), Just(1.0 - 1e-12), 0.01..1.0_f64],
        x in prop_oneof![Just(0.0), Just(1e-14), -40.0..40.0_f64], y in prop_oneof![Just(0.0), Just(-1e-14), -40.0..40.0_f64],
    ) {
        let e = Ellipse::new([0.0, 0.0], a, a * ratio, Angle::ZERO).expect("an ellipse");
        let ([fx, fy], d) = e.foot([x, y]);
        prop_assert!(((fx / a).hypot(fy / (a * ratio)) - 1.0).abs() < 1e-14, "foot {fx} {fy} off the ellipse");
        for k in 0..360 {
            let (s, c) = f64::from(k).to_radians().sin_cos();
            prop_assert!((a * c - x).hypot(a * ratio * s - y) >= d.abs() - 1e-13 * (a + x.abs() + y.abs()), "{k}: {d}");
        }
    }

    #[test]
    fn arcs_come_back_from_any_two_of_their_lengths(radius in 1e-3..1e6_f64, angle in prop_oneof![1e-6..1e-2_f64, 1e-2..3.1_f64]) {
        let a = Arc::from_radius_angle(radius, angle).expect("an arc");
        for back in [
            Arc::from_radius_chord(radius, a.chord()), Arc::from_radius_sagitta(radius, a.sagitta()),
            Arc::from_chord_sagitta(a.chord(), a.sagitta()),
        ] {
            let back = back.expect("an arc");
            // the chord is flat at half a turn: 3.1 rad loses a factor of 1/cos(1.55) = 48
            prop_assert!(relative_eq!(back.angle(), angle, epsilon = 0.0, max_relative = 5e-14) && relative_eq!(back.radius(), radius, epsilon = 0.0, max_relative = 1e-13), "{a:?} {back:?}");
        }
    }

    #[test]
    fn points_in_line_are_refused(n in 3..12_usize, dx in -5.0..5.0_f64, dy in -5.0..5.0_f64, x in -1e3..1e3_f64) {
        prop_assume!(dx.hypot(dy) > 0.1);
        let points: Vec<[f64; 2]> = (0..n).map(|k| f64::from(u32::try_from(k).expect("small"))).map(|t| [x + t * dx, t * dy]).collect();
        for got in [fit_circle_taubin(&points), fit_circle_hyper(&points)] {
            prop_assert_eq!(got, Err(FitError::Collinear));
        }
        prop_assert_eq!(fit_circle_geometric(&points, Noise::FromResiduals).err(), Some(FitError::Collinear));
        prop_assert_eq!(reference_circles(&points).err(), Some(FitError::Collinear));
    }
}
