//! What a body asks of a purchase of lumber: the job, past boards, and the question with its terms.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::parts::Parts;
use super::{first_seed, job_excess, pile_excess, read_pair};
use crate::job::Job;
use crate::measure::{Length, Money, decimal_from_f64, parse_quarters};
use crate::order::{Offer, Question, Terms, premium_from};
use crate::pile::{Nominal, Pile};
use crate::serve::problem::{BodyError, Problem};
use crate::serve::settings::Limits;
use crate::trade::grades::Grade;

/// A quantity of lumber to be found: a job, the shop's past boards if any, and what is asked.
pub struct Purchase {
    pub job: Job,
    pub question: Question,
}

/// What is asked of an order, as a body has it. Lengths without a unit are inches; money is in the shop's currency.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Asked {
    /// The wood to order.
    pub species: String,
    /// The grades to compare, at least one.
    pub grades: Vec<AskedGrade>,
    /// In quarters, such as `5/4`; left out, the standard ones that the parts need.
    #[serde(default)]
    pub thicknesses: Vec<String>,
    /// The share of deliveries that must be enough, above 0 and below 1.
    #[serde(default = "usual_confidence")]
    pub confidence: f64,
    /// Random deliveries to try, at most 1000. Where time runs out the answer is that of the lots finished.
    #[serde(default = "usual_lots")]
    pub lots: u32,
    #[serde(default = "first_seed")]
    pub seed: u64,
    /// Of the whole order.
    #[serde(default)]
    pub freight: f64,
    /// Board feet are sold in whole multiples of this.
    #[serde(default = "one")]
    pub bundle: u32,
    /// A board foot.
    #[serde(default)]
    pub surfacing: f64,
    /// What wide boards cost more.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub wide: Option<AskedPremium>,
    /// What long boards cost more.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub long: Option<AskedPremium>,
    /// Share of the purchase reserved for hidden defects, 0 to below 1.
    #[serde(default)]
    pub reserve: f64,
    /// Shrinkage where the yard bills the tally before drying, 0 to below 1.
    #[serde(default)]
    pub gross: f64,
}

/// A grade and its price.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct AskedGrade {
    /// As invoices name it.
    pub grade: String,
    /// A board foot.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub price: Option<f64>,
}

/// A premium for boards of some size.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct AskedPremium {
    /// Boards of this size or more: `10 in`, `12 ft`, `250 mm`.
    pub from: String,
    /// So much more a board foot.
    pub premium: f64,
}

/// Most lots of one request.
const MOST_LOTS: u32 = 1000;

const fn usual_confidence() -> f64 {
    0.95
}

const fn usual_lots() -> u32 {
    200
}

const fn one() -> u32 {
    1
}

impl Purchase {
    /// Reads the body of a request for an order.
    ///
    /// # Errors
    /// A problem with everything wrong.
    pub fn read(text: &str, limits: &Limits, threads: usize) -> Result<Purchase, Problem> {
        let mut parts = Parts::read(text, &["job", "past", "shop", "order"])?;
        let job_text = parts.required("job");
        let (job, past) = read_pair(job_text, parts.text("past"), parts.text("shop"), &mut parts.errors);
        parts.errors.extend(job.iter().flat_map(|job| job_excess(job, limits)));
        parts.errors.extend(past.iter().filter_map(|pile| pile_excess(pile, limits, "/past")));
        let asked = parts.required("order").and_then(|text| {
            let read = serde_json::from_str::<Asked>(text);
            read.map_err(|error| parts.errors.push(BodyError::at("/order", error.to_string()))).ok()
        });
        let question = asked.and_then(|asked| asked.question(past, threads, &mut parts.errors));
        match (job, question) {
            (Some(job), Some(question)) if parts.errors.is_empty() => Ok(Purchase { job, question }),
            _ => Err(Problem::invalid(parts.errors)),
        }
    }
}

impl Asked {
    /// The question, every fault of it noted.
    fn question(&self, past: Option<Pile>, threads: usize, errors: &mut Vec<BodyError>) -> Option<Question> {
        let before = errors.len();
        let mut fault = |field: &str, what: String| errors.push(BodyError::at(format!("/order/{field}"), what));
        let money = |value: f64| Money::from_f64(value).filter(|money| !money.is_negative());
        let mut offers = Vec::new();
        for (at, offer) in self.grades.iter().enumerate() {
            let price = offer.price.map(money);
            match (Grade::read(&offer.grade), price) {
                (None, _) => {
                    fault(&format!("grades/{at}/grade"), format!("\"{}\" is no grade of the table", offer.grade))
                }
                (_, Some(None)) => fault(&format!("grades/{at}/price"), "write an amount of 0 or more".to_owned()),
                (Some(grade), price) => offers.push(Offer { grade, price: price.flatten() }),
            }
        }
        if self.grades.is_empty() {
            fault("grades", "name at least one grade".to_owned());
        }
        let mut thicknesses = Vec::new();
        for (at, text) in self.thicknesses.iter().enumerate() {
            match parse_quarters(text) {
                Ok((numerator, denominator)) => thicknesses.push(Nominal { numerator, denominator }),
                Err(error) => fault(&format!("thicknesses/{at}"), error.to_string()),
            }
        }
        if !(self.confidence > 0.0 && self.confidence < 1.0) {
            fault("confidence", "write a share above 0 and below 1".to_owned());
        }
        if !(1..=MOST_LOTS).contains(&self.lots) {
            fault("lots", format!("write a whole number from 1 to {MOST_LOTS}"));
        }
        if self.bundle == 0 {
            fault("bundle", "write a whole number from 1 on".to_owned());
        }
        let below_one = |value: f64| decimal_from_f64(value).filter(|_| (0.0..1.0).contains(&value));
        let amounts = [("freight", money(self.freight)), ("surfacing", money(self.surfacing))];
        let shares = [("reserve", below_one(self.reserve)), ("gross", below_one(self.gross))];
        for (field, _) in amounts.iter().filter(|(_, amount)| amount.is_none()) {
            fault(field, "write an amount of 0 or more".to_owned());
        }
        for (field, _) in shares.iter().filter(|(_, share)| share.is_none()) {
            fault(field, "write a share from 0 to below 1".to_owned());
        }
        let mut premium = |field: &str, asked: &Option<AskedPremium>| -> Option<(Length, Money)> {
            let asked = asked.as_ref()?;
            let from = premium_from(&asked.from).map_err(|error| fault(&format!("{field}/from"), error)).ok();
            let extra = money(asked.premium);
            if extra.is_none() {
                fault(&format!("{field}/premium"), "write an amount of 0 or more".to_owned());
            }
            from.zip(extra)
        };
        let (wide, long) = (premium("wide", &self.wide), premium("long", &self.long));
        if errors.len() > before {
            return None;
        }
        let [(_, freight), (_, surfacing)] = amounts;
        let [(_, reserve), (_, gross)] = shares;
        Some(Question {
            species: self.species.clone(),
            thicknesses,
            offers,
            past,
            lots: self.lots,
            seed: self.seed,
            confidence: self.confidence,
            terms: Terms {
                freight: freight?,
                bundle: self.bundle,
                surfacing: surfacing?,
                wide,
                long,
                reserve: reserve?,
                gross: gross?,
            },
            threads,
        })
    }
}
