//! From what was typed to what is meant: every default filled in, every contradiction refused, before any file is read.

use std::path::{Path, PathBuf};
use std::time::Duration;

use crate::measure::{Units, decimal_from_f64};
use crate::order::{Offer, Terms};
use crate::pile::Nominal;
use crate::plan;
use crate::quote::{Date, Instead};
use crate::serve;

use super::args::{
    Args, CheckArgs, Command, DrawArgs, FileKind, FillArgs, Format, GradeArgs, JobArgs, LogLevel, OrderArgs, PlanArgs,
    QuoteArgs, ReadingArgs, SampleArgs, SearchArgs, ServeArgs, Share, SheetFormat, ShowProgress, TallyArgs,
};
use super::failure::Failure;
use super::watch::Reporting;

/// Seconds a plan may take when nothing else was said: long enough for a commission of everyday size, short enough to
/// wait for.
const PATIENT_SECONDS: f64 = 10.0;

/// What the program knows of its surroundings.
#[derive(Clone, Copy, Debug)]
pub struct Surroundings {
    /// A person watches standard error.
    pub stderr_is_terminal: bool,
}

/// A command, resolved.
#[derive(Clone, Debug, PartialEq)]
pub enum Settings {
    Plan(PlanSettings),
    Fill(FillSettings),
    Quote(Box<QuoteSettings>),
    Check(CheckSettings),
    Draw(DrawSettings),
    Tally(TallySettings),
    Grade(GradeSettings),
    Order(Box<OrderSettings>),
    Schema(FileKind),
    Serve(Box<ServeSettings>),
    Sample(SampleSettings),
    Completions(clap_complete::Shell),
}

/// The files that say what stock there is.
#[derive(Clone, Debug, PartialEq)]
pub struct StockFiles {
    pub pile: PathBuf,
    pub defects: Option<PathBuf>,
    /// Of bare numbers in CSV.
    pub units: Units,
}

/// The files that say what is to be made.
#[derive(Clone, Debug, PartialEq)]
pub struct JobFiles {
    pub job: PathBuf,
    pub shop: Option<PathBuf>,
    /// Of bare numbers in CSV.
    pub units: Units,
}

#[derive(Clone, Debug, PartialEq)]
pub struct PlanSettings {
    pub job: JobFiles,
    pub stock: StockFiles,
    pub options: plan::Options,
    pub out: Option<PathBuf>,
    pub drawings: Option<PathBuf>,
    pub format: Format,
    pub reporting: Reporting,
}

#[derive(Clone, Debug, PartialEq)]
pub struct FillSettings {
    pub job: JobFiles,
    pub stock: StockFiles,
    pub pick: plan::fill::Pick,
    pub options: plan::fill::FillOptions,
    pub out: Option<PathBuf>,
    pub drawings: Option<PathBuf>,
    pub format: Format,
}

#[derive(Clone, Debug, PartialEq)]
pub struct QuoteSettings {
    pub job: JobFiles,
    pub stock: StockFiles,
    /// The plan to price; one is made when there is none.
    pub plan: Option<PathBuf>,
    pub options: plan::Options,
    pub reporting: Reporting,
    /// Today when not stated.
    pub date: Option<Date>,
    pub client: Option<String>,
    pub instead: Vec<Instead>,
    pub pages: Vec<ClientPage>,
    pub out: Option<PathBuf>,
    pub format: SheetFormat,
}

/// A client's page to be written.
#[derive(Clone, Debug, PartialEq)]
pub enum ClientPage {
    Html(PathBuf),
    Pdf(PathBuf),
}

#[derive(Clone, Debug, PartialEq)]
pub struct CheckSettings {
    pub job: JobFiles,
    pub stock: StockFiles,
    pub plan: PathBuf,
    pub format: Format,
}

#[derive(Clone, Debug, PartialEq)]
pub struct DrawSettings {
    pub plan: PathBuf,
    pub stock: StockFiles,
    pub out: PathBuf,
}

#[derive(Clone, Debug, PartialEq)]
pub struct TallySettings {
    pub stock: StockFiles,
    pub format: Format,
}

#[derive(Clone, Debug, PartialEq)]
pub struct GradeSettings {
    pub stock: StockFiles,
    pub drawings: Option<PathBuf>,
    pub format: SheetFormat,
}

#[derive(Clone, Debug, PartialEq)]
pub struct OrderSettings {
    pub job: JobFiles,
    pub past: Option<StockFiles>,
    pub species: String,
    pub thicknesses: Vec<Nominal>,
    pub offers: Vec<Offer>,
    pub terms: Terms,
    pub confidence: f64,
    pub lots: u32,
    pub seed: u64,
    pub threads: usize,
    pub drawing: Option<PathBuf>,
    pub format: Format,
    pub reporting: Reporting,
}

#[derive(Clone, Debug, PartialEq)]
pub struct ServeSettings {
    pub service: serve::Settings,
    pub log: LogLevel,
}

