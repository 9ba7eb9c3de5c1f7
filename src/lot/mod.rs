//! One run of a lot: read, laid out, fitted, planned and summed up, as values that own all they say.
//!
//! ```text
//! folder, file or workbook
//!    | Prepared::read      files read, only the tubes asked for, scans laid out: the one place that does it
//!    v
//! Prepared --- fit ------> Fits       figures of every tube
//!    |     --- learned --> Learned    scales of the lot, learned while it was made ready; ScalesUsed tells of them
//!    | assess, assess_with_views
//!    v
//! Assessed                            every tube planned and screened, or why not, and the forecast over them;
//!    | batches                        its tubes in piles for one sharpening each: Batches
//!    | to_json, from_json             stored as a record of format 1 and read back equal
//!    v
//! plan.json
//!
//! Prepared -- serve --> Serves        every tube planned for several sets, and which it serves best (serves)
//!
//! Prepared -- write_lines --> one line a tube -- Gathered, Together: many lots, on many machines (shards)
//! ```
//!
//! [`assess`] does all of it in one call. Tubes that are listed but have no plan stay in the value with the reason.

mod advised;
mod assessed;
mod at_bench;
pub mod batches;
mod borne_out;
mod called;
mod check;
mod compare;
mod counting;
pub mod ends;
mod error;
mod estimate;
mod fit_record;
mod fits;
mod forecast;
mod interval;
mod json;
mod kept;
mod learned;
mod options;
mod outcome;
mod own_limits;
mod pace_seen;
mod prepared;
mod record;
mod scales;
pub mod serves;
mod settle;
pub mod shards;
mod spent;
mod teach;
mod terms;
mod whole;

pub use advised::{AdviceOutcome, Advised};
pub use assessed::Assessed;
pub use at_bench::{AtBench, QUIETLY};
pub use batches::{BatchError, BatchRules, Batches};
pub use borne_out::{Again, BorneOut, CutLot, CutTube, WanderSeen};
pub use check::{Checked, CheckedScan};
pub use compare::{Against, Compared, Cost, LotSum, names_apart};
pub use counting::{Air, Counting, HumidityUnknown, Share};
pub use error::{LotError, RecordError};
pub use estimate::Estimate;
pub use fits::Fits;
pub use forecast::{Earlier, Forecast, NotChecked, forecast, percent};
pub use interval::Interval;
pub use json::FORMAT;
pub use kept::Kept;
pub use learned::learned_json;
pub use options::{Options, Progress};
pub use outcome::{FitOutcome, TubeOutcome};
pub use own_limits::{LEAST_STRETCHES, OwnLimit, OwnLimits, own_limits};
pub use pace_seen::PaceSeen;
pub use prepared::{Prepared, assess};
pub use scales::{InstrumentUsed, NoiseUsed, ScaleSource, ScaleUsed, ScalesUsed};
pub use settle::{SETTLED_CHANCE, Settle};
pub use shards::{Gathered, LotShare, NotSummed, Part, Together, Which};
pub use spent::{CostBasis, Estimated, EstimatedBy, WholePrice};
pub use teach::{CutLots, learn_from};
pub use terms::Terms;
pub use whole::{SizedBy, Unlike, WholeLot};
