//! A scanner: points of the bark, some of the bore and the sawn faces, some astray.

use super::chance::Chance;
use super::shape::TrueTube;

/// Step of the sections that are worked out; between two the nearer one stands, at most 0.25 mm away.
const STEP_MM: f64 = 0.5;

/// Points with normal noise in every coordinate, in the tube's own frame, and a point on the index line 12 mm in.
///
/// Every hundredth part: 89.5 on the bark, 6 in the bore up to 18 mm in, 4 on the sawn faces, half a part astray in a box
/// about the tube. The whole bark stands proud by an error common to the scan, sd `accuracy_mm`.
pub fn scan(
    tube: &TrueTube,
    points: u32,
    noise_mm: f64,
    accuracy_mm: f64,
    c: &mut Chance,
) -> (Vec<[f64; 3]>, [f64; 3]) {
    let l = tube.length_mm;
    let n = super::whole((l / STEP_MM).ceil());
    let rings: Vec<_> = (0..=n).map(|i| l * i as f64 / n as f64).map(|z| ((tube.ring)(z), (tube.axis)(z))).collect();
    let proud = accuracy_mm * c.normal();
    let at = |a: f64, z: f64, reach: &dyn Fn(f64, f64) -> f64| {
        let (ring, [x, y]) = &rings[super::whole((z / l * n as f64).round()).min(n)];
        let r = reach(ring(a), (tube.wall)(a, z));
        [x + r * a.cos(), y + r * a.sin(), z]
    };
    let list = (0..points)
        .map(|_| {
            let what = c.even(0.0, 1.0);
            let (a, u) = (c.direction(), c.even(0.0, 1.0));
            let far = c.is(0.5);
            let p = if what < 0.005 {
                [c.even(-60.0, 60.0), c.even(-60.0, 60.0), c.even(-40.0, l + 40.0)]
            } else if what < 0.065 {
                at(a, if far { l - 18.0 * u } else { 18.0 * u }, &|r, w| r - w - proud)
            } else if what < 0.105 {
                at(a, if far { l } else { 0.0 }, &|r, w| r - u * w)
            } else {
                at(a, l * u, &|r, _| r + proud)
            };
            [0, 1, 2].map(|i| p[i] + noise_mm * c.normal())
        })
        .collect();
    let mark = at(0.0, 12.0, &|r, _| r);
    (list, mark)
}
