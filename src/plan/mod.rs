//! The answer, brought back to the shop: cut trees, the order of work, glue-ups, offcuts, shortages, cautions.
//!
//! Types of the published plan live here; `build` makes one from the optimiser's layouts: `tree` the cut trees, `copies`
//! which copy each blank is, `hearts` and `glue` how they are glued up, `money` cost and credit, `cuts` and `work` the order at
//! the saws, `offcuts` what is left, `scarcity`, `tight` and `cautions` what a maker should know before the first cut. `file`
//! writes and reads plan files, `check` decides from the files alone whether a plan is lawful, `text` writes the short
//! summary. `make` is the whole road (`choices` what is decided before milling, `search` which of it is best), `fill` that for
//! one piece of stock alone. No cut is searched for here. Invariant: a plan never leaves the program unless the checker found nothing.

mod build;
mod case;
mod cautions;
pub mod check;
pub(crate) mod choices;
mod convert;
mod copies;
mod cuts;
pub mod file;
pub mod fill;
mod glue;
mod hearts;
pub(crate) mod make;
mod money;
mod offcuts;
mod say;
mod scarcity;
mod search;
mod sheet_tree;
pub mod text;
mod tight;
mod tree;
mod weights;
mod work;

#[cfg(test)]
mod tests;

pub use build::{BuildError, Facts, build};
pub use case::Case;
pub use make::{MakeError, Options, make};

use serde::{Deserialize, Serialize, Serializer};

use crate::measure::{Length, Money, Units};

/// The only plan format this version writes and reads.
pub const FORMAT: &str = "flitchwork.plan/1";

/// A length as it stands in a plan file: a plain number in the file's units.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Deserialize, schemars::JsonSchema)]
#[serde(transparent)]
pub struct Number(pub f64);

/// Whole numbers are written without a decimal point, as a person would.
impl Serialize for Number {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        const EXACT: f64 = 9_007_199_254_740_992.0;
        if self.0.fract() == 0.0 && self.0.abs() < EXACT {
            serializer.serialize_i64(self.0 as i64)
        } else {
            serializer.serialize_f64(self.0)
        }
    }
}

/// A plan. `L` is [`Length`] in the program and [`Number`] in a file.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields, bound(deserialize = "L: Deserialize<'de> + Default"))]
pub struct Plan<L> {
    /// Always `flitchwork.plan/1`.
    pub format: String,
    /// Units of every length below.
    pub units: Units,
    /// The job's title.
    #[serde(default)]
    pub title: String,
    /// `complete` when every copy of every part is made.
    pub status: Status,
    /// Why the search ended.
    pub stop: Stop,
    /// Cost of the stock used, plus the worth of matches broken, less the credit of kept offcuts.
    #[serde(with = "money_number")]
    #[schemars(with = "f64")]
    pub cost: Money,
    /// Worth of the matches broken, counted in `cost`.
    #[serde(with = "money_number")]
    #[schemars(with = "f64")]
    pub broken: Money,
    /// No plan that makes as many copies of every part is cheaper than this; printed rounded down.
    #[serde(with = "money_number")]
    #[schemars(with = "f64")]
    pub bound: Money,
    /// (cost - bound) / cost.
    pub gap: f64,
    /// True when cost - bound is at most 0.01 or 0.05 % of the cost.
    pub proven: bool,
    /// How the bound was found, in words.
    pub proof: String,
    /// Seed of every random choice.
    pub seed: u64,
    /// How the run went; the only part that differs between equal runs.
    pub run: Run,
    /// Finished copies asked for.
    pub pieces_required: u32,
    /// Finished copies in the plan.
    pub pieces_placed: u32,
    /// Every piece of stock that is cut, in the order of the pile.
    pub stock: Vec<StockUse<L>>,
    /// What is glued to what.
    pub glueups: Vec<GlueUp<L>>,
    /// What is not made, why, and what to buy.
    pub shortages: Vec<Shortage>,
    /// Reminders and warnings that apply to this plan.
    pub cautions: Vec<String>,
    /// Every saw cut in shop order; `number` is what the drawings show.
    pub cuts: Vec<Cut<L>>,
    /// The work by machine, in shop order.
    pub work: Work<L>,
    /// Everything left that is worth keeping, credited or not.
    pub offcuts: Vec<OffcutRow<L>>,
    /// Weight of each part as finished.
    pub weights: Vec<WeightRow>,
}

/// Whether everything is made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Status {
    Complete,
    Short,
}

/// Why the search ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Stop {
    Proven,
    Gap,
    Time,
    Work,
    Cancelled,
}

/// How the run went.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Run {
    /// Wall clock, seconds.
    pub seconds: f64,
    /// Threads used.
    pub threads: usize,
}

/// What kind of stock a piece is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum StockKind {
    Board,
    Sheet,
    Stick,
}

