//! The answer in words, and as numbers for a program.

use schemars::JsonSchema;
use serde::Serialize;

use super::figures::{Bar, Figure};
use super::{Answer, AskFor, Driver, GradeOrder, LotsDone, ThicknessOrder};
use crate::measure::{Length, Money, Units};
use crate::trade::grades::Grade;

/// Characters of the longest bar of a histogram.
const LONGEST: usize = 40;
/// Drivers named in the text.
const NAMED: usize = 5;

impl LotsDone {
    /// `120 of 200 lots, 34 s left`
    pub fn sentence(&self, seconds: f64) -> String {
        let left = seconds / self.done.max(1) as f64 * (self.of - self.done.min(self.of)) as f64;
        format!("{} of {} lots, about {:.0} s left", self.done, self.of, left)
    }
}

impl Answer {
    /// What to order, with what confidence, in the units of the job.
    pub fn as_text(&self, units: Units) -> String {
        let mut blocks = Vec::new();
        if self.cancelled {
            blocks.push("Cancelled: the figures are those of the lots finished.\n".to_owned());
        }
        blocks.extend(self.orders.iter().map(|order| self.order_text(order, units)));
        if self.totals.len() > 1 {
            let mut text = "Grades compared, everything included\n".to_owned();
            let least = self.totals.iter().map(|total| &total.cost).min();
            for total in &self.totals {
                let best = if Some(&total.cost) == least { "  the least" } else { "" };
                text.push_str(&format!(
                    "  {:<13} {:>6} bf  {:>10}{best}\n",
                    total.grade.name(),
                    total.board_feet,
                    total.cost.to_string()
                ));
            }
            blocks.push(text);
        }
        if !self.left_out.is_empty() {
            let lines = self.left_out.iter().map(|(part, why)| format!("  {part}: {why}\n"));
            blocks.push(format!("Not in this order\n{}", lines.collect::<String>()));
        }
        blocks.join("\n")
    }

    fn order_text(&self, order: &ThicknessOrder, units: Units) -> String {
        let (species, top, bottom) = (&self.question.species, order.nominal.numerator, order.nominal.denominator);
        let mut text =
            format!("{species} {top}/{bottom} for {}: {:.1} bf net\n", order.parts.join(", "), order.net_board_feet);
        for grade in &order.grades {
            text.push_str(&self.grade_text(grade, units));
        }
        text
    }

    fn grade_text(&self, grade: &GradeOrder, units: Units) -> String {
        let name = grade.grade.name();
        if let Some(why) = &grade.impossible {
            return format!("\n  {name}: cannot be ordered; {why}\n");
        }
        if grade.lots == 0 {
            return format!("\n  {name}: no lot was finished\n");
        }
        let lots = plural(grade.lots, "lot");
        let mut text = format!("\n  {name}, {lots}, seed {}\n", self.question.seed);
        for figure in &grade.figures {
            text.push_str(&format!("    {:>5.1} %  {}\n", figure.share * 100.0, feet_and_interval(figure)));
        }
        if grade.never > 0 {
            let share = 100.0 * grade.never as f64 / grade.lots.max(1) as f64;
            text.push_str(&format!("    {share:.1} % of the lots were never enough, however many boards came\n"));
        }
        if let Some(total) = &grade.total {
            let cost = total.cost.as_ref().map_or_else(String::new, |cost| format!(", {cost} without freight"));
            text.push_str(&format!("    order {} bf{cost}\n", total.board_feet));
        }
        match grade.checked {
            Some(true) => text.push_str("    the lot of that figure was planned whole, and the plan checked\n"),
            Some(false) => {
                text.push_str("    the lot of that figure was not planned whole in a second run: order a little more\n")
            }
            None => {}
        }
        if let (Some(usual), Some(asked)) = (grade.usual, self.asked_feet(grade)) {
            let ratio = asked / usual;
            text.push_str(&format!("    {ratio:.2} times the {usual:.0} bf of the usual waste factor\n"));
        }
        if let Some(median) = grade.median_yield() {
            text.push_str(&format!("    yield {:.0} % in the middle lot\n", 100.0 * median));
            text.push_str(&bars(&grade.histogram));
        }
        text.push_str(&drivers(&grade.drivers, units));
        text.push_str(&ask_for(&grade.ask_for, units));
        text
    }

