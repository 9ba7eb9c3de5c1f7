//! What is believed about one tube: its sections, the instruments that read them, and the doubt that remains.

pub mod belief;
pub mod coverage;
pub mod direct;
pub mod faults;
pub mod fitted;
pub mod geometry;
pub mod instrument;
pub mod population;
pub mod scan;
pub mod sections;
pub mod simulate;
pub mod simulate_scan;

pub use belief::{Belief, BeliefError, Doubted};
pub use coverage::Coverage;
pub use faults::{Cause, Suspicion};
pub use fitted::{FittedTube, ScanFigures};
pub use geometry::{Measured, Seen, TubeFigures};
pub use population::{FieldScale, Population};
pub use sections::{Fields, Sections};
