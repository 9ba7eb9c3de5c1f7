//! What the files of a picture are called after.

/// Longest name, characters.
const LONGEST: usize = 80;

/// A picture's own name without its folder and ending, in letters every system takes, cut to 80 of them. Two pictures of one
/// such name would be written into the same files.
#[must_use]
pub fn picture_stem(name: &str) -> String {
    let own = name.rsplit(['/', '\\']).next().unwrap_or("");
    let own = own.rsplit_once('.').map_or(own, |(stem, _)| stem);
    let plain: String =
        own.chars().map(|c| if c.is_alphanumeric() || "-_".contains(c) { c } else { '-' }).take(LONGEST).collect();
    if plain.trim_matches('-').is_empty() { "picture".into() } else { plain }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_name_of_a_picture_leaves_the_folder() {
        for (name, want) in [
            ("scan 1.png", "scan-1"),
            ("../../etc/passwd", "passwd"),
            ("..\\..\\x.tif", "x"),
            ("...", "picture"),
            ("", "picture"),
            ("ends\0.png", "ends-"),
        ] {
            assert_eq!(picture_stem(name), want, "{name:?}");
        }
        assert_eq!(picture_stem(&format!("{}.png", "a".repeat(90))).len(), LONGEST);
    }
}
