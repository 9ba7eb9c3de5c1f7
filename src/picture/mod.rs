//! Pictures of sawn ends: files in, rings with their outline, bore and pencil tick out. Knows pixels and millimetres, nothing
//! of tubes, lots or readings.
//!
//! # The way through
//!
//! 1. [`read_picture`] decodes PNG, JPEG and TIFF into [`Grey`] and takes the resolution the file states.
//! 2. [`find_card`] looks for the printed scale card; its lattice of discs gives pixels per millimetre across and down.
//! 3. [`find_rings`] separates what lies on the glass from the background, measures outline and bore along rays at sub-pixel
//!    edges, and looks for the tick. What is unsure is a [`Refusal`] with its number, never left out silently.
//!
//! # Frame
//!
//! Pixel (i, j) covers `[i, i + 1] x [j, j + 1]`, x to the right, y down. Angles in a picture run clockwise as seen on it,
//! from the direction to the right. A scanner shows the face that lies on its glass as it is seen from outside; so does a
//! camera that looks at the end.
//!
//! # Light
//!
//! Pixels are taken as sRGB coded (IEC 61966-2-1) and edges are sought in linear light: a blurred edge lies where half the
//! light is, which in coded values would be up to 0.8 of the blur further out.

mod blobs;
mod card;
mod decode;
mod edge;
mod error;
mod exif;
mod face;
mod grey;
mod jpeg_file;
mod lattice;
mod order;
mod outline;
mod png_file;
mod polar;
mod ring;
mod scale;
mod scale_found;
mod stored;
mod tick;
mod tiff_file;
mod wave;

pub use card::{Card, CardFault, find_card};
pub use decode::{Picture, decode, read_picture};
pub use error::PictureError;
pub use grey::Grey;
pub use outline::{Curve, Unclear};
pub use ring::{Found, Refusal, Ring, Thing, find_rings};
pub use scale::PixelScale;
pub use scale_found::{ScaleFault, ScaleFound, ScaleFrom, find_scale};
pub use stored::MOST_PIXELS;
pub use tick::{Tick, TickFault};