    fn asked_feet(&self, grade: &GradeOrder) -> Option<f64> {
        grade.asked(self.question.confidence).and_then(|figure| figure.board_feet)
    }

    /// The answer as numbers; lengths in `units`.
    pub fn figures(&self, units: Units) -> OrderFigures {
        OrderFigures {
            units,
            species: self.question.species.clone(),
            lots: self.question.lots,
            seed: self.question.seed,
            confidence: self.question.confidence,
            cancelled: self.cancelled,
            orders: self.orders.iter().map(|order| thickness_figures(order, units)).collect(),
            totals: self
                .totals
                .iter()
                .map(|total| TotalFigures {
                    grade: total.grade,
                    board_feet: total.board_feet,
                    cost: total.cost.to_f64(),
                })
                .collect(),
            left_out: self
                .left_out
                .iter()
                .map(|(part, why)| LeftOutFigures { part: part.clone(), why: why.clone() })
                .collect(),
        }
    }

    /// The answer as JSON, two spaces a level, with a line feed at the end.
    pub fn as_json(&self, units: Units) -> String {
        let mut text = serde_json::to_string_pretty(&self.figures(units)).expect("records of texts and finite numbers");
        text.push('\n');
        text
    }
}

fn feet_and_interval(figure: &Figure) -> String {
    let Some(feet) = figure.board_feet else { return "more than any lot tried".to_owned() };
    let end = |end: Option<f64>| end.map_or_else(|| "?".to_owned(), |feet| format!("{feet:.1}"));
    format!("{feet:>7.1} bf  (95 % interval {} to {})", end(figure.from), end(figure.to))
}

fn bars(bars: &[Bar]) -> String {
    let most = bars.iter().map(|bar| bar.lots).max().unwrap_or(0).max(1);
    let line = |bar: &Bar| {
        let stars = (bar.lots * LONGEST).div_ceil(most);
        let stars = "#".repeat(stars);
        let line = format!("    {:>4.0}-{:<4.0}%  {:>4}  {stars}", bar.from * 100.0, bar.to * 100.0, bar.lots);
        format!("{}\n", line.trim_end())
    };
    bars.iter().map(line).collect()
}

fn drivers(drivers: &[Driver], units: Units) -> String {
    let driving: Vec<&Driver> = drivers.iter().filter(|driver| driver.last > 0.0).take(NAMED).collect();
    if driving.is_empty() {
        return String::new();
    }
    let mut text = "    what the last boards were bought for\n".to_owned();
    for driver in driving {
        text.push_str(&format!(
            "      {} ({} x {} rough): in {:.0} % of the lots; {:.0} % of the boards are large and thick enough\n",
            driver.part,
            show(driver.length, units),
            show(driver.width, units),
            driver.last * 100.0,
            driver.able * 100.0
        ));
    }
    text
}

fn ask_for(list: &[AskFor], units: Units) -> String {
    if list.is_empty() {
        return String::new();
    }
    let mut text = "    ask for these boards at least\n".to_owned();
    for ask in list {
        text.push_str(&format!(
            "      {}, {} long, {} wide, {} thick or more, for {}\n",
            plural(ask.boards as usize, "board"),
            show(ask.length, units),
            show(ask.width, units),
            show(ask.thickness, units),
            ask.part
        ));
    }
    text
}

fn plural(count: usize, what: &str) -> String {
    format!("{count} {what}{}", if count == 1 { "" } else { "s" })
}

fn show(length: Length, units: Units) -> String {
    length.show(units, Length::from_inch_fraction(1, 16))
}

