//! Plans the splitting of tube cane into single-reed blanks.
//!
//! From a few minutes of measuring it says which tubes are worth splitting, where to place the splits, where the blanks will
//! lie, how many to expect and how sure that is. Everything the command line does is a call of this library.
//!
//! # From a folder to a forecast
//!
//! ```
//! use quarterlight::{Assessed, Options, assess};
//!
//! let options = Options { tubes: vec!["G1".into(), "G2".into()], ..Options::default() };
//! let plan = assess("data-samples/grid".as_ref(), &options, &|_| ())?;
//! for tube in plan.plans() {
//!     let split = tube.split.as_ref().expect("long enough for a blank");
//!     println!("{}: split at {:.0} deg, {:.1} blanks", tube.fit.tube, split.best.angle_deg, split.best.expected);
//! }
//! let blanks = plan.forecast.blanks;
//! assert!(blanks.low <= blanks.expected && blanks.expected <= blanks.high);
//! // stored and read back, it is the same
//! assert_eq!(Assessed::from_json(&plan.to_json())?, plan);
//! # Ok::<(), quarterlight::lot::LotError>(())
//! ```
//!
//! # A split from readings made in code
//!
//! ```
//! use quarterlight::domain::{Angle, Kind, Lot, Reading, Tube};
//! use quarterlight::{Options, Prepared};
//!
//! // an oval tube, widest toward 30 deg, read with a dial on an axis at twelve angles of ten stations
//! let mut tube = Tube { name: "A".into(), length_mm: 190.0, ..Tube::default() };
//! for (z, deg) in (0..10).flat_map(|j| (0..12).map(move |i| (5.0 + 20.0 * f64::from(j), 30.0 * f64::from(i)))) {
//!     let radius = 12.7 + 0.12 * (2.0 * (deg - 30.0)).to_radians().cos();
//!     tube.readings.push(Reading::new(Kind::Radius, z, Angle::from_degrees(deg), radius));
//! }
//! let lot = Prepared::of_lot(Lot { tubes: vec![tube], ..Lot::default() });
//! let plan = lot.assess(Options::default().plan, &|_| ())?;
//! let figures = &plan.plans()[0].fit.figures;
//! // four times the amplitude of the second lobe; what these readings cannot see is `None`, never 0
//! assert!((figures.ovality_mm.expect("seen").value - 0.48).abs() < 0.03);
//! assert!(figures.wall_mm.is_none());
//! // the backs of the four pieces lie best between the widest and the narrowest direction
//! let split = plan.plans()[0].split.as_ref().expect("long enough");
//! assert!(split.best.expected > split.arbitrary);
//! # Ok::<(), quarterlight::lot::LotError>(())
//! ```
//!
//! # A circle with its doubt
//!
//! ```
//! use quarterlight::geometry::{Noise, fit_circle_geometric};
//!
//! let points: Vec<[f64; 2]> = (0..12)
//!     .map(|i| (30.0 * f64::from(i)).to_radians())
//!     .map(|a| [0.3 + 12.7 * a.cos(), -0.1 + 12.7 * a.sin()])
//!     .collect();
//! let fit = fit_circle_geometric(&points, Noise::Stated(0.02))?;
//! // n evenly spread points good to s: centre good to s (2 / n)^1/2, radius to s (1 / n)^1/2
//! let covariance = fit.covariance.expect("points all round");
//! assert!((covariance[(0, 0)].sqrt() - 0.02 * (2.0_f64 / 12.0).sqrt()).abs() < 1e-6);
//! assert!((covariance[(2, 2)].sqrt() - 0.02 / 12.0_f64.sqrt()).abs() < 1e-6);
//! # Ok::<(), quarterlight::geometry::FitError>(())
//! ```
//!
//! # Layers
//!
//! A file imports only from its own folder and folders below it; `tests/architecture.rs` sees to it.
//!
//! | layer | holds |
//! |---|---|
//! | [`domain`] | the nouns: lots, tubes, readings, targets, units |
//! | [`readings`] | files to a lot and findings; beside the others, on `domain` only |
//! | [`known`] | tubes whose truth is known, plain instruments, yields by brute force; imports none of the code it judges |
//! | [`numeric`] | splines, least squares, seeded draws, summaries |
//! | [`geometry`] | circles, ellipses, harmonics, bow, straightness |
//! | [`picture`] | pictures of sawn ends: decoding, scale, rings, ticks; knows no tubes |
//! | [`tube`] | what is believed about one tube, and how sure |
//! | [`decide`] | pure functions of a believed tube and a target: split, runs, verdict, order of cuts |
//! | [`lot`] | one run of a lot as a value: read, laid out, fitted, planned, summed up, stored |
//! | [`study`] | tubes of known truth measured and planned, and what was promised held against the truth |
//! | [`paper`] | scenes, SVG, PDF, type, axes, strips at true size; knows no tubes |
//! | [`output`] | words, text, tables, figures, report; computes nothing about tubes |

pub mod decide;
pub mod domain;
pub mod geometry;
pub mod known;
pub mod lot;
pub mod numeric;
pub mod output;
pub mod paper;
pub mod picture;
pub mod readings;
pub mod study;
pub mod tube;

pub use domain::Lot;
pub use lot::{Assessed, LotError, Options, Prepared, assess};
