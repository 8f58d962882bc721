//! What a body asks for: a job, a pile and a shop as their files have them, and limits to the search.
//!
//! The parts of a body are read by the readers of the files they stand for, so that the service and the command line
//! take the same and refuse the same, in the same words. Everything wrong is found at once.

use std::fmt;

use schemars::JsonSchema;
use serde::de::{MapAccess, Visitor};
use serde::{Deserialize, Deserializer, Serialize};
use serde_json::Value;
use serde_json::value::RawValue;

use super::problem::{BodyError, Kind, Problem};
use super::settings::Limits;
use crate::job::{self, Job};
use crate::measure::{Money, decimal_from_f64, parse_quarters};
use crate::order::{Offer, Question, Terms};
use crate::pile::{self, Nominal, Pile};
use crate::plan::fill::{FillOptions, Pick};
use crate::plan::{self, Options, ShopPlan};
use crate::quote::{self, Date, Occasion};
use crate::trade::grades::Grade;

/// Seconds a plan may take when nothing else was asked for, or the service's longest if that is less.
const PATIENT_SECONDS: f64 = 10.0;
/// The greatest whole number that every JSON reader keeps exactly (RFC 8259, section 6).
const EXACT: u64 = (1 << 53) - 1;

/// How long to look, how good is good enough, and what every random choice follows from.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Search {
    /// Stop after so many seconds. Left out: ten, or the service's longest when `work` is given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(with = "f64", extend("exclusiveMinimum" = 0.0))]
    pub seconds: Option<f64>,
    /// Stop after so many units of work: the same plan on every machine.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(with = "u64", range(min = 1, max = 9_007_199_254_740_991_u64))]
    pub work: Option<u64>,
    /// Stop when the plan is proven to be within this share of the best.
    #[serde(default)]
    #[schemars(range(min = 0.0, max = 1.0))]
    pub gap: f64,
    /// What every random choice follows from.
    #[serde(default = "first_seed")]
    #[schemars(range(min = 0, max = 9_007_199_254_740_991_u64))]
    pub seed: u64,
}

fn first_seed() -> u64 {
    1
}

impl Search {
    /// What the library is asked, with the service's longest solve as the clock behind a limit of work.
    pub fn options(&self, limits: &Limits, threads: usize) -> Options {
        let seconds = match (self.seconds, self.work) {
            (Some(seconds), _) => seconds.min(limits.seconds),
            (None, Some(_)) => limits.seconds,
            (None, None) => PATIENT_SECONDS.min(limits.seconds),
        };
        Options { seconds: Some(seconds), work: self.work, gap: self.gap, seed: self.seed, threads }
    }
}

/// The files of an order, as they were written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Files {
    pub job: String,
    pub pile: String,
    pub shop: Option<String>,
}

/// A plan to be made.
pub struct Order {
    pub job: Job,
    pub pile: Pile,
    pub files: Files,
    pub search: Search,
}

/// A plan to be checked.
pub struct Doubt {
    pub job: Job,
    pub pile: Pile,
    pub plan: ShopPlan,
}

/// A piece of stock to be filled.
pub struct Filling {
    pub job: Job,
    pub pile: Pile,
    pub pick: Pick,
    pub options: FillOptions,
}

/// A plan to be priced.
pub struct Pricing {
    pub doubt: Doubt,
    pub occasion: Occasion,
}

impl Order {
    /// Reads the body of a request for a plan.
    ///
    /// # Errors
    /// A problem with everything wrong.
    pub fn read(text: &str, limits: &Limits) -> Result<Order, Problem> {
        let mut parts = Parts::read(text, &["job", "pile", "shop", "limits"])?;
        let (job, pile) = parts.job_and_pile(limits);
        let search = parts.search(limits);
        let files = Files {
            job: parts.text("job").unwrap_or_default().to_owned(),
            pile: parts.text("pile").unwrap_or_default().to_owned(),
            shop: parts.text("shop").map(str::to_owned),
        };
        parts.finish((job, pile)).map(|(job, pile)| Order { job, pile, files, search })
    }

    /// Reads an order again that was good when it was kept.
    ///
    /// # Errors
    /// A problem when this version no longer reads what an earlier one did.
    pub fn again(files: Files, search: Search) -> Result<Order, Problem> {
        let (job, pile) = files.read().map_err(Problem::invalid)?;
        Ok(Order { job, pile, files, search })
    }
}

impl Files {
    /// The job and the pile in them.
    ///
    /// # Errors
    /// Everything wrong with them.
    pub fn read(&self) -> Result<(Job, Pile), Vec<BodyError>> {
        let mut errors = Vec::new();
        let pair = read_pair(Some(&self.job), Some(&self.pile), self.shop.as_deref(), &mut errors);
        match pair {
            (Some(job), Some(pile)) if errors.is_empty() => Ok((job, pile)),
            _ => Err(errors),
        }
    }
}

