//! What may be typed: the commands and their options, once, for parsing, help and completions alike.
//!
//! Nothing is decided here; `settings` resolves these raw arguments.

use std::net::SocketAddr;
use std::path::PathBuf;

use clap::{Parser, Subcommand, ValueHint};

use crate::measure::{Length, Money};
use crate::quote::{Date, Instead};
use crate::serve;

use super::sample;

mod values;

pub use values::{CsvUnits, FileKind, Format, LogLevel, OfferedGrade, Share, SheetFormat, ShowProgress};
use values::{money, name, premium, quarters, seconds, whole};

/// Which boards to take, every cut in order, what is left and what it costs, with a proof of how close that is to the
/// best possible.
///
/// Exit codes: 0 done (a complete plan); 3 a plan with shortages; 2 wrong input or usage; 1 a fault of the program;
/// 130 interrupted, the best plan so far is written.
#[derive(Debug, Parser)]
#[command(name = "flitchwork", version, propagate_version = true)]
pub struct Args {
    #[command(subcommand)]
    pub command: Command,
}

#[derive(Debug, Subcommand)]
pub enum Command {
    Plan(PlanArgs),
    Fill(FillArgs),
    Quote(QuoteArgs),
    Check(CheckArgs),
    Draw(DrawArgs),
    Tally(TallyArgs),
    Grade(GradeArgs),
    Order(Box<OrderArgs>),
    Schema(SchemaArgs),
    Serve(ServeArgs),
    Sample(SampleArgs),
    Completions(CompletionsArgs),
}

/// Plan a job from a pile: which stock to use, where every cut goes, what it costs
#[derive(Debug, clap::Args)]
pub struct PlanArgs {
    #[command(flatten)]
    pub on: JobArgs,
    #[command(flatten)]
    pub result: PlanOutArgs,
    #[command(flatten)]
    pub search: SearchArgs,
}

/// A job, the stock to make it from, and the shop it is made in.
#[derive(Debug, clap::Args)]
pub struct JobArgs {
    /// The parts list, JSON or CSV
    #[arg(value_name = "JOB", value_hint = ValueHint::FilePath)]
    pub job: PathBuf,
    #[command(flatten)]
    pub stock: StockArgs,
    /// Shop profile (JSON); what it says goes before the defaults, what the job says goes before it
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub shop: Option<PathBuf>,
}

/// Where a plan goes.
#[derive(Debug, clap::Args)]
pub struct PlanOutArgs {
    /// Write the plan (JSON) here; without it, only standard output carries the result
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub out: Option<PathBuf>,
    /// Write the cut diagrams (SVG) into this folder
    #[arg(long, value_name = "DIR", value_hint = ValueHint::DirPath)]
    pub draw: Option<PathBuf>,
    /// What standard output carries: a summary to read, or the plan as JSON
    #[arg(long, value_enum, default_value_t = Format::Text)]
    pub format: Format,
}

/// How long to look for a plan, and what is heard of it meanwhile.
#[derive(Debug, clap::Args)]
pub struct SearchArgs {
    /// Stop after so many seconds [default: 10, or no limit of time with --work]
    #[arg(long, value_name = "S", value_parser = seconds)]
    pub seconds: Option<f64>,
    /// Stop after so many units of work: the same plan on every machine
    #[arg(long, value_name = "N", value_parser = whole(0u64, None))]
    pub work: Option<u64>,
    /// Stop when the plan is proven to be within so much of the best: 0.01 or 1%
    #[arg(long, value_name = "G", default_value = "0")]
    pub gap: Share,
    /// Seed of every random choice
    #[arg(long, value_name = "N", default_value_t = 1, value_parser = whole(0u64, None))]
    pub seed: u64,
    /// Threads to use; 0 is one a core. The plan does not depend on it
    #[arg(long, value_name = "N", default_value_t = 0, value_parser = whole(0usize, None))]
    pub threads: usize,
    /// Report progress on standard error
    #[arg(long, value_enum, default_value_t = ShowProgress::Auto)]
    pub progress: ShowProgress,
}

/// Fill one board, sheet, stick or offcut with the most valuable set of the job's parts
///
/// Parts count their `value`, or else their finished volume in cubic inches. An offcut is entered in the pile as a board,
/// sheet or stick of its size. Exit code 3 when nothing of the job can be cut from the piece; no file is written then.
#[derive(Debug, clap::Args)]
pub struct FillArgs {
    #[command(flatten)]
    pub on: JobArgs,
    /// The piece of the pile to fill, by its id
    #[arg(long = "stock", value_name = "ID")]
    pub id: String,
    /// Which of its equal pieces
    #[arg(long, value_name = "N", default_value_t = 1, value_parser = whole(0u32, None))]
    pub copy: u32,
    /// Cut any number of a part, not at most what the job asks for
    #[arg(long)]
    pub any_number: bool,
    #[command(flatten)]
    pub result: PlanOutArgs,
    /// Stop after about so many seconds, proven or not
    #[arg(long, value_name = "S", value_parser = seconds, default_value = "10")]
    pub seconds: f64,
}