/// An answer as its JSON has it; lengths in `units`, money in the shop's currency.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct OrderFigures {
    pub units: Units,
    pub species: String,
    /// Lots asked for.
    pub lots: u32,
    pub seed: u64,
    pub confidence: f64,
    pub cancelled: bool,
    /// One a thickness.
    pub orders: Vec<ThicknessFigures>,
    /// By grade, over all thicknesses, freight included.
    pub totals: Vec<TotalFigures>,
    pub left_out: Vec<LeftOutFigures>,
}

/// The order of one thickness.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct ThicknessFigures {
    /// `5/4`.
    pub thickness: String,
    pub parts: Vec<String>,
    pub net_board_feet: f64,
    pub grades: Vec<GradeFigures>,
}

/// The order of one thickness in one grade.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "OrderGradeFigures")]
pub struct GradeFigures {
    pub grade: Grade,
    /// Why it cannot be ordered.
    pub impossible: Option<String>,
    /// Lots finished, and those that were never enough.
    pub lots: usize,
    pub never: usize,
    pub figures: Vec<Figure>,
    /// Board feet to ask for, reserve, gross tally and bundles counted.
    pub order_board_feet: Option<u64>,
    /// Without freight.
    pub cost: Option<f64>,
    pub usual_board_feet: Option<f64>,
    /// The lot of the figure was planned whole and the plan found lawful.
    pub checked: Option<bool>,
    pub median_yield: Option<f64>,
    pub histogram: Vec<Bar>,
    pub drivers: Vec<DriverFigures>,
    pub ask_for: Vec<AskForFigures>,
}

/// A part that drives the order.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct DriverFigures {
    pub part: String,
    pub length: f64,
    pub width: f64,
    pub last_share: f64,
    pub able_share: f64,
}

/// Boards to ask for, each at least so large.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct AskForFigures {
    pub part: String,
    pub boards: u32,
    pub length: f64,
    pub width: f64,
    pub thickness: f64,
}

/// What a grade costs.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(rename = "OrderTotalFigures")]
pub struct TotalFigures {
    pub grade: Grade,
    pub board_feet: u64,
    pub cost: f64,
}

/// A part that the order is not for.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct LeftOutFigures {
    pub part: String,
    pub why: String,
}

fn thickness_figures(order: &ThicknessOrder, units: Units) -> ThicknessFigures {
    ThicknessFigures {
        thickness: format!("{}/{}", order.nominal.numerator, order.nominal.denominator),
        parts: order.parts.clone(),
        net_board_feet: order.net_board_feet,
        grades: order.grades.iter().map(|grade| grade_figures(grade, units)).collect(),
    }
}

fn grade_figures(grade: &GradeOrder, units: Units) -> GradeFigures {
    GradeFigures {
        grade: grade.grade,
        impossible: grade.impossible.clone(),
        lots: grade.lots,
        never: grade.never,
        figures: grade.figures.clone(),
        order_board_feet: grade.total.as_ref().map(|total| total.board_feet),
        cost: grade.total.as_ref().and_then(|total| total.cost.as_ref()).map(Money::to_f64),
        usual_board_feet: grade.usual,
        checked: grade.checked,
        median_yield: grade.median_yield(),
        histogram: grade.histogram.clone(),
        drivers: grade
            .drivers
            .iter()
            .map(|driver| DriverFigures {
                part: driver.part.clone(),
                length: driver.length.to_f64(units),
                width: driver.width.to_f64(units),
                last_share: driver.last,
                able_share: driver.able,
            })
            .collect(),
        ask_for: grade
            .ask_for
            .iter()
            .map(|ask| AskForFigures {
                part: ask.part.clone(),
                boards: ask.boards,
                length: ask.length.to_f64(units),
                width: ask.width.to_f64(units),
                thickness: ask.thickness.to_f64(units),
            })
            .collect(),
    }
}