impl Doubt {
    /// Reads the body of a request for a check.
    ///
    /// # Errors
    /// A problem with everything wrong.
    pub fn read(text: &str, limits: &Limits) -> Result<Doubt, Problem> {
        Parts::read(text, &["job", "pile", "shop", "plan"])?.doubt(limits)
    }
}

impl Pricing {
    /// Reads the body of a request for a quote; it is dated today unless it says otherwise.
    ///
    /// # Errors
    /// A problem with everything wrong.
    pub fn read(text: &str, limits: &Limits) -> Result<Pricing, Problem> {
        let mut parts = Parts::read(text, &["job", "pile", "shop", "plan", "date", "for"])?;
        let client = parts.line("for", &|text| Ok(text.to_owned()));
        let date = parts.line("date", &|text| text.parse().map_err(|error: quote::DateError| error.to_string()));
        let occasion = Occasion { date: date.unwrap_or_else(Date::today), client };
        Ok(Pricing { doubt: parts.doubt(limits)?, occasion })
    }
}

impl Filling {
    /// Reads the body of a request to fill one piece of stock.
    ///
    /// # Errors
    /// A problem with everything wrong.
    pub fn read(text: &str, limits: &Limits) -> Result<Filling, Problem> {
        let mut parts = Parts::read(text, &["job", "pile", "shop", "stock", "copy", "any_number", "seconds"])?;
        let (job, pile) = parts.job_and_pile(limits);
        parts.required("stock");
        let id = parts.field("stock", "write the id of a piece of the pile", |value| value.as_str().map(str::to_owned));
        let copy = parts.field("copy", "write a whole number from 1", |value| {
            whole(value).and_then(|copy| u32::try_from(copy).ok()).filter(|copy| *copy > 0)
        });
        let any_number = parts.field("any_number", "write true or false", Value::as_bool);
        let longest = limits.fill_seconds();
        let what = format!("write a number of seconds above 0, up to {longest}");
        let in_time = |seconds: &f64| *seconds > 0.0 && *seconds <= longest;
        let seconds = parts.field("seconds", &what, |value| value.as_f64().filter(in_time));
        let (job, pile) = parts.finish((job, pile))?;
        let pick = Pick { id: id.unwrap_or_default(), copy: copy.unwrap_or(1) };
        let options =
            FillOptions { seconds: Some(seconds.unwrap_or(longest)), any_number: any_number.unwrap_or(false) };
        Ok(Filling { job, pile, pick, options })
    }
}

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
                wide: None,
                long: None,
                reserve: reserve?,
                gross: gross?,
            },
            threads,
        })
    }
}

/// Reads a pile that is a body by itself.
///
/// # Errors
/// A problem with everything wrong.
pub fn read_pile(text: &str, limits: &Limits) -> Result<Pile, Problem> {
    let pile =
        pile::file::read_json("pile", text).map_err(|faults| Problem::invalid(BodyError::all_of(&faults, "")))?;
    match pile_excess(&pile, limits, "") {
        Some(error) => Err(Problem::invalid(vec![error])),
        None => Ok(pile),
    }
}

/// A pile with more lines than the service takes.
pub fn pile_excess(pile: &Pile, limits: &Limits, prefix: &str) -> Option<BodyError> {
    let lines = pile.boards.len() + pile.sheets.len() + pile.sticks.len();
    let what = format!("a pile has up to {} lines here; this one has {lines}", limits.lines);
    (lines > limits.lines).then(|| BodyError::at(prefix, what))
}

fn job_excess(job: &Job, limits: &Limits) -> Vec<BodyError> {
    let mut errors = Vec::new();
    if job.parts.len() > limits.parts {
        let what = format!("a job has up to {} lines here; this one has {}", limits.parts, job.parts.len());
        errors.push(BodyError::at("/job/parts", what));
    }
    let pieces: u64 = job.parts.iter().map(|part| u64::from(part.qty)).sum();
    if pieces > limits.pieces {
        let what = format!("a job has up to {} pieces here; this one has {pieces}", limits.pieces);
        errors.push(BodyError::at("/job/parts", what));
    }
    errors
}

fn read_pair(
    job: Option<&str>,
    pile: Option<&str>,
    shop: Option<&str>,
    errors: &mut Vec<BodyError>,
) -> (Option<Job>, Option<Pile>) {
    let mut note = |faults: pile::Faults, prefix: &str| errors.extend(BodyError::all_of(&faults, prefix));
    let base = shop.and_then(|text| job::file::read_shop("shop", text).map_err(|f| note(f, "/shop")).ok());
    let job = job.and_then(|text| job::file::read_json("job", text, base.as_ref()).map_err(|f| note(f, "/job")).ok());
    let pile = pile.and_then(|text| pile::file::read_json("pile", text).map_err(|f| note(f, "/pile")).ok());
    (job, pile)
}

