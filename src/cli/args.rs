//! What can be typed.

use super::typed;
use clap::{Args as ClapArgs, Parser, Subcommand, ValueEnum};
use clap_complete::Shell;
use quarterlight::decide::packages::Way as Package;
use quarterlight::decide::plan::PlanOptions;
use quarterlight::domain::{Lot, Target, Tool};
use quarterlight::known::faults::{Fault, Often};
use quarterlight::known::populations::Population;
use quarterlight::known::way::Way;
use quarterlight::lot::Part;
use quarterlight::lot::batches::DividedBy;
use quarterlight::output::show::Units;
use quarterlight::paper::scene::Paper;
use quarterlight::study::asked;
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
    /// Make a folder to start from: forms to type into, sheets and strips to print.
    New(NewArgs),
    /// Read a lot and list everything that is wrong or odd about its files.
    Check(CheckArgs),
    /// Show each tube's geometry: diameter, ovality, bow, taper, and what the readings cannot see.
    Fit(FitArgs),
    /// Choose the split angle of each tube and lay the runs on its pieces.
    Split(SplitArgs),
    /// Say which tubes are worth splitting, and why; for several instruments, which each serves best.
    Screen(ScreenArgs),
    /// Forecast blanks, yield by weight and cost, of one lot or of several side by side.
    Forecast(ForecastArgs),
    /// Lay the tubes out in piles, each for one sharpening of the edge tools.
    Batch(BatchArgs),
    /// Say which readings to take next on each tube, what they may gain, and when to stop.
    Advise(AdviseArgs),
    /// Set what came of the tubes against what was promised, and where splits fell against their aims.
    Learn(LearnArgs),
    /// Write a page to read and print, tables, cut list and wrap strips at true size into a folder.
    Report(ReportArgs),
    /// Read sawn ends from a flatbed scanner's picture, or a square-on photograph, into readings of a lot.
    Ends(EndsArgs),
    /// A local page to measure at, type readings and see the split at once.
    Bench(BenchArgs),
    /// Write a lot of invented tubes whose truth is known, or hold this program's promises against such a truth.
    Simulate(SimulateArgs),
    /// Print the licences of this program and of everything compiled into it.
    Licences,
    /// Print the script by which a shell completes what is typed.
    Completions(CompletionsArgs),
    /// Print the manual page, for `man`.
    Manual,
}

