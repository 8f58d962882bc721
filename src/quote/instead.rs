//! The same piece of other wood: which parts or boards change, and what it then comes to.
//!
//! A wood is exchanged for another in every part that asks for it; a grade leaves only the boards of that grade to be cut.
//! The piece is then planned anew from the same pile and priced by the same rates, so that both prices can stand side by
//! side.

use std::str::FromStr;
use std::sync::atomic::AtomicBool;

use super::{Occasion, Quote, QuoteError, quote};
use crate::job::{Job, Wanted};
use crate::measure::{Money, Rational};
use crate::nesting::Progress;
use crate::pile::{Pile, normal_words, same_words};
use crate::plan::{self, MakeError, Options};

/// What is asked for in place of what.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Instead {
    /// Woods, from and to.
    pub woods: Vec<(String, String)>,
    /// Grades of the boards that may be cut; none: all.
    pub grades: Vec<String>,
}

/// Why something else cannot be asked for.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum InsteadError {
    #[error("\"{0}\" names no exchange; write `cherry=walnut`, `grade=FAS`, or both with a comma between")]
    Form(String),
    #[error("no part asks for {wood}; the woods of the job are {}", asked.join(", "))]
    NotAsked { wood: String, asked: Vec<String> },
    #[error("the pile has no {wood}; it has {}", held.join(", "))]
    NotInPile { wood: String, held: Vec<String> },
    #[error("no board is of grade {grade}; the grades in the pile are {}", if held.is_empty() { "not stated".to_owned() } else { held.join(", ") })]
    NoSuchGrade { grade: String, held: Vec<String> },
    #[error(transparent)]
    Make(#[from] MakeError),
    #[error(transparent)]
    Quote(#[from] QuoteError),
    /// Cancelled before anything was planned.
    #[error("cancelled before there was a plan")]
    Cancelled,
}

/// What the same piece comes to, of other wood.
#[derive(Clone, Debug, PartialEq)]
pub struct Alternative {
    /// `walnut instead of cherry`.
    pub words: String,
    /// Finished pieces that the pile does not hold then.
    pub missing: u32,
    /// What the stock is charged at.
    pub stock: Money,
    pub hours: Rational,
    /// Before tax.
    pub price: Money,
    pub tax: Money,
    pub total: Money,
}

impl FromStr for Instead {
    type Err = InsteadError;

    /// ```
    /// use flitchwork::quote::Instead;
    /// let instead: Instead = "cherry=black walnut, grade=FAS".parse()?;
    /// assert_eq!(instead.words(), "black walnut instead of cherry, FAS boards only");
    /// assert!("walnut".parse::<Instead>().is_err());
    /// # Ok::<(), flitchwork::quote::InsteadError>(())
    /// ```
    fn from_str(text: &str) -> Result<Instead, InsteadError> {
        let mut instead = Instead::default();
        for exchange in text.split(',') {
            let (from, to) = exchange.split_once('=').unwrap_or_default();
            let (from, to) = (from.trim().to_owned(), to.trim().to_owned());
            if from.is_empty() || to.is_empty() || to.contains('=') || same_words(&from, &to) {
                return Err(InsteadError::Form(text.to_owned()));
            }
            match normal_words(&from).as_str() {
                "grade" => instead.grades.push(to),
                _ => instead.woods.push((from, to)),
            }
        }
        Ok(instead)
    }
}

impl Instead {
    /// The exchange in words.
    pub fn words(&self) -> String {
        let mut words: Vec<String> = self.woods.iter().map(|(from, to)| format!("{to} instead of {from}")).collect();
        if !self.grades.is_empty() {
            words.push(format!("{} boards only", self.grades.join(" and ")));
        }
        words.join(", ")
    }

    /// The job and the pile with the exchange made.
    ///
    /// A board of another grade keeps its place in the pile, since the yard's tally goes by it; it is only of a wood then
    /// that no part asks for.
    ///
    /// # Errors
    /// When no part asks for a wood, or the pile has none of the wood or the grade to be had instead.
    pub fn apply(&self, job: &Job, pile: &Pile) -> Result<(Job, Pile), InsteadError> {
        let (mut job, mut pile) = (job.clone(), pile.clone());
        let asked: Vec<Wanted> = job.parts.iter().map(|part| part.stock.clone()).collect();
        for (from, to) in &self.woods {
            let mut found = false;
            for (part, asked) in job.parts.iter_mut().zip(&asked) {
                let (Wanted::Species(wood) | Wanted::Material(wood)) = asked;
                if same_words(wood, from) {
                    found = true;
                    part.stock = exchanged(asked, to, &pile)?;
                }
            }
            if !found {
                return Err(InsteadError::NotAsked { wood: from.clone(), asked: distinct(asked.iter().map(name)) });
            }
        }
        for grade in &self.grades {
            let held = || pile.boards.iter().filter_map(|board| board.grade.as_deref());
            if !held().any(|other| same_words(other, grade)) {
                return Err(InsteadError::NoSuchGrade { grade: grade.clone(), held: distinct(held()) });
            }
        }
        if !self.grades.is_empty() {
            for board in &mut pile.boards {
                let grade = board.grade.as_deref().unwrap_or_default();
                if !self.grades.iter().any(|wanted| same_words(wanted, grade)) {
                    board.species = format!("{}, set aside", board.species);
                }
            }
        }
        Ok((job, pile))
    }

    /// What the piece comes to with the exchange made: planned from the same pile within the same limits.
    ///
    /// # Errors
    /// As [`Instead::apply`], [`plan::make`] and [`quote`].
    pub fn priced(
        &self,
        job: &Job,
        pile: &Pile,
        occasion: &Occasion,
        options: &Options,
        cancel: &AtomicBool,
        progress: &(dyn Fn(&Progress) + Sync),
    ) -> Result<Alternative, InsteadError> {
        let (job, pile) = self.apply(job, pile)?;
        let plan = plan::make(&job, &pile, options, cancel, progress)?;
        if plan.stop == plan::Stop::Cancelled && plan.pieces_placed == 0 {
            return Err(InsteadError::Cancelled);
        }
        Ok(Alternative::of(self.words(), &quote(&job, &pile, &plan, occasion.clone())?))
    }
}

impl Alternative {
    /// A quote in the figures that stand beside another.
    pub fn of(words: String, quote: &Quote) -> Alternative {
        Alternative {
            words,
            missing: quote.missing.iter().map(|missing| missing.copies).sum(),
            stock: quote.stock_charged(),
            hours: quote.hours(),
            price: quote.price.price.clone(),
            tax: quote.price.tax.clone(),
            total: quote.price.total.clone(),
        }
    }
}

fn name(wanted: &Wanted) -> &str {
    let (Wanted::Species(wood) | Wanted::Material(wood)) = wanted;
    wood
}

/// What a part asks for when its wood is exchanged: lumber for lumber, a sheet or a stick for one.
fn exchanged(asked: &Wanted, to: &str, pile: &Pile) -> Result<Wanted, InsteadError> {
    let held: Vec<&str> = match asked {
        Wanted::Species(_) => pile.boards.iter().map(|board| board.species.as_str()).collect(),
        Wanted::Material(_) => {
            let sheets = pile.sheets.iter().map(|sheet| sheet.material.as_str());
            sheets.chain(pile.sticks.iter().map(|stick| stick.material.as_str())).collect()
        }
    };
    if !held.iter().any(|wood| same_words(wood, to)) {
        return Err(InsteadError::NotInPile { wood: to.to_owned(), held: distinct(held.into_iter()) });
    }
    Ok(match asked {
        Wanted::Species(_) => Wanted::Species(to.to_owned()),
        Wanted::Material(_) => Wanted::Material(to.to_owned()),
    })
}

/// Names, each once, in the order they come.
fn distinct<'n>(names: impl Iterator<Item = &'n str>) -> Vec<String> {
    let mut once: Vec<String> = Vec::new();
    for name in names {
        if !once.iter().any(|known| same_words(known, name)) {
            once.push(name.to_owned());
        }
    }
    once
}