/// Price a job: what it costs by a plan and the shop's rates, what to charge, and a page for the client
///
/// The stock costs what the plan uses of the pile, offcuts credited only if the shop says so; everything else goes by the
/// shop's `rates`. Standard output carries the maker's own sheet; the client's page shows none of it. Exit code 3 when the
/// plan does not make everything: the quote is then marked incomplete.
#[derive(Debug, clap::Args)]
pub struct QuoteArgs {
    #[command(flatten)]
    pub on: JobArgs,
    /// The plan to price, made from this job and pile; without it, one is made first
    #[arg(long, value_name = "PLAN", value_hint = ValueHint::FilePath)]
    pub plan: Option<PathBuf>,
    /// The day of the quote, which stands so many days from then on [default: today, UTC]
    #[arg(long, value_name = "YYYY-MM-DD")]
    pub date: Option<Date>,
    /// The client, as the quote names them
    #[arg(long = "for", value_name = "NAME", value_parser = name)]
    pub client: Option<String>,
    /// The same piece of another wood or grade beside it: cherry=walnut, grade=FAS, or both with a comma between; planned
    /// from the same pile, may be given several times
    #[arg(long, value_name = "THIS=THAT")]
    pub instead: Vec<Instead>,
    /// Write the client's page here, as HTML or PDF by its name; may be given twice
    #[arg(long, value_name = "FILE.html|FILE.pdf", value_hint = ValueHint::FilePath)]
    pub client_page: Vec<PathBuf>,
    /// Write the quote (JSON) here; without it, only standard output carries it
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub out: Option<PathBuf>,
    /// What standard output carries: the maker's own sheet to read, or the quote as JSON or CSV
    #[arg(long, value_enum, default_value_t = SheetFormat::Text)]
    pub format: SheetFormat,
    #[command(flatten)]
    pub search: SearchArgs,
}

/// The stock and how its files are read.
#[derive(Debug, clap::Args)]
pub struct StockArgs {
    /// The pile: boards, sheets and sticks, JSON or CSV
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub pile: PathBuf,
    #[command(flatten)]
    pub reading: ReadingArgs,
}

/// How CSV files are read.
#[derive(Debug, clap::Args)]
pub struct ReadingArgs {
    /// Defects of the boards in a CSV of their own, with a column `board`
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub defects: Option<PathBuf>,
    /// What a bare number in a CSV file is measured in
    #[arg(long, value_enum, default_value_t = CsvUnits::In)]
    pub units: CsvUnits,
}

/// Check a plan against its job and pile: every rule again, from the files alone
#[derive(Debug, clap::Args)]
pub struct CheckArgs {
    /// The parts list, JSON or CSV
    #[arg(value_name = "JOB", value_hint = ValueHint::FilePath)]
    pub job: PathBuf,
    /// The pile, JSON or CSV
    #[arg(value_name = "PILE", value_hint = ValueHint::FilePath)]
    pub pile: PathBuf,
    /// The plan
    #[arg(value_name = "PLAN", value_hint = ValueHint::FilePath)]
    pub plan: PathBuf,
    #[command(flatten)]
    pub reading: ReadingArgs,
    /// Shop profile (JSON) the plan was made with
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub shop: Option<PathBuf>,
    /// A list to read, or JSON
    #[arg(long, value_enum, default_value_t = Format::Text)]
    pub format: Format,
}

/// Draw a plan: one cut diagram for each board, sheet and stick, and an overview
#[derive(Debug, clap::Args)]
pub struct DrawArgs {
    /// The plan
    #[arg(value_name = "PLAN", value_hint = ValueHint::FilePath)]
    pub plan: PathBuf,
    #[command(flatten)]
    pub stock: StockArgs,
    /// The folder for the drawings (SVG); made if need be
    #[arg(long, value_name = "DIR", value_hint = ValueHint::DirPath)]
    pub out: PathBuf,
}

/// Tally a pile: board feet as billed and as measured, and what it cost, by species and thickness
#[derive(Debug, clap::Args)]
pub struct TallyArgs {
    /// The pile, JSON or CSV
    #[arg(value_name = "PILE", value_hint = ValueHint::FilePath)]
    pub pile: PathBuf,
    #[command(flatten)]
    pub reading: ReadingArgs,
    /// A table to read, or JSON
    #[arg(long, value_enum, default_value_t = Format::Text)]
    pub format: Format,
}