/// `completions`.
#[derive(Debug, Clone, ClapArgs)]
pub struct CompletionsArgs {
    /// The shell.
    #[arg(value_enum, ignore_case = true)]
    pub shell: Shell,
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
    /// Let --out, or --picture, replace a file that is already there.
    #[arg(long)]
    pub force: bool,
    /// Unit of lengths; else what the lot states ([lot] units in lot.toml), else mm.
    #[arg(long, value_enum, ignore_case = true)]
    pub units: Option<UnitsArg>,
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

/// Whether tubes that are split are planned as they are.
#[derive(Debug, Clone, Copy, ClapArgs)]
pub struct FellArgs {
    /// Lay the runs of tubes that are split already on the pieces as cuts.csv says they fell.
    #[arg(long)]
    pub as_split: bool,
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

/// A view of the plan of a lot.
#[derive(Debug, Clone, ClapArgs)]
pub struct ViewArgs {
    /// Which lot, and how.
    #[command(flatten)]
    pub lot: LotArgs,
    /// As it was split.
    #[command(flatten)]
    pub fell: FellArgs,
}

/// `screen`.
///
/// With --for every tube is planned for several sets on the same belief: blanks and verdict for each, and which it serves best,
/// by what its blanks are worth where that is stated. Each set has a split angle of its own; to cut for one, write it as instrument under
/// [target] in lot.toml.
#[derive(Debug, Clone, ClapArgs)]
pub struct ScreenArgs {
    /// Which lot, and how.
    #[command(flatten)]
    pub view: ViewArgs,
    /// Sets to plan for, with commas between them: starting sets ('alto saxophone', oboe), sets of your own from lot.toml, or
    /// 'all' for every one that some tube is large or small enough for.
    #[arg(long = "for", value_name = "NAMES", value_delimiter = ',', conflicts_with = "as_split")]
    pub sets: Vec<String>,
    /// What a blank of a set is worth, such as clarinet=1.20, in place of what lot.toml states; may be given several times.
    #[arg(long = "value", value_name = "NAME=AMOUNT", value_parser = typed::worth, requires = "sets")]
    pub values: Vec<(String, f64)>,
}

/// `split`.
#[derive(Debug, Clone, ClapArgs)]
pub struct SplitArgs {
    /// Which lot, and how.
    #[command(flatten)]
    pub view: ViewArgs,
    /// Print a line of JSON for the lot and one for each tube, each as soon as it is planned; `forecast --from` sums such lines up.
    #[arg(long, conflicts_with_all = ["json", "csv"])]
    pub jsonl: bool,
    /// Of the tubes asked for only every N-th from the K-th on: one of N even parts, each for a machine of its own.
    #[arg(long, value_name = "K/N", requires = "jsonl", value_parser = part)]
    pub part: Option<Part>,
}

/// A part such as `2/5`.
fn part(text: &str) -> Result<Part, String> {
    Part::from_text(text).ok_or_else(|| format!("found '{text}'; expected a part such as 2/5, the second of five"))
}

/// `forecast`.
///
/// Of a lot of which only some tubes are measured the whole is forecast from them. Several lots are set against the best:
/// chance that one is dearer, the price at which it would not be, and how many more tubes would settle it.
#[derive(Debug, Clone, ClapArgs)]
pub struct ForecastArgs {
    /// The lot, or several to compare: folders, files of readings, or workbooks.
    #[arg(value_name = "LOT", required_unless_present = "from")]
    pub lots: Vec<PathBuf>,
    /// Sum up records that `split --jsonl` wrote, of any number of lots, in any order; `-` is standard input.
    #[arg(long, value_name = "FILE", num_args = 1.., conflicts_with_all = ["lots", "picture", "seed", "draws", "tubes", "as_split"])]
    pub from: Vec<PathBuf>,
    /// Draw several lots side by side into this file (SVG, or PDF where its name ends so).
    #[arg(long, value_name = "FILE")]
    pub picture: Option<PathBuf>,
    /// Count no blanks of tubes that the screening leaves; what they weigh and cost still counts.
    #[arg(long)]
    pub without_leave: bool,
    /// Tell weights and prices by weight at this relative humidity, percent; as weighed unless said, several lots at that of
    /// the first.
    #[arg(long = "at-humidity", value_name = "PERCENT", value_parser = typed::humidity)]
    pub at_humidity: Option<f64>,
    /// As it was split.
    #[command(flatten)]
    pub fell: FellArgs,
    /// How it is computed.
    #[command(flatten)]
    pub plan: PlanArgs,
    /// How it is shown.
    #[command(flatten)]
    pub show: ShowArgs,
}

/// `learn`.
///
/// From cuts.csv: blanks got for each one promised, lot by lot and over lots, and how far split lines fall from their aims.
#[derive(Debug, Clone, ClapArgs)]
pub struct LearnArgs {
    /// Lots of which tubes were cut: folders or workbooks.
    #[arg(value_name = "LOT", required = true)]
    pub lots: Vec<PathBuf>,
    /// Draw what came of every tube against what was promised into this file (SVG, or PDF where its name ends so).
    #[arg(long, value_name = "FILE")]
    pub picture: Option<PathBuf>,
    /// Keep what was learned (own limits, wander, what promises came to) in this file, which lots name with maker = "FILE" under
    /// [lot]; all else in it stays as it is.
    #[arg(long, value_name = "FILE")]
    pub keep: Option<PathBuf>,
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
    /// Everything that is known of every tube; --tube NAME shows one so.
    #[arg(long)]
    pub detail: bool,
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

/// `advise`.
///
/// What readings are worth is how many blanks more the split chosen with them gives, on average over what the tube may be.
/// Reading on pays while that is more than the minutes should bring.
#[derive(Debug, Clone, ClapArgs)]
pub struct AdviseArgs {
    /// Which lot, and how.
    #[command(flatten)]
    pub lot: LotArgs,
    /// Most minutes to spend on a tube.
    #[arg(long, value_name = "MINUTES", value_parser = typed::minutes)]
    pub minutes: Option<f64>,
    /// What is at hand: caliper, dial, bridge, straightedge, ends; separated by commas. Else what the lot was read with, and
    /// a caliper.
    #[arg(long, value_name = "WAYS", value_delimiter = ',', value_parser = way)]
    pub with: Vec<Package>,
    /// Blanks that a minute of measuring should bring; else what lot.toml says under [measure], else 0.05.
    #[arg(long = "minute-blanks", value_name = "BLANKS", value_parser = typed::minute_blanks)]
    pub minute_blanks: Option<f64>,
}

/// A way of measuring by its word.
fn way(text: &str) -> Result<Package, String> {
    let words = Package::ALL.map(Package::word).join(", ");
    Package::from_word(text).ok_or_else(|| format!("found '{text}'; expected {words}"))
}

/// `batch`.
///
/// The piles are as alike in expected blanks as can be, and long and short tubes are shared out among them. Without --piles
/// there are as many as the edge life (lot.toml, [batch]) asks. Tubes nobody measured go in by their weight.
#[derive(Debug, Clone, ClapArgs)]
pub struct BatchArgs {
    /// Which lot, and how.
    #[command(flatten)]
    pub lot: LotArgs,
    /// So many piles, whatever the edge life.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=999))]
    pub piles: Option<u16>,
    /// In what the piles are to be alike.
    #[arg(long, value_enum, ignore_case = true, default_value_t = ByArg::Blanks)]
    pub by: ByArg,
    /// Put in the tubes that the screening leaves, too.
    #[arg(long)]
    pub all_tubes: bool,
    /// As it was split.
    #[command(flatten)]
    pub fell: FellArgs,
}

/// In what piles are alike.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum ByArg {
    /// Expected blanks.
    Blanks,
    /// Weight.
    Weight,
}

impl ByArg {
    /// The library's choice.
    pub fn divided_by(self) -> DividedBy {
        match self {
            ByArg::Blanks => DividedBy::Blanks,
            ByArg::Weight => DividedBy::Weight,
        }
    }
}

/// `report`.
///
/// Writes report.html, splits.csv, runs.csv, forecast.csv, cuts-plan.csv, plan.json, bench-list.pdf and strips.pdf into one folder.
/// The page needs no network and no other file. The bench list is what to work from: splits, runs, boxes to tick. Print strips.pdf at 100 %, no fit to page.
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
    /// As it was split.
    #[command(flatten)]
    pub fell: FellArgs,
    /// Unit of lengths, in inches the runs to the nearest 1/32; else what the lot states ([lot] units in lot.toml), else mm.
    #[arg(long, value_enum, ignore_case = true)]
    pub units: Option<UnitsArg>,
    /// Sheet that page, list and strips are printed on.
    #[arg(long, value_enum, ignore_case = true, default_value_t = PaperArg::A4)]
    pub paper: PaperArg,
    /// No hand nearer to the blade than this, such as 150, "15 cm" or "6 in" (a bare number is millimetres).
    #[arg(long = "no-hands", value_name = "LENGTH", default_value = "150", value_parser = typed::no_hands_mm)]
    pub no_hands_mm: f64,
    /// Replace files of a report that are already in the folder.
    #[arg(long)]
    pub force: bool,
}

/// `bench`.
///
/// The page is for a browser on this computer, a tablet or an old laptop beside the tube. What is typed goes into the lot's own
/// files at once: readings-bench.csv, tubes.csv, cuts.csv. They stay files that can be edited by hand, also meanwhile.
#[derive(Debug, Clone, ClapArgs)]
pub struct BenchArgs {
    /// The lot: a folder, as `new` makes one.
    pub lot: PathBuf,
    /// Other lots, to be set beside it.
    #[arg(value_name = "LOT2")]
    pub others: Vec<PathBuf>,
    /// Port of the page; 7245 unless said, or any that is free where that is taken.
    #[arg(long, value_name = "N")]
    pub port: Option<u16>,
    /// Address to answer at. Other than this computer's own, every device must type a code that works once.
    #[arg(long, value_name = "IP", default_value = "127.0.0.1")]
    pub address: std::net::IpAddr,
    /// Open it in the browser.
    #[arg(long)]
    pub open: bool,
    /// Seed of the draws; the same seed gives the same plan.
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    /// Draws per tube of the whole plan.
    #[arg(long, default_value_t = 200, value_parser = clap::value_parser!(u64).range(20..=20_000))]
    pub draws: u64,
    /// Unit of lengths, shown and typed; else what the lot states ([lot] units in lot.toml), else mm.
    #[arg(long, value_enum, ignore_case = true)]
    pub units: Option<UnitsArg>,
    /// Sheet that lists and strips are printed on.
    #[arg(long, value_enum, ignore_case = true, default_value_t = PaperArg::A4)]
    pub paper: PaperArg,
    /// No hand nearer to the blade than this, such as 150, "15 cm" or "6 in" (a bare number is millimetres).
    #[arg(long = "no-hands", value_name = "LENGTH", default_value = "150", value_parser = typed::no_hands_mm)]
    pub no_hands_mm: f64,
}

impl BenchArgs {
    /// Seed and draws.
    pub fn options(&self) -> PlanOptions {
        PlanOptions { seed: self.seed, draws: self.draws }
    }
}

/// `new`.
///
/// Writes lot.toml, tubes.csv, a form of readings for each instrument, measuring-sheet.pdf, angle-strips.pdf and
/// scale-card.pdf. Nothing that is already there is replaced. Lengths may have a unit ("9 in"); a bare number is millimetres. Print the PDFs at 100 %.
#[derive(Debug, Clone, ClapArgs)]
pub struct NewArgs {
    /// The folder; made when it is not there.
    #[arg(value_name = "DIR")]
    pub folder: PathBuf,
    /// Fill in so many tubes, T01, T02, ...
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=999))]
    pub tubes: Option<u16>,
    /// Instruments at hand: caliper, bridge, dial, straightedge, v-block, wall; caliper,bridge unless said.
    #[arg(long, value_name = "TOOLS", value_delimiter = ',', value_parser = tool)]
    pub with: Vec<Tool>,
    /// As few readings as are worth taking.
    #[arg(long, group = "effort")]
    pub quick: bool,
    /// What most tubes deserve; holds unless another is chosen.
    #[arg(long, group = "effort")]
    pub usual: bool,
    /// For dear tubes.
    #[arg(long, group = "effort")]
    pub thorough: bool,
    /// One workbook (lot.xlsx) in place of lot.toml and the csv files, its cells checked as they are typed.
    #[arg(long)]
    pub workbook: bool,
    /// Starting set of the limits, such as clarinet or "alto saxophone".
    #[arg(long, value_name = "NAME", value_parser = typed::instrument)]
    pub instrument: Option<Target>,
    /// Length of the shortest tube: the places to read are laid out on it.
    #[arg(long = "length", value_name = "LENGTH", default_value = "200", value_parser = typed::tube_length_mm)]
    pub length_mm: f64,
    /// Distance between the feet of the bar.
    #[arg(long = "span", value_name = "LENGTH", default_value = "70", value_parser = typed::span_mm)]
    pub span_mm: f64,
    /// Diameter about which the angle strips are made; the arc diameter of the instrument unless said.
    #[arg(long = "diameter", value_name = "LENGTH", value_parser = typed::diameter_mm)]
    pub diameter_mm: Option<f64>,
    /// Unit of lengths in the forms; with inches weights are in ounces.
    #[arg(long, value_enum, ignore_case = true, default_value_t = UnitsArg::Mm)]
    pub units: UnitsArg,
    /// Sheet that is printed on.
    #[arg(long, value_enum, ignore_case = true, default_value_t = PaperArg::A4)]
    pub paper: PaperArg,
}

