//! Means, quantiles and the few conversions between counts and numbers.

/// A count as a number. Exact below 2^53.
#[must_use]
#[inline]
pub fn count(n: usize) -> f64 {
    n as f64
}

/// A whole, non-negative number as an index; negative numbers and NaN become 0.
#[must_use]
#[inline]
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the callers round and clamp first; `as` saturates"
)]
pub fn to_index(x: f64) -> usize {
    x as usize
}

/// Arithmetic mean; 0 of an empty list.
#[must_use]
pub fn mean(values: &[f64]) -> f64 {
    if values.is_empty() { 0.0 } else { values.iter().sum::<f64>() / count(values.len()) }
}

/// Standard deviation of a sample (divisor n - 1); 0 below two values.
#[must_use]
pub fn sd(values: &[f64]) -> f64 {
    if values.len() < 2 {
        return 0.0;
    }
    let m = mean(values);
    (values.iter().map(|v| (v - m) * (v - m)).sum::<f64>() / count(values.len() - 1)).sqrt()
}

/// Quantile `p` of values sorted upwards, linear between order statistics (Hyndman and Fan 1996, definition 7);
/// NaN of an empty list.
#[must_use]
pub fn quantile_sorted(sorted: &[f64], p: f64) -> f64 {
    let Some(last) = sorted.len().checked_sub(1) else { return f64::NAN };
    let at = p.clamp(0.0, 1.0) * count(last);
    let low = to_index(at.floor());
    let high = (low + 1).min(last);
    sorted[low] + (at - count(low)) * (sorted[high] - sorted[low])
}

/// Quantile `p` of values in any order.
#[must_use]
pub fn quantile(values: &[f64], p: f64) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    quantile_sorted(&sorted, p)
}

/// Sds from the middle of a normal to the ends of its 90 % interval (NIST/SEMATECH e-Handbook of Statistical Methods,
/// 1.3.6.7.1).
pub const NINETY: f64 = 1.645;

/// 5 % and 95 % points: the ends of a 90 % interval; NaN of an empty list.
#[must_use]
pub fn ninety(values: &[f64]) -> (f64, f64) {
    (quantile(values, 0.05), quantile(values, 0.95))
}

/// Counts as numbers.
#[must_use]
pub fn numbers(counts: &[u16]) -> Vec<f64> {
    counts.iter().map(|&n| f64::from(n)).collect()
}

/// Median; NaN of an empty list.
#[must_use]
pub fn median(values: &[f64]) -> f64 {
    quantile(values, 0.5)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_of_a_short_list_by_hand() {
        let v = [4.0, 1.0, 3.0, 2.0];
        assert!((median(&v) - 2.5).abs() < 1e-15);
        assert!((quantile(&v, 0.0) - 1.0).abs() < 1e-15);
        assert!((quantile(&v, 1.0) - 4.0).abs() < 1e-15);
        assert!((quantile(&v, 0.1) - 1.3).abs() < 1e-12);
        assert!(median(&[]).is_nan());
    }

    #[test]
    fn sd_of_two_values_by_hand() {
        assert!((sd(&[1.0, 3.0]) - 2.0_f64.sqrt()).abs() < 1e-15);
    }
}
