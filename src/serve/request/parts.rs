//! The fields of a body: each found once, known by name, read by the reader of the file it stands for.

use std::fmt;

use serde::de::{MapAccess, Visitor};
use serde::{Deserialize, Deserializer};
use serde_json::Value;
use serde_json::value::RawValue;

use super::{Doubt, EXACT, MOST_INSTEAD, Search, first_seed, job_excess, pile_excess, read_pair};
use crate::job::Job;
use crate::pile::Pile;
use crate::plan;
use crate::quote::{Instead, InsteadError};
use crate::serve::problem::{BodyError, Kind, Problem};
use crate::serve::settings::Limits;

/// The fields of a body, not yet read, and what was found wrong.
pub(super) struct Parts<'a> {
    fields: Vec<(String, &'a RawValue)>,
    pub(super) errors: Vec<BodyError>,
}

impl<'a> Parts<'a> {
    pub(super) fn read(text: &'a str, known: &[&str]) -> Result<Parts<'a>, Problem> {
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
    pub(super) fn text(&self, name: &str) -> Option<&'a str> {
        self.fields.iter().find(|(key, _)| key == name).map(|(_, raw)| raw.get())
    }

    pub(super) fn required(&mut self, name: &str) -> Option<&'a str> {
        let text = self.text(name);
        if text.is_none() {
            self.errors.push(BodyError::at(format!("/{name}"), "this field is missing"));
        }
        text
    }

    /// What a field says, if it is there; an error when that is not `what` is wanted.
    pub(super) fn field<T>(&mut self, name: &str, what: &str, read: impl Fn(&Value) -> Option<T>) -> Option<T> {
        let text = self.text(name)?;
        let value = serde_json::from_str(text).ok().and_then(|value| read(&value));
        if value.is_none() {
            self.errors.push(BodyError::at(format!("/{name}"), what));
        }
        value
    }

    pub(super) fn job_and_pile(&mut self, limits: &Limits) -> (Option<Job>, Option<Pile>) {
        let (job, pile) = (self.required("job"), self.required("pile"));
        let (job, pile) = read_pair(job, pile, self.text("shop"), &mut self.errors);
        self.errors.extend(job.iter().flat_map(|job| job_excess(job, limits)));
        self.errors.extend(pile.iter().filter_map(|pile| pile_excess(pile, limits, "/pile")));
        (job, pile)
    }

    /// A job, a pile and a plan of them.
    pub(super) fn doubt(mut self, limits: &Limits) -> Result<Doubt, Problem> {
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
    pub(super) fn line<T>(&mut self, name: &str, read: &dyn Fn(&str) -> Result<T, String>) -> Option<T> {
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

    /// The exchanges of wood asked for, as `--instead` takes them.
    pub(super) fn instead(&mut self) -> Vec<Instead> {
        let Some(text) = self.text("instead") else { return Vec::new() };
        let written = match serde_json::from_str::<Vec<String>>(text) {
            Ok(written) if written.len() <= MOST_INSTEAD => written,
            _ => {
                let what = format!("write a list of up to {MOST_INSTEAD} texts such as \"cherry=walnut\"");
                self.errors.push(BodyError::at("/instead", what));
                return Vec::new();
            }
        };
        let mut read = Vec::new();
        for (at, text) in written.iter().enumerate() {
            match text.parse() {
                Ok(instead) => read.push(instead),
                Err(error) => {
                    self.errors.push(BodyError::at(format!("/instead/{at}"), InsteadError::to_string(&error)))
                }
            }
        }
        read
    }

    pub(super) fn search(&mut self, limits: &Limits) -> Search {
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

    pub(super) fn finish(self, read: (Option<Job>, Option<Pile>)) -> Result<(Job, Pile), Problem> {
        match read {
            (Some(job), Some(pile)) if self.errors.is_empty() => Ok((job, pile)),
            _ => Err(Problem::invalid(self.errors)),
        }
    }
}

/// A whole number, `2.0` being one, as JSON Schema has it.
pub(super) fn whole(value: &Value) -> Option<u64> {
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