/// Grade a pile: the hardwood grade each board reaches, what keeps it from the next, received against invoiced
///
/// The rules are the standard ones of the National Hardwood Lumber Association, from FAS to No.3B Common.
#[derive(Debug, clap::Args)]
pub struct GradeArgs {
    /// The pile, JSON or CSV
    #[arg(value_name = "PILE", value_hint = ValueHint::FilePath)]
    pub pile: PathBuf,
    #[command(flatten)]
    pub reading: ReadingArgs,
    /// A list to read, JSON, or a table for a spreadsheet
    #[arg(long, value_enum, default_value_t = SheetFormat::Text)]
    pub format: SheetFormat,
    /// Draw the cuttings of every board (SVG) into this folder; made if need be
    #[arg(long, value_name = "DIR", value_hint = ValueHint::DirPath)]
    pub drawings: Option<PathBuf>,
}

/// How much lumber to order so that a job can be made, and with what confidence
///
/// Random deliveries of boards of the grade are planned, lot by lot, until the job can be made; the order is what suffices
/// in the share of lots asked for. With --pile the lots are drawn from past boards of the shop. Exit code 3 when no
/// quantity suffices in that share.
#[derive(Debug, clap::Args)]
pub struct OrderArgs {
    /// The parts list, JSON or CSV
    #[arg(value_name = "JOB", value_hint = ValueHint::FilePath)]
    pub job: PathBuf,
    /// The wood to order; parts of others are left out
    #[arg(long, value_name = "SPECIES")]
    pub species: String,
    /// A grade, with its price a board foot if totals are wanted: FAS or FAS=9.60; several are compared
    #[arg(long = "grade", value_name = "GRADE[=PRICE]", required = true)]
    pub grades: Vec<OfferedGrade>,
    /// A thickness in quarters, such as 5/4; may be given several times [default: those the parts need]
    #[arg(long = "thickness", value_name = "T", value_parser = quarters)]
    pub thicknesses: Vec<(u16, u16)>,
    /// Past boards of the shop to draw from, JSON or CSV, in place of made-up ones
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub pile: Option<PathBuf>,
    #[command(flatten)]
    pub reading: ReadingArgs,
    /// Shop profile (JSON); what it says goes before the defaults, what the job says goes before it
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub shop: Option<PathBuf>,
    /// The share of deliveries that must be enough: 0.95 or 95%
    #[arg(long, value_name = "P", default_value = "95%")]
    pub confidence: Share,
    /// Random deliveries to try
    #[arg(long, value_name = "N", default_value_t = 200, value_parser = whole(1u32, Some(100_000)))]
    pub lots: u32,
    /// Seed of every random choice
    #[arg(long, value_name = "N", default_value_t = 1, value_parser = whole(0u64, None))]
    pub seed: u64,
    /// Threads to use; 0 is one a core. The figures do not depend on it
    #[arg(long, value_name = "N", default_value_t = 0, value_parser = whole(0usize, None))]
    pub threads: usize,
    /// Freight of the whole order
    #[arg(long, value_name = "MONEY", default_value = "0", value_parser = money)]
    pub freight: Money,
    /// Board feet are sold in whole multiples of this
    #[arg(long, value_name = "BF", default_value_t = 1, value_parser = whole(1u32, Some(100_000)))]
    pub bundle: u32,
    /// Surfacing, a board foot
    #[arg(long, value_name = "MONEY", default_value = "0", value_parser = money)]
    pub surfacing: Money,
    /// Premium a board foot for boards so wide or wider, such as "10 in=1.20"
    #[arg(long, value_name = "WIDTH=MONEY", value_parser = premium)]
    pub wide: Option<(Length, Money)>,
    /// Premium a board foot for boards so long or longer, such as "12 ft=0.80"
    #[arg(long, value_name = "LENGTH=MONEY", value_parser = premium)]
    pub long: Option<(Length, Money)>,
    /// Share of the lumber bought to reserve for hidden defects: 0.05 or 5%
    #[arg(long, value_name = "P", default_value = "0")]
    pub reserve: Share,
    /// The yard bills the tally before drying; the share that drying takes: 0.08 or 8%
    #[arg(long, value_name = "P", default_value = "0")]
    pub gross: Share,
    /// Words to read, or JSON
    #[arg(long, value_enum, default_value_t = Format::Text)]
    pub format: Format,
    /// Draw the yields as a histogram (SVG) into this file
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub draw: Option<PathBuf>,
    /// Report progress on standard error
    #[arg(long, value_enum, default_value_t = ShowProgress::Auto)]
    pub progress: ShowProgress,
}

