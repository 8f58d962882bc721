//! What the checker found, as its JSON has it.

use schemars::JsonSchema;
use serde::Serialize;

use super::Violation;

/// The checker's answer.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Report {
    /// True when no rule is broken.
    pub lawful: bool,
    /// Every breach, in the order of the plan.
    pub breaches: Vec<Breach>,
}

/// One breach of one rule.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Breach {
    /// The rule's short code, such as `kerf`.
    pub rule: String,
    /// What the rule asks.
    pub asks: String,
    /// Where in the plan.
    pub place: String,
    /// What is wrong, with figures.
    pub detail: String,
}

impl Report {
    /// The report on the breaches found.
    pub fn of(breaches: &[Violation]) -> Report {
        let breach = |found: &Violation| Breach {
            rule: found.rule.code().to_owned(),
            asks: found.rule.meaning().to_owned(),
            place: found.place.clone(),
            detail: found.detail.clone(),
        };
        Report { lawful: breaches.is_empty(), breaches: breaches.iter().map(breach).collect() }
    }

    /// The report as JSON, two spaces a level, with a line feed at the end.
    pub fn as_json(&self) -> String {
        let mut text = serde_json::to_string_pretty(self).expect("records of texts");
        text.push('\n');
        text
    }
}
