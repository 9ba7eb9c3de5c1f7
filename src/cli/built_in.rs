//! The lot built into the binary: an invented scenario, the same files as `data-samples/demo`.

use super::diagnostics::Failure;
use quarterlight::domain::{Lot, Tube};
use quarterlight::readings::{LotRead, read_lot_files};
use std::sync::OnceLock;

/// Said before the result of `demo`.
pub const WORDS: &str = "Built-in lot: an invented scenario; its tubes were made by a simulator, faults included.\n";

/// Where more is to be had, said after the result of `demo`.
pub const NEXT: &str = "\
More: 'demo --tube T02' tells all of one tube, 'demo --detail' of every tube. Your own: 'new DIR'\n\
makes the forms; 'check', 'split', 'screen', 'forecast', 'batch', 'advise', 'report' work on them.\n";

/// Said on paper that comes from it.
pub const ORIGIN: &str = "an invented lot, made by a simulator";

const FILES: [(&str, &[u8]); 5] = [
    ("lot.toml", include_bytes!("../../data-samples/demo/lot.toml")),
    ("tubes.csv", include_bytes!("../../data-samples/demo/tubes.csv")),
    ("readings-dial.csv", include_bytes!("../../data-samples/demo/readings-dial.csv")),
    ("readings-caliper.csv", include_bytes!("../../data-samples/demo/readings-caliper.csv")),
    ("marks.csv", include_bytes!("../../data-samples/demo/marks.csv")),
];

/// Reads the built-in lot.
pub fn lot() -> Result<LotRead, Failure> {
    Ok(read_lot_files("demo", &FILES)?)
}

/// True when every tube of `lot` is one of the built-in lot, with the same readings, and there is at least one: a copy of it, or
/// some of its tubes. Tubes that nobody read are like any of that name.
pub fn holds(lot: &Lot) -> bool {
    // a page asks again and again
    static OWN: OnceLock<Option<Lot>> = OnceLock::new();
    let Some(own) = OWN.get_or_init(|| read_lot_files("demo", &FILES).ok().map(|r| r.lot)) else { return false };
    let same = |a: &Tube, b: &Tube| {
        let read = |t: &Tube| -> Vec<_> { t.readings.iter().map(|r| (r.kind, r.z_mm, r.angle, r.value_mm)).collect() };
        a.name == b.name && read(a) == read(b)
    };
    let is_read = lot.tubes.iter().any(|t| !t.readings.is_empty());
    is_read && lot.tubes.iter().all(|t| own.tubes.iter().any(|own| same(own, t)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tube_without_readings_is_no_tube_of_the_built_in_lot() {
        let own = lot().expect("it reads").lot;
        assert!(holds(&own));
        let only = |keep: fn(&Tube) -> bool| Lot {
            tubes: own.tubes.iter().filter(|t| keep(t)).cloned().collect(),
            ..own.clone()
        };
        assert!(holds(&only(|t| t.name == "T01")));
        let unread = only(|t| t.readings.is_empty());
        assert!(!unread.tubes.is_empty() && !holds(&unread));
    }
}
