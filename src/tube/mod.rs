//! What is believed about one tube: its sections, the instruments that read them, and the doubt that remains.

mod arc_fit;
pub mod belief;
pub mod coverage;
pub mod direct;
pub mod faults;
pub mod fitted;
pub mod geometry;
pub mod instrument;
pub mod learn;
mod outline;
pub mod population;
mod prior;
mod rounding;
mod roundness;
mod rows;
pub mod scan;
mod scan_rings;
pub mod sections;
pub mod simulate;
pub mod simulate_scan;
mod station;
mod straightness;
mod support;

pub use belief::{Belief, BeliefError, Doubted};
pub use coverage::Coverage;
pub use faults::{Cause, Suspicion};
pub use fitted::{FittedTube, ScanFigures};
pub use geometry::{Measured, Seen, Sight, TubeFigures};
pub use population::{FieldScale, Population, PopulationError};
pub use sections::{Fields, Sections};