/// `simulate`.
///
/// Tubes are grown by chance, read by plain instruments and judged by brute force, by code that shares nothing with what plans them.
/// With DIR a lot is written there (lot.toml, tubes.csv, readings.csv, README.txt) and truth.json beside it; DIR must be new or
/// empty. With --study no folder is written: the promises of this program are held against the truth, plan by plan.
#[derive(Debug, Clone, ClapArgs)]
pub struct SimulateArgs {
    /// The folder; made when it is not there.
    #[arg(value_name = "DIR", required_unless_present = "study", conflicts_with = "study")]
    pub folder: Option<PathBuf>,
    /// Hold promises against the truth instead: blanks lost, intervals that hold, promised against true, minutes.
    #[arg(long)]
    pub study: bool,
    /// Tubes; a study takes them in lots of ten.
    #[arg(long, value_name = "N", default_value_t = 20, value_parser = clap::value_parser!(u16).range(1..=10_000))]
    pub tubes: u16,
    /// Seed; the same seed gives the same files, and the same table.
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    #[arg(long, value_name = "NAME|FILE.toml", default_value = "smooth", help = population_help())]
    pub population: String,
    #[arg(long = "plan", value_name = "NAME|FILE.toml", help = plan_help())]
    pub plans: Vec<String>,
    #[arg(long, value_name = "SLIPS", value_delimiter = ',', value_parser = slip, conflicts_with = "study", help = slip_help())]
    pub faults: Vec<(Fault, Often)>,
    /// An ordinary hand: lines and index line 1 deg off, instruments by half a division of 0.05 mm. Else readings have noise only.
    #[arg(long)]
    pub hand: bool,
    /// Set beside each plan of a study the same belief with the true scales of the make, and name the goals that are missed.
    #[arg(long, requires = "study")]
    pub scales_known: bool,
    /// Draws per tube of a study.
    #[arg(long, default_value_t = 200, requires = "study", value_parser = clap::value_parser!(u64).range(20..=20_000))]
    pub draws: u64,
    /// Print the study as JSON.
    #[arg(long, requires = "study", conflicts_with = "csv")]
    pub json: bool,
    /// Print the study's table as comma-separated values.
    #[arg(long, requires = "study")]
    pub csv: bool,
    /// Write the study to this file instead of standard output.
    #[arg(long, value_name = "FILE", requires = "study")]
    pub out: Option<PathBuf>,
    /// Let --out replace a file that is already there.
    #[arg(long, requires = "out")]
    pub force: bool,
}