/// The fields of a body, not yet read, and what was found wrong.
struct Parts<'a> {
    fields: Vec<(String, &'a RawValue)>,
    errors: Vec<BodyError>,
}

impl<'a> Parts<'a> {
    fn read(text: &'a str, known: &[&str]) -> Result<Parts<'a>, Problem> {
        let Fields(fields) = serde_json::from_str(text).map_err(|error| match error.classify() {
            serde_json::error::Category::Data => {
                let what = format!("a group of fields is wanted: {}", known.join(", "));
                Problem::invalid(vec![BodyError::at("", what)])
            }
            _ => Problem::new(Kind::Malformed, format!("the body is not JSON: {error}")),
        })?;
        let mut errors = Vec::new();
        let pointer = |name: &str| format!("/{}", name.replace('~', "~0").replace('/', "~1"));
        for (at, (name, _)) in fields.iter().enumerate() {
            if !known.contains(&name.as_str()) {
                let what = format!("there is no such field here; the fields are {}", known.join(", "));
                errors.push(BodyError::at(pointer(name), what));
            } else if fields[..at].iter().any(|(other, _)| other == name) {
                errors.push(BodyError::at(pointer(name), "this field is written twice; leave one of them out"));
            }
        }
        Ok(Parts { fields, errors })
    }

    /// What stands in a field; a `null` stands for a field left out nowhere in our files, and so not here.
    fn text(&self, name: &str) -> Option<&'a str> {
        self.fields.iter().find(|(key, _)| key == name).map(|(_, raw)| raw.get())
    }

    fn required(&mut self, name: &str) -> Option<&'a str> {
        let text = self.text(name);
        if text.is_none() {
            self.errors.push(BodyError::at(format!("/{name}"), "this field is missing"));
        }
        text
    }

    /// What a field says, if it is there; an error when that is not `what` is wanted.
    fn field<T>(&mut self, name: &str, what: &str, read: impl Fn(&Value) -> Option<T>) -> Option<T> {
        let text = self.text(name)?;
        let value = serde_json::from_str(text).ok().and_then(|value| read(&value));
        if value.is_none() {
            self.errors.push(BodyError::at(format!("/{name}"), what));
        }
        value
    }

    fn job_and_pile(&mut self, limits: &Limits) -> (Option<Job>, Option<Pile>) {
        let (job, pile) = (self.required("job"), self.required("pile"));
        let (job, pile) = read_pair(job, pile, self.text("shop"), &mut self.errors);
        self.errors.extend(job.iter().flat_map(|job| job_excess(job, limits)));
        self.errors.extend(pile.iter().filter_map(|pile| pile_excess(pile, limits, "/pile")));
        (job, pile)
    }

    /// A job, a pile and a plan of them.
    fn doubt(mut self, limits: &Limits) -> Result<Doubt, Problem> {
        let (job, pile) = self.job_and_pile(limits);
        let plan = self.required("plan").map(str::to_owned).and_then(|text| {
            let read = plan::file::read_json("plan", &text);
            read.map_err(|error| self.errors.push(BodyError::at("/plan", error.to_string()))).ok()
        });
        let read = self.finish((job, pile))?;
        let plan = plan.ok_or_else(|| Problem::new(Kind::Invalid, "the plan cannot be read"))?;
        Ok(Doubt { job: read.0, pile: read.1, plan })
    }

    /// A field that may be left out and holds one line of text, understood by `read`.
    fn line<T>(&mut self, name: &str, read: &dyn Fn(&str) -> Result<T, String>) -> Option<T> {
        const MOST: usize = 120;
        let written = self.text(name)?;
        let text = serde_json::from_str::<String>(written).ok().map(|text| text.trim().to_owned());
        let fits =
            |text: &String| !text.is_empty() && text.chars().count() <= MOST && !text.chars().any(char::is_control);
        let read = match text.filter(fits) {
            Some(text) => read(&text),
            None => Err(format!("write a text of up to {MOST} characters on one line")),
        };
        read.map_err(|what| self.errors.push(BodyError::at(format!("/{name}"), what))).ok()
    }

    fn search(&mut self, limits: &Limits) -> Search {
        let mut search = Search { seconds: None, work: None, gap: 0.0, seed: first_seed() };
        let Some(text) = self.text("limits") else { return search };
        let Ok(Value::Object(fields)) = serde_json::from_str(text) else {
            let what = "a group of fields is wanted: seconds, work, gap, seed";
            self.errors.push(BodyError::at("/limits", what));
            return search;
        };
        for (name, value) in &fields {
            let wrong = match name.as_str() {
                "seconds" => match value.as_f64() {
                    Some(seconds) if seconds > 0.0 && seconds <= limits.seconds => {
                        search.seconds = Some(seconds);
                        None
                    }
                    _ => Some(format!("write a number of seconds above 0, up to {}", limits.seconds)),
                },
                "work" => match whole(value).filter(|work| *work > 0) {
                    Some(work) => {
                        search.work = Some(work);
                        None
                    }
                    None => Some(format!("write a whole number from 1 to {EXACT}")),
                },
                "gap" => match value.as_f64() {
                    Some(gap) if (0.0..=1.0).contains(&gap) => {
                        search.gap = gap;
                        None
                    }
                    _ => Some("write a share from 0 to 1".to_owned()),
                },
                "seed" => match whole(value) {
                    Some(seed) => {
                        search.seed = seed;
                        None
                    }
                    None => Some(format!("write a whole number from 0 to {EXACT}")),
                },
                _ => Some("there is no such field here; the fields are seconds, work, gap, seed".to_owned()),
            };
            if let Some(what) = wrong {
                let name = name.replace('~', "~0").replace('/', "~1");
                self.errors.push(BodyError::at(format!("/limits/{name}"), what));
            }
        }
        search
    }

    fn finish(self, read: (Option<Job>, Option<Pile>)) -> Result<(Job, Pile), Problem> {
        match read {
            (Some(job), Some(pile)) if self.errors.is_empty() => Ok((job, pile)),
            _ => Err(Problem::invalid(self.errors)),
        }
    }
}

