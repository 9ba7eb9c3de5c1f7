//! What can be typed.

use clap::{Args as ClapArgs, Parser, Subcommand, ValueEnum};
use quarterlight::decide::plan::PlanOptions;
use quarterlight::domain::units::{DecimalMark, LengthUnit, parse_length};
use quarterlight::output::show::Units;
use quarterlight::paper::scene::Paper;
use std::path::PathBuf;

/// Plans the splitting of tube cane into single-reed blanks.
///
/// From a few minutes of measuring: which tubes are worth splitting, where to place the splits, where the blanks will lie,
/// how many to expect and how sure that is.
#[derive(Debug, Parser)]
#[command(name = "quarterlight", version, max_term_width = 100)]
pub struct Args {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Run the whole job on the built-in lot (an invented scenario).
    Demo(DemoArgs),
    /// Read a lot and list everything that is wrong or odd about its files.
    Check(CheckArgs),
    /// Show each tube's geometry: diameter, ovality, bow, taper, and what the readings cannot see.
    Fit(FitArgs),
    /// Choose the split angle of each tube and lay the runs on its pieces.
    Split(LotArgs),
    /// Say which tubes are worth splitting, and why.
    Screen(LotArgs),
    /// Forecast blanks, yield by weight and cost.
    Forecast(LotArgs),
    /// Write a page to read and print, tables, cut list and wrap strips at true size into a folder.
    Report(ReportArgs),
    /// Read sawn ends from a flatbed scanner's picture, or a square-on photograph, into readings of a lot.
    Ends(EndsArgs),
    /// Print the licences of this program and of everything compiled into it.
    Licences,
}

/// How results are shown.
#[derive(Debug, Clone, ClapArgs)]
pub struct ShowArgs {
    /// Print the result as JSON (lengths in mm whatever --units says).
    #[arg(long, conflicts_with = "csv")]
    pub json: bool,
    /// Print the main table as comma-separated values.
    #[arg(long)]
    pub csv: bool,
    /// Write the result to this file instead of standard output.
    #[arg(long, value_name = "FILE")]
    pub out: Option<PathBuf>,
    /// Let --out replace a file that is already there.
    #[arg(long, requires = "out")]
    pub force: bool,
    /// Unit of lengths in tables.
    #[arg(long, value_enum, default_value_t = UnitsArg::Mm)]
    pub units: UnitsArg,
}

/// How plans are computed.
#[derive(Debug, Clone, ClapArgs)]
pub struct PlanArgs {
    /// Seed of the draws; the same seed gives the same result.
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    /// Draws per tube: more give steadier figures and take longer.
    #[arg(long, default_value_t = 200, value_parser = clap::value_parser!(u64).range(20..=20_000))]
    pub draws: u64,
    /// Only this tube (may be given several times).
    #[arg(long = "tube", value_name = "NAME")]
    pub tubes: Vec<String>,
}

impl PlanArgs {
    /// Seed and draws.
    pub fn options(&self) -> PlanOptions {
        PlanOptions { seed: self.seed, draws: self.draws }
    }
}

/// A command on a lot.
#[derive(Debug, Clone, ClapArgs)]
pub struct LotArgs {
    /// The lot: a folder, one file of readings, or a workbook.
    pub lot: PathBuf,
    /// How it is computed.
    #[command(flatten)]
    pub plan: PlanArgs,
    /// How it is shown.
    #[command(flatten)]
    pub show: ShowArgs,
}

/// `fit`.
#[derive(Debug, Clone, ClapArgs)]
pub struct FitArgs {
    /// Which lot, and how.
    #[command(flatten)]
    pub lot: LotArgs,
    /// Instead of the tubes, re-estimate from them how tubes of this lot vary (the prior scales), and print a section
    /// [population] for lot.toml. Needs a lot with dense readings.
    #[arg(long)]
    pub learn_population: bool,
    /// Write the learned scales into the lot's lot.toml; all else in it stays as it is.
    #[arg(long, requires = "learn_population")]
    pub keep: bool,
}

/// `demo`.
#[derive(Debug, Clone, ClapArgs)]
pub struct DemoArgs {
    /// How it is computed.
    #[command(flatten)]
    pub plan: PlanArgs,
    /// How it is shown.
    #[command(flatten)]
    pub show: ShowArgs,
}

/// `check`.
#[derive(Debug, Clone, ClapArgs)]
pub struct CheckArgs {
    /// The lot: a folder, one file of readings, or a workbook.
    pub lot: PathBuf,
    /// How it is shown.
    #[command(flatten)]
    pub show: ShowArgs,
}

