//! Reads a binary greyscale picture as pdftoppm writes it.

/// Width, height and one byte per pixel, row by row from the top.
pub fn read(bytes: &[u8]) -> (usize, usize, &[u8]) {
    let mut at = 0;
    let mut word = || {
        while bytes[at].is_ascii_whitespace() {
            at += 1;
        }
        let start = at;
        while !bytes[at].is_ascii_whitespace() {
            at += 1;
        }
        String::from_utf8(bytes[start..at].to_vec()).unwrap()
    };
    assert_eq!(word(), "P5");
    let (width, height) = (word().parse().unwrap(), word().parse().unwrap());
    assert_eq!(word(), "255");
    (width, height, &bytes[at + 1..])
}
