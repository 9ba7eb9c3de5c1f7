//! The limits a window can break, as bits of one byte.

/// Light under the middle of the gauge stick.
pub const HOLLOW: u8 = 1;
/// The gauge stick rocks.
pub const ROCK: u8 = 2;
/// Arc diameter below the band.
pub const SMALL: u8 = 4;
/// Arc diameter above the band.
pub const LARGE: u8 = 8;
/// The two rails curve differently.
pub const SKEW: u8 = 16;
/// The wall is too thin.
pub const WALL: u8 = 32;
/// A mark is touched.
pub const MARK: u8 = 64;
/// The fibre drifts too far.
pub const GRAIN: u8 = 128;
/// Every limit with its word, in the order of the bits.
pub const WORDS: [(u8, &str); 8] = [
    (HOLLOW, "hollow"),
    (ROCK, "rock"),
    (SMALL, "small"),
    (LARGE, "large"),
    (SKEW, "skew"),
    (WALL, "wall"),
    (MARK, "mark"),
    (GRAIN, "grain"),
];
