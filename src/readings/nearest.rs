//! The known word nearest to a mistyped one.

/// Longer words are not compared: a slip is looked for, not a likeness of essays.
const MAX_CHARS: usize = 60;

/// The candidate that `word` is most likely a slip for: equal but for case, blanks, signs and leading zeros, or at
/// most one wrong letter in three. The first in order wins a tie.
pub fn nearest<'a>(word: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let wanted = plain(word);
    let length = |text: &str| text.chars().count();
    let comparable = |text: &str| !text.is_empty() && length(text) <= MAX_CHARS;
    if !comparable(&wanted) {
        return None;
    }
    let mut best: Option<(usize, &str)> = None;
    for candidate in candidates {
        let other = plain(candidate);
        if !comparable(&other) {
            continue;
        }
        // insertions, deletions, replacements and swaps of neighbours
        let slips = strsim::osa_distance(&wanted, &other);
        let allowed = (length(&wanted).max(length(&other)) / 3).max(1);
        if slips <= allowed && slips < length(&other) && best.is_none_or(|(b, _)| slips < b) {
            best = Some((slips, candidate));
        }
    }
    best.map(|(_, candidate)| candidate)
}

/// Lower case letters and digits only, numbers without leading zeros.
fn plain(word: &str) -> String {
    let mut out: Vec<char> = Vec::new();
    for c in word.to_lowercase().chars().filter(|c| c.is_alphanumeric()) {
        if c != '0'
            && out.last() == Some(&'0')
            && c.is_ascii_digit()
            && (out.len() < 2 || !out[out.len() - 2].is_ascii_digit())
        {
            out.pop();
        }
        out.push(c);
    }
    out.into_iter().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slips_are_recognised_and_strangers_are_not() {
        let known = ["tube", "length", "weight", "wall", "note"];
        for (word, want) in [
            ("lenght", Some("length")),
            ("Weigth", Some("weight")),
            ("tubes", Some("tube")),
            ("colour", None),
            ("", None),
        ] {
            assert_eq!(nearest(word, known), want, "{word}");
        }
        assert_eq!(nearest("t-1", ["T1", "T2"]), Some("T1"));
        assert_eq!(nearest("T01", ["T10", "T1"]), Some("T1"));
        assert_eq!(nearest("T1", ["T01"]), Some("T01"));
        assert_eq!(nearest("A", ["B"]), None);
    }
}
