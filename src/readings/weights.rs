//! The weights of the tubes against the weight that was bought.

use super::book::Book;
use crate::domain::units::print_weight;
use crate::domain::{WEIGHT_TOLERANCE, counted};

/// A tube that weighs this many times the median of its lot may be a slip by itself; common practice, no source.
const ODD_TIMES: f64 = 3.0;
/// From this many times the bought weight on a wrong unit is likelier than a wrong digit (a kilogram is 2.2 pounds, the
/// nearest of the units weights come in).
const UNIT_TIMES: f64 = 2.0;

/// Notes tubes that together weigh more than was bought, with which of the two is likely wrong.
pub(super) fn check(book: &mut Book) {
    let (Some(bought), Some(place)) = (book.lot.bought_as_weighed_g(), book.bought_at.clone()) else { return };
    if book.lot.bought_humidity_percent.is_some() && book.lot.humidity_percent.is_none() {
        let fix =
            "state humidity_percent too, of the air when the tubes were weighed: until then weights stand as they are";
        let expected = "the humidity of both weighings";
        book.findings.note(place.clone(), None, "bought_humidity_percent alone", expected, fix);
    }
    let tubes: Vec<(&str, f64)> =
        book.lot.tubes.iter().filter_map(|t| t.weight_g.map(|w| (t.name.as_str(), w))).collect();
    let weight: f64 = tubes.iter().map(|t| t.1).sum();
    let most = bought * (1.0 + WEIGHT_TOLERANCE);
    if weight <= most {
        return;
    }
    // the lighter of the two in the middle of an even number; numerics are a later layer's
    let mut sorted: Vec<f64> = tubes.iter().map(|t| t.1).collect();
    sorted.sort_by(f64::total_cmp);
    let usual = sorted.get(sorted.len().saturating_sub(1) / 2).copied().unwrap_or(0.0);
    let heaviest = tubes.iter().copied().reduce(|a, b| if b.1 > a.1 { b } else { a });
    // one slip must explain it all, and that it is one shows only among three or more
    let odd = heaviest.filter(|t| tubes.len() > 2 && t.1 > ODD_TIMES * usual && weight - t.1 + usual <= most);
    let first = match odd {
        Some((name, w)) => format!(
            "likely the weight of {name} is wrong: {}, where half the tubes weigh {} or less",
            print_weight(w, book.lot.weight_unit, 1),
            print_weight(usual, book.lot.weight_unit, 1)
        ),
        None if weight >= UNIT_TIMES * bought => {
            "likely a unit is wrong: look at bought_weight first, then at the weights of the tubes".to_string()
        }
        None => "likely bought_weight is too small, or tubes of another delivery are listed".to_string(),
    };
    let found = format!(
        "{} bought, but {} of {} together",
        print_weight(bought, book.bought_unit, 1),
        counted(tubes.len(), "tube"),
        print_weight(weight, book.bought_unit, 1)
    );
    let expected = format!("tubes that weigh no more than was bought ({:.0} % is let pass)", 100.0 * WEIGHT_TOLERANCE);
    let fix = format!("{first}; where the planned tubes alone weigh more, the whole price stands on them");
    book.findings.note(place, None, found, expected, fix);
}

#[cfg(test)]
mod tests {
    use super::super::source::read_lot_files;
    use crate::domain::{Finding, Severity};

    /// The findings on the bought weight of a lot of tubes of these weights, g.
    fn noted(bought: &str, weights: &[f64]) -> Vec<Finding> {
        let toml = format!("[lot]\nname = \"w\"\nbought_weight = {bought}\n");
        let mut tubes = "tube,length_mm,weight_g\n".to_string();
        for (i, w) in weights.iter().enumerate() {
            tubes += &format!("T{i},180,{w}\n");
        }
        let files = [("lot.toml", toml.as_bytes()), ("tubes.csv", tubes.as_bytes())];
        let read = read_lot_files("w", &files).expect("a list of tubes");
        read.findings.into_iter().filter(|f| f.found.contains("bought")).collect()
    }

    #[test]
    fn tubes_heavier_than_what_was_bought_are_noted_beyond_two_percent() {
        // 3 x 34 g = 102 g on 100 g is 2 % exactly
        assert_eq!(noted("100", &[34.0; 3]), []);
        assert_eq!(noted("200", &[34.0; 3]), []);
        let [f] = &noted("100", &[34.0, 34.0, 34.1])[..] else { panic!("one note") };
        assert_eq!((f.severity, &*f.place.file, f.place.line), (Severity::Note, "lot.toml", 3));
        assert_eq!(f.place.column, "bought_weight");
        assert_eq!(f.found, "100.0 g bought, but 3 tubes of 102.1 g together");
        assert!(f.fix.starts_with("likely bought_weight is too small, or tubes of another delivery"), "{}", f.fix);
    }

    #[test]
    fn the_note_says_which_number_is_likely_wrong() {
        // 4 x 25 g bought as 100 g: one tube typed as 250 g explains it, two do not
        let one = &noted("100", &[25.0, 250.0, 25.0, 25.0])[0].fix;
        assert!(
            one.starts_with("likely the weight of T1 is wrong: 250.0 g, where half the tubes weigh 25.0 g"),
            "{one}"
        );
        let two = &noted("100", &[25.0, 250.0, 25.0, 25.0, 250.0])[0].fix;
        assert!(two.starts_with("likely a unit is wrong"), "{two}");
        // a kilogram typed as grams
        let unit = &noted("1.2", &[25.0; 4])[0].fix;
        assert!(unit.starts_with("likely a unit is wrong: look at bought_weight first"), "{unit}");
    }

    #[test]
    fn without_a_bought_weight_nothing_is_noted() {
        let files = [("tubes.csv", &b"tube,length_mm,weight_g\nA,180,4000\n"[..])];
        let read = read_lot_files("w", &files).expect("a list of tubes");
        assert!(read.findings.iter().all(|f| !f.found.contains("bought")), "{:?}", read.findings);
    }
}