#[derive(Clone, Debug, PartialEq)]
pub struct SampleSettings {
    pub seed: u64,
    pub boards: u32,
    pub pieces: u32,
    pub glued: bool,
    pub units: Units,
    pub out: PathBuf,
}

/// What the typed arguments mean.
///
/// # Errors
/// [`Failure::Input`] when they contradict each other.
pub fn resolve(args: Args, around: Surroundings) -> Result<Settings, Failure> {
    Ok(match args.command {
        Command::Plan(args) => Settings::Plan(resolve_plan(args, around)?),
        Command::Fill(args) => Settings::Fill(resolve_fill(args)?),
        Command::Quote(args) => Settings::Quote(Box::new(resolve_quote(args, around)?)),
        Command::Check(args) => Settings::Check(resolve_check(args)),
        Command::Draw(args) => Settings::Draw(resolve_draw(args)),
        Command::Tally(args) => Settings::Tally(resolve_tally(args)),
        Command::Grade(args) => Settings::Grade(resolve_grade(args)),
        Command::Order(args) => Settings::Order(Box::new(resolve_order(*args, around)?)),
        Command::Schema(args) => Settings::Schema(args.of),
        Command::Serve(args) => Settings::Serve(Box::new(resolve_serve(args))),
        Command::Sample(args) => Settings::Sample(resolve_sample(args)),
        Command::Completions(args) => Settings::Completions(args.shell),
    })
}

fn resolve_plan(args: PlanArgs, around: Surroundings) -> Result<PlanSettings, Failure> {
    let (job, stock) = job_files(args.on);
    keep_inputs(args.result.out.as_deref(), &job, &stock)?;
    let (options, reporting) = search(&args.search, around);
    Ok(PlanSettings {
        job,
        stock,
        options,
        out: args.result.out,
        drawings: args.result.draw,
        format: args.result.format,
        reporting,
    })
}

fn job_files(args: JobArgs) -> (JobFiles, StockFiles) {
    let stock = stock_files(args.stock.pile, args.stock.reading);
    (JobFiles { job: args.job, shop: args.shop, units: stock.units }, stock)
}

/// Limits to the search, and how it is heard of.
fn search(args: &SearchArgs, around: Surroundings) -> (plan::Options, Reporting) {
    let seconds = match (args.seconds, args.work) {
        (None, None) => Some(PATIENT_SECONDS),
        (seconds, _) => seconds,
    };
    let options = plan::Options { seconds, work: args.work, gap: args.gap.0, seed: args.seed, threads: args.threads };
    (options, reporting(args.progress, around))
}

fn resolve_quote(args: QuoteArgs, around: Surroundings) -> Result<QuoteSettings, Failure> {
    let (job, stock) = job_files(args.on);
    let written: Vec<&PathBuf> = args.out.iter().chain(&args.client_page).collect();
    for (i, &path) in written.iter().enumerate() {
        keep_inputs(Some(path), &job, &stock)?;
        args.plan.as_ref().map_or(Ok(()), |plan| refuse_overwriting(path, plan))?;
        if written[..i].contains(&path) {
            let message = format!("{} would be written twice; give each file a name of its own", path.display());
            return Err(Failure::input(message));
        }
    }
    let pages = args.client_page.into_iter().map(client_page).collect::<Result<_, _>>()?;
    let (options, reporting) = search(&args.search, around);
    Ok(QuoteSettings {
        job,
        stock,
        plan: args.plan,
        options,
        reporting,
        date: args.date,
        client: args.client,
        instead: args.instead,
        pages,
        out: args.out,
        format: args.format,
    })
}

/// A client's page by the ending of its name.
fn client_page(path: PathBuf) -> Result<ClientPage, Failure> {
    let ending = path.extension().and_then(|ending| ending.to_str()).unwrap_or_default().to_ascii_lowercase();
    match ending.as_str() {
        "html" | "htm" => Ok(ClientPage::Html(path)),
        "pdf" => Ok(ClientPage::Pdf(path)),
        _ => {
            let shown = path.display();
            Err(Failure::input(format!("--client-page {shown}: its name says no kind; end it in .html or .pdf")))
        }
    }
}

fn reporting(progress: ShowProgress, around: Surroundings) -> Reporting {
    match progress {
        ShowProgress::Auto if around.stderr_is_terminal => Reporting::OneLine,
        ShowProgress::Auto | ShowProgress::Never => Reporting::Silent,
        ShowProgress::Always => Reporting::Lines,
    }
}

fn resolve_fill(args: FillArgs) -> Result<FillSettings, Failure> {
    let (job, stock) = job_files(args.on);
    keep_inputs(args.result.out.as_deref(), &job, &stock)?;
    Ok(FillSettings {
        job,
        stock,
        pick: plan::fill::Pick { id: args.id, copy: args.copy },
        options: plan::fill::FillOptions { seconds: Some(args.seconds), any_number: args.any_number },
        out: args.result.out,
        drawings: args.result.draw,
        format: args.result.format,
    })
}

