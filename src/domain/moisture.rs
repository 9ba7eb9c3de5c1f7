//! What humid air does to the weight of cane.

/// Air of a workshop, taken where moisture is asked for, C: ten degrees change it by 0.3 of a percent.
const WORKSHOP_C: f64 = 20.0;
/// Relative humidity, percent, above which cane that was never washed takes up more than wood does.
pub const WETTER_ABOVE_PERCENT: f64 = 75.0;

/// Moisture that wood comes to in air of this temperature and relative humidity, percent of its dry weight.
///
/// The equation of equilibrium moisture content of the Wood Handbook (USDA Forest Products Laboratory, FPL-GTR-190, 2010,
/// chapter 4), coefficients from memory; three of its published values are tests. It keeps within 0.9 of the handbook's
/// table. Cane is taken to be close to wood; above [`WETTER_ABOVE_PERCENT`] what is said is a lower bound for cane that was
/// never washed (H. Akahoshi, E. Obataya, 2015, abstract: its extractives take up water there).
///
/// # Example
/// ```
/// let wet = quarterlight::domain::moisture_percent(20.0, 50.0);
/// assert!((wet - 9.3).abs() < 0.1);
/// ```
#[must_use]
pub fn moisture_percent(celsius: f64, humidity_percent: f64) -> f64 {
    let (t, h) = (celsius, humidity_percent / 100.0);
    let polynomial = |c: [f64; 3]| c[0] + t * (c[1] + t * c[2]);
    let w = polynomial([349.0, 1.29, 0.0135]);
    let kh = h * polynomial([0.805, 0.000_736, -0.000_002_73]);
    let k1 = polynomial([6.27, -0.009_38, -0.000_303]);
    let k2 = polynomial([1.91, 0.0407, -0.000_293]);
    let (one, two) = (k1 * kh, k1 * k2 * kh * kh);
    1800.0 / w * (kh / (1.0 - kh) + (one + 2.0 * two) / (1.0 + one + two))
}

/// By how much the weight of cane changes between two relative humidities, percent, of a workshop at 20 C, once it has
/// come to rest in each: the weight at the second over that at the first.
#[must_use]
pub fn weight_ratio(from_percent: f64, to_percent: f64) -> f64 {
    let dry = |humidity: f64| 1.0 + moisture_percent(WORKSHOP_C, humidity) / 100.0;
    dry(to_percent) / dry(from_percent)
}

/// A weight brought from one relative humidity to another, in its own unit; as it is where one of them is not known.
#[must_use]
pub fn weight_at(weight: f64, from_percent: Option<f64>, to_percent: Option<f64>) -> f64 {
    weight * from_percent.zip(to_percent).map_or(1.0, |(from, to)| weight_ratio(from, to))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_three_published_values_of_the_equation() {
        // Wood Handbook's worked values: 70 F at 25, 60 and 84 % give 5.3, 11.1 and 17.6; from memory
        let seventy = (70.0 - 32.0) / 1.8;
        for (humidity, published) in [(25.0, 5.3), (60.0, 11.1), (84.0, 17.6)] {
            let got = moisture_percent(seventy, humidity);
            assert!((got - published).abs() < 0.15, "{humidity}: {got}");
        }
        // 140 F at 55 %: 8.4 by the equation, 8.0 in the table
        assert!((moisture_percent(60.0, 55.0) - 8.4).abs() < 0.05);
        assert!(moisture_percent(20.0, 0.0).abs() < 1e-12);
        assert!(moisture_percent(20.0, 100.0).is_finite());
    }

    #[test]
    fn weights_between_two_humidities() {
        // from 30 to 65 %, 6.2 to 12.0 of the dry weight: 112.0 / 106.2
        assert!((weight_ratio(30.0, 65.0) - 1.055).abs() < 0.001, "{}", weight_ratio(30.0, 65.0));
        assert!((weight_ratio(48.0, 48.0) - 1.0).abs() < 1e-15);
        assert!((weight_ratio(30.0, 65.0) * weight_ratio(65.0, 30.0) - 1.0).abs() < 1e-12);
    }
}