/// A whole number, `2.0` being one, as JSON Schema has it.
fn whole(value: &Value) -> Option<u64> {
    let float = || value.as_f64().filter(|n| n.fract() == 0.0 && *n >= 0.0 && *n <= EXACT as f64).map(|n| n as u64);
    value.as_u64().or_else(float).filter(|n| *n <= EXACT)
}

/// The fields of an object in their order, a name as often as it was written.
struct Fields<'a>(Vec<(String, &'a RawValue)>);

impl<'de> Deserialize<'de> for Fields<'de> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct InOrder;
        impl<'de> Visitor<'de> for InOrder {
            type Value = Fields<'de>;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a group of fields")
            }
            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Fields<'de>, A::Error> {
                let mut fields = Vec::new();
                while let Some(field) = map.next_entry()? {
                    fields.push(field);
                }
                Ok(Fields(fields))
            }
        }
        deserializer.deserialize_map(InOrder)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pointers(text: &str) -> Vec<String> {
        let problem = Order::read(text, &Limits::default()).err().expect("the body is wrong");
        problem.errors.into_iter().map(|error| error.pointer).collect()
    }

    #[test]
    fn everything_wrong_with_an_order_is_said_at_once() {
        let text = r#"{ "job": { "format": "flitchwork.job/1", "units": "in", "parts": [ { "id": "a", "qty": 0 } ] },
            "pile": { "format": "flitchwork.pile/1", "units": "ell" }, "limits": { "seconds": -1, "speed": 2 },
            "shop": 3, "colour": 1, "pile": {} }"#;
        let pointers = pointers(text);
        for wanted in
            ["/colour", "/pile", "/pile/units", "/job/parts/0/qty", "/limits/seconds", "/limits/speed", "/shop"]
        {
            assert!(pointers.iter().any(|p| p == wanted), "no {wanted} in {pointers:?}");
        }
    }

    #[test]
    fn fields_that_are_missing_are_named() {
        assert_eq!(pointers("{}"), ["/job", "/pile"]);
        assert_eq!(pointers("[]"), [""]);
    }

    #[test]
    fn everything_wrong_with_what_is_to_be_filled_is_said_at_once() {
        let problem = Filling::read(r#"{ "copy": 0, "any_number": 1, "seconds": 1e9 }"#, &Limits::default());
        let problem = problem.err().expect("the body is wrong");
        let pointers: Vec<&str> = problem.errors.iter().map(|error| error.pointer.as_str()).collect();
        assert_eq!(pointers, ["/job", "/pile", "/stock", "/copy", "/any_number", "/seconds"]);
    }

    #[test]
    fn what_is_not_json_is_malformed_and_not_invalid() {
        for text in ["", "{", "{\"job\": tru}", "{} {}"] {
            assert_eq!(Order::read(text, &Limits::default()).err().map(|p| p.status), Some(400), "{text}");
        }
    }

    #[test]
    fn a_limit_of_work_has_the_longest_solve_as_its_clock() {
        let limits = Limits { seconds: 20.0, ..Limits::default() };
        let search = |seconds, work| Search { seconds, work, gap: 0.0, seed: 1 }.options(&limits, 1).seconds;
        assert_eq!(search(None, Some(5)), Some(20.0));
        assert_eq!(search(Some(3.0), Some(5)), Some(3.0));
        assert_eq!(search(None, None), Some(10.0));
    }
}