/// Print the JSON Schema of a file
#[derive(Debug, clap::Args)]
pub struct SchemaArgs {
    /// Which file
    #[arg(value_enum)]
    pub of: FileKind,
}

/// Serve plans and cut diagrams over HTTP, for other programs
///
/// Listens on this machine only, unless a token file says who else may come in. The page at / lists every address. Logs go
/// to standard error; standard output gets one line, the address. Ctrl-C or a polite kill ends it in good order.
#[derive(Debug, clap::Args)]
pub struct ServeArgs {
    /// Where to listen; port 0 takes a free one
    #[arg(long, value_name = "ADDRESS", default_value_t = serve::Settings::default().bind)]
    pub bind: SocketAddr,
    /// Who may come in: a space's name and a token on each line. Plans belong to a space
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub tokens: Option<PathBuf>,
    /// Keep plans in this file (SQLite), made if need be; without it they end with the program
    #[arg(long, value_name = "FILE", value_hint = ValueHint::FilePath)]
    pub store: Option<PathBuf>,
    /// Let pages of this origin call, such as https://shop.example; may be given several times
    #[arg(long = "allow-origin", value_name = "ORIGIN")]
    pub origins: Vec<String>,
    /// Plans made at one time; 0 is one for every two cores
    #[arg(long, value_name = "N", default_value_t = 0, value_parser = whole(0usize, None))]
    pub solves: usize,
    /// Plans that may wait for their turn; beyond, clients are told to come again
    #[arg(long, value_name = "N", default_value_t = serve::Limits::default().queue, value_parser = whole(0usize, None))]
    pub queue: usize,
    /// Longest search that may be asked for, seconds
    #[arg(long, value_name = "S", default_value_t = serve::Limits::default().seconds, value_parser = seconds)]
    pub max_seconds: f64,
    /// How long a client waits for a plan before it is told where it will be, seconds
    #[arg(long, value_name = "S", default_value = "5", value_parser = seconds)]
    pub answer_within: f64,
    /// Largest body, bytes
    #[arg(long, value_name = "N", default_value_t = serve::Limits::default().body, value_parser = whole(0usize, None))]
    pub max_body: usize,
    /// Finished plans kept for each space
    #[arg(long, value_name = "N", default_value_t = serve::Settings::default().keep.plans, value_parser = whole(0u32, None))]
    pub keep: u32,
    /// Days a finished plan is kept
    #[arg(long, value_name = "DAYS", default_value_t = 30, value_parser = whole(1u32, Some(36_500)))]
    pub keep_days: u32,
    /// Megabytes kept for each space: plans with their jobs and piles
    #[arg(long, value_name = "MB", default_value_t = 1024, value_parser = whole(1u32, None))]
    pub keep_megabytes: u32,
    /// How long running plans may go on at the end, seconds
    #[arg(long, value_name = "S", default_value = "10", value_parser = seconds)]
    pub grace: f64,
    /// What the log says: only warnings, every request too, or every detail
    #[arg(long, value_enum, default_value_t = LogLevel::Requests)]
    pub log: LogLevel,
}

/// Make up a job and a pile of any size, to try the program on
#[derive(Debug, clap::Args)]
pub struct SampleArgs {
    /// Seed: the same one gives the same files
    #[arg(long, value_name = "N", default_value_t = 1, value_parser = whole(0u64, None))]
    pub seed: u64,
    /// Boards in the pile
    #[arg(long, value_name = "B", default_value_t = 40, value_parser = whole(*sample::BOARDS.start(), Some(*sample::BOARDS.end())))]
    pub boards: u32,
    /// Finished pieces in the job
    #[arg(long, value_name = "P", default_value_t = 120, value_parser = whole(*sample::PIECES.start(), Some(*sample::PIECES.end())))]
    pub pieces: u32,
    /// Ask for panels and laminations in place of staves and thick legs
    #[arg(long)]
    pub glued: bool,
    /// What to measure in
    #[arg(long, value_enum, default_value_t = CsvUnits::In)]
    pub units: CsvUnits,
    /// The folder for job.json and pile.json; made if need be
    #[arg(long, value_name = "DIR", default_value = ".", value_hint = ValueHint::DirPath)]
    pub out: PathBuf,
}

/// Print a completion script for a shell
#[derive(Debug, clap::Args)]
pub struct CompletionsArgs {
    /// Which shell
    #[arg(value_enum)]
    pub shell: clap_complete::Shell,
}
