//! What is believed about one tube: its sections, the instruments that read them, and the doubt that remains.

pub mod belief;
pub mod instrument;
pub mod population;
pub mod sections;
pub mod simulate;

pub use belief::{Belief, BeliefError, Doubted};
pub use population::{FieldScale, Population};
pub use sections::{Fields, Sections};