/// `report`.
///
/// Writes report.html, splits.csv, runs.csv, forecast.csv, cuts-plan.csv, plan.json and strips.pdf into one folder. The page
/// needs no network and no other file. Print strips.pdf at 100 %, no fit to page.
#[derive(Debug, Clone, ClapArgs)]
pub struct ReportArgs {
    /// The lot: a folder, one file of readings, or a workbook.
    pub lot: PathBuf,
    /// Folder to write into; made when it is not there.
    #[arg(long, value_name = "DIR")]
    pub out: PathBuf,
    /// How it is computed.
    #[command(flatten)]
    pub plan: PlanArgs,
    /// Unit of lengths; in inches the runs are given to the nearest 1/32.
    #[arg(long, value_enum, default_value_t = UnitsArg::Mm)]
    pub units: UnitsArg,
    /// Sheet that page and strips are printed on.
    #[arg(long, value_enum, default_value_t = PaperArg::A4)]
    pub paper: PaperArg,
    /// No hand nearer to the blade than this, such as 150, "15 cm" or "6 in" (a bare number is millimetres).
    #[arg(long = "no-hands", value_name = "LENGTH", default_value = "150", value_parser = no_hands_mm)]
    pub no_hands_mm: f64,
    /// Replace files of a report that are already in the folder.
    #[arg(long)]
    pub force: bool,
}

/// `ends`.
///
/// Finds the rings, the bark's outline, the bore and the pencil tick at the index line. Without --tubes it only numbers them
/// in a picture ends-IMAGE-numbers.png and says what to type next; with them it writes readings-ends-IMAGE.csv and
/// ends-IMAGE.png into the lot's folder.
#[derive(Debug, Clone, ClapArgs)]
pub struct EndsArgs {
    /// Pictures: PNG, JPEG or TIFF, at most 280 million pixels (two pages at 1200 dpi).
    #[arg(value_name = "IMAGE", required_unless_present = "scale_sheet")]
    pub images: Vec<PathBuf>,
    /// The lot's folder; the one you are in unless you say otherwise.
    #[arg(long)]
    pub lot: Option<PathBuf>,
    /// Names in the order of the numbers (rows from the top, each from left to right): T01,T02/far,-. Once for each picture.
    #[arg(long, value_name = "NAMES")]
    pub tubes: Vec<String>,
    /// Take the lot's tubes in their order.
    #[arg(long, conflicts_with = "tubes")]
    pub all_tubes: bool,
    /// Names without /index or /far behind them are far ends.
    #[arg(long)]
    pub far: bool,
    /// Resolution where the file states none or a wrong one: 600, or across and down 600x598.5. A scale card in the picture
    /// stands before it.
    #[arg(long, value_name = "DPI")]
    pub dpi: Option<String>,
    /// Measured lengths of the scale card's lines of 140 and 60 mm, such as 140.2x60.1.
    #[arg(long, value_name = "LENGTHS")]
    pub card: Option<String>,
    /// Where the index line of a ring stands whose tick was lost: 3=120, degrees clockwise from straight up.
    #[arg(long = "tick", value_name = "RING=DEG")]
    pub ticks: Vec<String>,
    /// Write a sheet with the scale card, to be printed at 100 %, and do nothing else.
    #[arg(long, value_name = "FILE.pdf")]
    pub scale_sheet: Option<PathBuf>,
    /// Sheet that the scale card is printed on.
    #[arg(long, value_enum, default_value_t = PaperArg::A4)]
    pub paper: PaperArg,
    /// Unit of lengths on the screen; readings are written in mm.
    #[arg(long, value_enum, default_value_t = UnitsArg::Mm)]
    pub units: UnitsArg,
    /// Replace files of an earlier run.
    #[arg(long)]
    pub force: bool,
}

/// A length from 50 to 1000 mm: below it the rule would protect no hand.
fn no_hands_mm(text: &str) -> Result<f64, String> {
    let mm = parse_length(text, LengthUnit::Millimetre, DecimalMark::Point)
        .map_err(|e| format!("found {e}; expected a length such as 150 or \"6 in\"; {}", e.fix()))?;
    if (50.0..=1000.0).contains(&mm) { Ok(mm) } else { Err(format!("found {mm} mm; expected 50 to 1000 mm")) }
}

/// Paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum PaperArg {
    /// 210 by 297 mm.
    A4,
    /// 8 1/2 by 11 in.
    Letter,
}

impl PaperArg {
    /// The library's paper.
    pub fn paper(self) -> Paper {
        match self {
            PaperArg::A4 => Paper::A4,
            PaperArg::Letter => Paper::Letter,
        }
    }
}

/// Unit of lengths.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum UnitsArg {
    /// Millimetres.
    Mm,
    /// Decimal inches.
    In,
}

impl UnitsArg {
    /// The library's unit.
    pub fn units(self) -> Units {
        match self {
            UnitsArg::Mm => Units::Mm,
            UnitsArg::In => Units::Inch,
        }
    }
}