/// One piece of stock and how it is cut.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields, bound(deserialize = "L: Deserialize<'de> + Default"))]
pub struct StockUse<L> {
    /// Id in the pile.
    pub id: String,
    /// Which of its equal pieces, from 1.
    pub copy: u32,
    pub kind: StockKind,
    /// What the piece costs.
    #[serde(with = "money_number")]
    #[schemars(with = "f64")]
    pub cost: Money,
    /// Credit of its kept offcuts.
    #[serde(with = "money_number")]
    #[schemars(with = "f64")]
    pub credit: Money,
    /// The cuts.
    pub tree: Node<L>,
}

/// How the children of a node are parted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum CutKind {
    /// Saw across the length: children differ in x.
    Cross,
    /// Saw along the length: children differ in y.
    Rip,
}

/// What a node is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Role {
    Section,
    Strip,
    Blank,
    Offcut,
}

/// A rectangle in the stock's own coordinates and what is cut from it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields, bound(deserialize = "L: Deserialize<'de> + Default"))]
pub struct Node<L> {
    /// From the left end.
    pub x: L,
    /// From the reference edge.
    pub y: L,
    pub length: L,
    pub width: L,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub role: Option<Role>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cut: Option<CutKind>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub children: Vec<Node<L>>,
    /// Of an offcut.
    #[serde(default, skip_serializing_if = "Option::is_none", with = "money_option")]
    #[schemars(with = "Option<f64>")]
    pub credit: Option<Money>,
    /// Of a blank: the part's id.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub part: Option<String>,
    /// Of a blank: which copy, from 1.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub copy: Option<u32>,
    /// Of a lamination's blank: which layer, from 1.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub layer: Option<u32>,
    /// Of a panel's blank: which stave, from 1.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stave: Option<u32>,
    /// Planed thickness of a layer or a stave.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub thickness: Option<L>,
    /// A sheet part laid with its length across the sheet's.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub turned: bool,
    /// Of a resawn blank, from the top face down, in place of `part`.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub leaves: Vec<Leaf<L>>,
    /// Of a blank: where the finished piece (with tenons) lies.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub net: Option<Rectangle<L>>,
}

/// One leaf of a resawn blank.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Leaf<L> {
    pub part: String,
    pub copy: u32,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub layer: Option<u32>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stave: Option<u32>,
    /// Planed thickness.
    pub thickness: L,
}

/// A rectangle in the stock's own coordinates.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Rectangle<L> {
    pub x: L,
    pub y: L,
    pub length: L,
    pub width: L,
}

/// What kind of glue-up.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum GlueKind {
    Panel,
    Lamination,
}

/// One copy of a glued-up part.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct GlueUp<L> {
    pub part: String,
    pub copy: u32,
    pub kind: GlueKind,
    pub members: Vec<Member<L>>,
    /// What comes out of the clamps, and how it is got there.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub sheet: Option<GlueSheet<L>>,
}

/// The figures of one glue-up.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct GlueSheet<L> {
    /// The blank as it comes out of the clamps.
    pub glued: Size<L>,
    /// The part it is planed and trimmed to, tenons counted.
    pub trimmed: Size<L>,
    /// Width left to trim: glued less trimmed width.
    pub to_trim: L,
    /// Of a panel: how much wider it is glued than it must be.
    pub excess: L,
    /// Glue joints.
    pub joints: u32,
    /// Area of all joints, square units of the file.
    pub glue_area: f64,
    /// Clamps along one row: one near each end and no more than the shop's spacing between two.
    pub clamps_in_row: u32,
    /// Rows of clamps across the width; 1 for a panel, whose clamps lie over and under it in turn.
    pub clamp_rows: u32,
    /// How its width moves with the seasons; left out for woods without a movement coefficient.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub movement: Option<Movement<L>>,
    /// Pounds of the finished part, left out for woods without a density.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pounds: Option<f64>,
    /// What to do, in order.
    pub steps: Vec<String>,
}

/// Length, width and thickness.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Size<L> {
    pub length: L,
    pub width: L,
    pub thickness: L,
}

/// Change of a finished width from the moisture it is built at; a negative change is shrinkage.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Movement<L> {
    /// Every board is quartersawn, so that the width moves radially; else it is taken to move tangentially.
    pub quartersawn: bool,
    /// Percent of moisture as built, and what the wood settles at in the driest and the dampest season.
    pub built: f64,
    pub dry: f64,
    pub damp: f64,
    /// Change of the width in the driest and in the dampest season.
    pub dry_change: L,
    pub damp_change: L,
}

/// One blank of a glue-up.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Member<L> {
    pub stock: String,
    pub stock_copy: u32,
    /// The blank's own x.
    pub x: L,
    /// The blank's own y.
    pub y: L,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stave: Option<u32>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub layer: Option<u32>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub net_width: Option<L>,
    /// The board's face that shows or faces up.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub face_up: Option<crate::pile::Face>,
}

