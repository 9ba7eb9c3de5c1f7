//! Places and colours in a scene.

/// A place in the scene: `[x, y]`, mm.
pub type Point = [f64; 2];

/// An sRGB colour with its opacity.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Colour {
    /// Red, green and blue, 0 to 255.
    pub rgb: [u8; 3],
    /// Opacity, 255 = solid.
    pub alpha: u8,
}

impl Colour {
    /// Black.
    pub const BLACK: Colour = Colour::solid(0, 0, 0);
    /// White.
    pub const WHITE: Colour = Colour::solid(255, 255, 255);

    /// An opaque colour.
    #[must_use]
    pub const fn solid(red: u8, green: u8, blue: u8) -> Colour {
        Colour { rgb: [red, green, blue], alpha: 255 }
    }

    /// The same colour at another opacity, 255 = solid.
    #[must_use]
    pub const fn with_alpha(self, alpha: u8) -> Colour {
        Colour { rgb: self.rgb, alpha }
    }

    /// `#rrggbb`.
    #[must_use]
    pub fn hex(self) -> String {
        let [r, g, b] = self.rgb;
        format!("#{r:02x}{g:02x}{b:02x}")
    }
}