fn population_help() -> String {
    let words = Population::ALL.map(|p| p.0).join("', '");
    format!(
        "Make of the tubes: '{words}'; or a file with [population] that starts from one, as data-samples/long-ovals.toml has it"
    )
}

fn plan_help() -> String {
    let words: Vec<String> = Way::all().into_iter().map(|w| w.name).collect();
    format!(
        "How tubes are read, may be given several times: tubes of a folder take plans in turn, a study has a row for each; the plans of \
         the population's file, else 'dial 12x17mm', unless said. '{}'; or a file with [[plan.NAME]]",
        words.join("', '")
    )
}

fn slip(text: &str) -> Result<(Fault, Often), String> {
    asked::fault(text)
}

fn slip_help() -> String {
    let words: Vec<String> = Fault::ALL.iter().map(|(word, _, what)| format!("{word} ({what})")).collect();
    format!("Slips to plant, on so many tubes or a share of them, such as off=2,zero=10%: {}", words.join(", "))
}

/// An instrument by its word, or by the word of what it reads.
fn tool(text: &str) -> Result<Tool, String> {
    let by_kind = || Tool::ALL.into_iter().find(|t| t.kind().word() == text.trim().to_lowercase());
    Tool::from_word(text).or_else(by_kind).ok_or_else(|| {
        let words: Vec<&str> = Tool::ALL.iter().map(|t| t.word()).collect();
        format!("expected some of {}, with commas between them", words.join(", "))
    })
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
    #[arg(long, value_enum, ignore_case = true, default_value_t = PaperArg::A4)]
    pub paper: PaperArg,
    /// Unit of lengths on the screen, else what the lot states ([lot] units in lot.toml), else mm; readings are written in mm.
    #[arg(long, value_enum, ignore_case = true)]
    pub units: Option<UnitsArg>,
    /// Replace files of an earlier run.
    #[arg(long)]
    pub force: bool,
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
    /// The unit asked for, else the lot's own.
    pub fn or_of(asked: Option<UnitsArg>, lot: &Lot) -> Units {
        asked.map_or_else(|| Units::of(lot), UnitsArg::units)
    }

    /// As the pages take it.
    pub fn units(self) -> Units {
        match self {
            UnitsArg::Mm => Units::Mm,
            UnitsArg::In => Units::Inch,
        }
    }
}

impl ShowArgs {
    /// The unit asked for, else the lot's own.
    pub fn units(&self, lot: &Lot) -> Units {
        UnitsArg::or_of(self.units, lot)
    }
}