/// What is not made.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Shortage {
    pub part: String,
    /// Copies not made.
    pub missing: u32,
    /// Why, with figures.
    pub why: String,
    /// What to buy.
    pub buy: String,
    /// True when no plan could make them all.
    pub proven: bool,
}

/// Where a cut is made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Station {
    /// Boards into sections, before anything is flat.
    RoughCrosscut,
    /// Sections into strips, strips to width.
    Rip,
    /// Strips into blanks.
    FinalCrosscut,
    /// Sheets into parts.
    Sheet,
    /// Sticks into parts.
    Stick,
}

/// One saw cut.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Cut<L> {
    /// In shop order over the whole job, from 1.
    pub number: u32,
    pub stock: String,
    pub stock_copy: u32,
    pub station: Station,
    pub cut: CutKind,
    /// The kerf's near side: x of a cross cut, y of a rip, in the stock's own coordinates.
    pub at: L,
    /// The kerf's far side. A trim's kerf lies in the trim.
    pub to: L,
    /// Where the saw line begins in the other coordinate.
    pub from_edge: L,
    /// Where it ends.
    pub to_edge: L,
    /// Fence (rip) or stop (crosscut) setting: the size that this cut brings a piece to; none for a freehand-length trim.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub setting: Option<L>,
    /// What the cut does, for a person.
    pub what: String,
}

/// The work by machine, in shop order.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Work<L> {
    /// What to pull from the pile.
    pub pull: Vec<PullRow<L>>,
    /// Rough crosscuts, a row a section, the scarcest and longest first.
    pub rough: Vec<RoughRow<L>>,
    /// What is planed together, by thickness.
    pub planer: Vec<PlanerBatch<L>>,
    /// Rips by fence setting.
    pub rips: Vec<SettingRow<L>>,
    /// Final crosscuts by stop setting.
    pub crosscuts: Vec<SettingRow<L>>,
    /// Crosscuts of sticks by stop setting.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub sticks: Vec<SettingRow<L>>,
}

/// One piece of stock to pull.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PullRow<L> {
    pub stock: String,
    pub stock_copy: u32,
    pub kind: StockKind,
    /// Species or material.
    pub wood: String,
    pub thickness: L,
    pub width: L,
    pub length: L,
    /// What is cut from it, in words: `2 rail, 1 stile`.
    pub makes: String,
    /// Remarks: `no second board can make "apron"`.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub remarks: Vec<String>,
}

/// One rough section.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RoughRow<L> {
    pub stock: String,
    pub stock_copy: u32,
    /// From the left end, one pull of the tape.
    pub from: L,
    pub to: L,
    /// Numbers of the cuts that free it.
    pub cuts: Vec<u32>,
    pub makes: String,
}

/// Pieces planed to one thickness.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PlanerBatch<L> {
    /// Planed thickness.
    pub thickness: L,
    /// Species.
    pub wood: String,
    /// Part ids, in the order of the job.
    pub parts: Vec<String>,
    /// Blanks in the batch.
    pub blanks: u32,
}

/// Cuts made at one setting of fence or stop.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SettingRow<L> {
    pub setting: L,
    /// Numbers of the cuts.
    pub cuts: Vec<u32>,
    /// What comes off, in words.
    pub makes: String,
}

/// A piece worth keeping.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OffcutRow<L> {
    pub stock: String,
    pub stock_copy: u32,
    pub x: L,
    pub y: L,
    pub length: L,
    pub width: L,
    /// Credit it earns; zero when it is only worth keeping.
    #[serde(with = "money_number")]
    #[schemars(with = "f64")]
    pub credit: Money,
}

/// What one finished copy of a part weighs.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct WeightRow {
    pub part: String,
    /// Pounds.
    pub pounds: f64,
    /// Kilograms.
    pub kilograms: f64,
}

mod money_number {
    use super::Money;
    use serde::{Deserialize, Deserializer, Serializer, de::Error};

    pub fn serialize<S: Serializer>(money: &Money, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_f64(money.to_f64())
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Money, D::Error> {
        let number = f64::deserialize(deserializer)?;
        Money::from_f64(number).ok_or_else(|| D::Error::custom("an amount of money must be a finite number"))
    }
}

mod money_option {
    use super::Money;
    use serde::{Deserialize, Deserializer, Serializer, de::Error};

    pub fn serialize<S: Serializer>(money: &Option<Money>, serializer: S) -> Result<S::Ok, S::Error> {
        match money {
            Some(money) => serializer.serialize_f64(money.to_f64()),
            None => serializer.serialize_none(),
        }
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Option<Money>, D::Error> {
        match Option::<f64>::deserialize(deserializer)? {
            None => Ok(None),
            Some(number) => Money::from_f64(number)
                .map(Some)
                .ok_or_else(|| D::Error::custom("an amount of money must be a finite number")),
        }
    }
}

/// A plan in the program.
pub type ShopPlan = Plan<Length>;
/// A plan as its file has it.
pub type PlanFile = Plan<Number>;