fn resolve_check(args: CheckArgs) -> CheckSettings {
    let stock = stock_files(args.pile, args.reading);
    let job = JobFiles { job: args.job, shop: args.shop, units: stock.units };
    CheckSettings { job, stock, plan: args.plan, format: args.format }
}

fn resolve_draw(args: DrawArgs) -> DrawSettings {
    DrawSettings { plan: args.plan, stock: stock_files(args.stock.pile, args.stock.reading), out: args.out }
}

fn resolve_tally(args: TallyArgs) -> TallySettings {
    TallySettings { stock: stock_files(args.pile, args.reading), format: args.format }
}

fn resolve_grade(args: GradeArgs) -> GradeSettings {
    GradeSettings { stock: stock_files(args.pile, args.reading), drawings: args.drawings, format: args.format }
}

fn resolve_order(args: OrderArgs, around: Surroundings) -> Result<OrderSettings, Failure> {
    let units: Units = args.reading.units.into();
    let past = args.pile.map(|pile| stock_files(pile, args.reading));
    let job = JobFiles { job: args.job, shop: args.shop, units };
    if let Some(out) = args.draw.as_deref() {
        let read = [Some(&job.job), past.as_ref().map(|past| &past.pile), job.shop.as_ref()];
        read.into_iter().flatten().try_for_each(|input| refuse_overwriting(out, input))?;
    }
    if !(args.confidence.0 > 0.0 && args.confidence.0 < 1.0) {
        return Err(Failure::input(
            "--confidence is a share above 0 and below 1, such as 95%; nothing is ever certain",
        ));
    }
    let below_one = |name: &str, share: Share| {
        let exact = decimal_from_f64(share.0).filter(|_| share.0 < 1.0);
        exact.ok_or_else(|| Failure::input(format!("{name} is a share from 0 to below 1, such as 5%")))
    };
    Ok(OrderSettings {
        job,
        past,
        species: args.species,
        thicknesses: args
            .thicknesses
            .into_iter()
            .map(|(numerator, denominator)| Nominal { numerator, denominator })
            .collect(),
        offers: args.grades.into_iter().map(|offer| Offer { grade: offer.grade, price: offer.price }).collect(),
        terms: Terms {
            freight: args.freight,
            bundle: args.bundle,
            surfacing: args.surfacing,
            wide: args.wide,
            long: args.long,
            reserve: below_one("--reserve", args.reserve)?,
            gross: below_one("--gross", args.gross)?,
        },
        confidence: args.confidence.0,
        lots: args.lots,
        seed: args.seed,
        threads: args.threads,
        drawing: args.draw,
        format: args.format,
        reporting: reporting(args.progress, around),
    })
}

fn resolve_serve(args: ServeArgs) -> ServeSettings {
    let plain = serve::Settings::default();
    let limits = serve::Limits {
        body: args.max_body,
        bodies: plain.limits.bodies.max(args.max_body.saturating_mul(2)),
        seconds: args.max_seconds,
        solves: if args.solves == 0 { plain.limits.solves } else { args.solves },
        queue: args.queue,
        patience: Duration::from_secs_f64(args.answer_within),
        ..plain.limits
    };
    let keep = serve::Keep {
        plans: args.keep,
        age: Duration::from_secs(u64::from(args.keep_days) * 24 * 3600),
        bytes: u64::from(args.keep_megabytes) << 20,
    };
    let service = serve::Settings {
        bind: args.bind,
        token_file: args.tokens,
        store: args.store,
        origins: args.origins,
        limits,
        keep,
        grace: Duration::from_secs_f64(args.grace),
        doors: plain.doors,
    };
    ServeSettings { service, log: args.log }
}

fn resolve_sample(args: SampleArgs) -> SampleSettings {
    SampleSettings {
        seed: args.seed,
        boards: args.boards,
        pieces: args.pieces,
        glued: args.glued,
        units: args.units.into(),
        out: args.out,
    }
}

fn stock_files(pile: PathBuf, reading: ReadingArgs) -> StockFiles {
    StockFiles { pile, defects: reading.defects, units: reading.units.into() }
}

/// Refuses an `out` that is one of the files read.
fn keep_inputs(out: Option<&Path>, job: &JobFiles, stock: &StockFiles) -> Result<(), Failure> {
    let Some(out) = out else { return Ok(()) };
    let read = [Some(&job.job), Some(&stock.pile), stock.defects.as_ref(), job.shop.as_ref()];
    read.into_iter().flatten().try_for_each(|input| refuse_overwriting(out, input))
}

/// What is written may not take the place of a file it is made from, by whatever path it is reached.
fn refuse_overwriting(out: &Path, input: &Path) -> Result<(), Failure> {
    let same = match (out.canonicalize(), input.canonicalize()) {
        (Ok(out), Ok(input)) => out == input,
        _ => out == input,
    };
    if same {
        let message = format!("{} would overwrite a file that is read; choose another", out.display());
        return Err(Failure::input(message));
    }
    Ok(())
}

#[cfg(test)]
mod tests;
