//! Where a line of light steps from one level to another, between its samples.

/// Spread of the smoothing, samples.
const SMOOTH: f64 = 2.0;
/// Reach of the smoothing, samples.
const REACH: usize = 6;
/// Share of the steepest slope down to which a step is followed.
const FOOT: f64 = 0.15;
/// A slope below this is rounding, linear light a sample.
const FLAT: f64 = 1e-5;
/// Share of the steepest slope that a step nearer to the wanted side needs to be taken instead.
const RIVAL: f64 = 0.45;

/// A step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Step {
    /// Its middle, samples from the first.
    pub(super) at: f64,
    /// How far the light falls, linear light.
    pub(super) fall: f64,
    /// Standard deviation of its slope about the middle, samples: how soft it is, the smoothing included.
    pub(super) soft: f64,
}

/// The step down along `line` (a rise where `falls` is false). Of several steps the last one that is nearly as steep as the
/// steepest where `last` holds, else the steepest. `None` where the line is short or no step lies clear of its ends.
pub(super) fn find(line: &[f64], falls: bool, last: bool) -> Option<Step> {
    let slope = slopes(line, falls)?;
    let steepest = slope.iter().copied().fold(0.0, f64::max);
    if steepest < FLAT {
        return None;
    }
    let is_top = |k: usize| k > 0 && k + 1 < slope.len() && slope[k] >= slope[k - 1] && slope[k] > slope[k + 1];
    let wanted = if last { RIVAL * steepest } else { steepest };
    let top = (0..slope.len()).rev().find(|&k| is_top(k) && slope[k] >= wanted)?;
    let foot = FOOT * slope[top];
    let from = (0..top).rev().find(|&k| slope[k] < foot)? + 1;
    let to = (top + 1..slope.len()).find(|&k| slope[k] < foot)?;
    let part = &slope[from..to];
    let fall: f64 = part.iter().sum();
    // what stands over the foot: else whole samples at its ends would come and go
    let over: f64 = part.iter().map(|g| g - foot).sum();
    let about =
        |f: &dyn Fn(f64) -> f64| part.iter().enumerate().map(|(k, g)| f(k as f64) * (g - foot)).sum::<f64>() / over;
    let mean = about(&|k| k);
    let spread = about(&|k| (k - mean).powi(2));
    Some(Step { at: (from + REACH) as f64 + mean, fall, soft: spread.sqrt() })
}

/// Slopes downward of the smoothed line, by the derivative of a Gaussian; the first belongs to sample [`REACH`].
fn slopes(line: &[f64], falls: bool) -> Option<Vec<f64>> {
    let offset = |j: usize| j as f64 - REACH as f64;
    let mut weights: Vec<f64> =
        (0..=2 * REACH).map(|j| offset(j) * (-0.5 * (offset(j) / SMOOTH).powi(2)).exp()).collect();
    // a ramp of slope 1 has slope 1
    let ramp: f64 = weights.iter().enumerate().map(|(j, w)| w * offset(j)).sum();
    let sign = if falls { -1.0 } else { 1.0 };
    weights.iter_mut().for_each(|w| *w *= sign / ramp);
    (line.len() > 2 * REACH + 2)
        .then(|| line.windows(2 * REACH + 1).map(|w| w.iter().zip(&weights).map(|(l, w)| l * w).sum()).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A step down at `at`, straight over `wide` samples.
    fn ramp(at: f64, wide: f64, high: f64) -> Vec<f64> {
        (0..60).map(|k| high * (0.5 - (f64::from(k) - at) / wide).clamp(0.0, 1.0)).collect()
    }

    #[test]
    fn a_step_between_samples_is_found_to_a_fiftieth() {
        for tenth in 0..10 {
            let at = 30.0 + f64::from(tenth) / 10.0;
            let step = find(&ramp(at, 4.0, 0.6), true, true).expect("a step");
            assert!((step.at - at).abs() < 0.02 && (step.fall - 0.6).abs() < 0.03, "{at}: {step:?}");
            let soft = find(&ramp(at, 14.0, 0.6), true, true).expect("a step");
            assert!((soft.at - at).abs() < 0.05 && soft.soft > 1.5 * step.soft, "{at}: {soft:?}");
        }
    }

    #[test]
    fn of_two_like_steps_the_last_is_taken_and_a_rise_is_none() {
        let two: Vec<f64> = ramp(20.0, 3.0, 0.5).iter().zip(ramp(40.0, 3.0, 0.4)).map(|(a, b)| a + b).collect();
        assert!((find(&two, true, true).expect("a step").at - 40.0).abs() < 0.1);
        assert!((find(&two, true, false).expect("a step").at - 20.0).abs() < 0.1);
        assert!(find(&two, false, true).is_none() && find(&[0.5; 60], true, true).is_none());
        assert!(find(&two[..8], true, true).is_none(), "too short");
        assert!(find(&ramp(3.0, 3.0, 0.5), true, true).is_none(), "at its very end");
    }
}
