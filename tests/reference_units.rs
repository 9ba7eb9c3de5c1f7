//! Published values for units; the source of each file stands beside it in `tests/reference/`.

use quarterlight::domain::units::{DecimalMark, InchStep, LengthUnit, parse_length, print_inch_fraction};

fn mm(text: &str) -> f64 {
    parse_length(text, LengthUnit::Millimetre, DecimalMark::Point).unwrap_or_else(|e| panic!("'{text}': {e:?}"))
}

#[test]
fn all_64_inch_fractions_are_exact_in_every_spelling() {
    let table = include_str!("reference/inch_fractions.csv");
    let mut rows = 0;
    for row in table.lines().skip(1) {
        let cells: Vec<&str> = row.split(',').collect();
        let [fraction, decimal, millimetres] = cells.as_slice() else { panic!("bad row '{row}'") };
        // the tabulated decimals are exact, and so is reading them: no tolerance
        let want: f64 = millimetres.parse().expect("number in table");
        for text in [format!("{fraction} in"), format!("{fraction}\""), format!("{decimal} in"), format!("{decimal}''")]
        {
            let got = mm(&text);
            assert!(got.to_bits() == want.to_bits(), "'{text}': {got} mm, table says {want}");
        }
        if *fraction != "1" {
            let whole = mm(&format!("1-{fraction} in"));
            assert!((whole - (25.4 + want)).abs() < 1e-12, "1-{fraction}: {whole}");
            assert_eq!(print_inch_fraction(want, InchStep::SixtyFourth), format!("{fraction} in"));
        }
        rows += 1;
    }
    assert_eq!(rows, 64);
    assert!(mm("1-1/64\"").to_bits() == 25.796_875_f64.to_bits());
}
