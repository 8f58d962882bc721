//! Small jobs and piles whose price can be worked out by hand, planned and quoted by the real road.

use std::sync::atomic::AtomicBool;

use flitchwork::job::{self, Job};
use flitchwork::pile::{self, Pile};
use flitchwork::plan::{self, Options, ShopPlan};
use flitchwork::quote::{self, Occasion, Quote};
use serde_json::{Value, json};

/// Rates that charge nothing but the stock.
pub fn nothing() -> Value {
    let work =
        ["design", "lumber_trip", "cut", "glue_up", "part", "sanding", "finishing", "assembly", "delivery", "fitting"];
    let mut labour = json!({ "rate": 0 });
    for operation in work {
        labour[operation] = json!({ "hours": 0 });
    }
    json!({
        "labour": labour, "material": { "markup": 0 }, "consumables": { "glue": 0, "part": 0, "share": 0 },
        "finish": { "coats": 0 }, "overhead": { "job": 0, "hour": 0, "prime": 0, "sales": 0 }, "contingency": 0,
        "profit": { "markup": 0 }
    })
}

/// Rates that charge nothing but the stock and what `more` says.
pub fn only(more: Value) -> Value {
    let mut rates = nothing();
    if more["profit"]["margin"].is_number() {
        rates["profit"] = json!({});
    }
    if more["labour"]["yearly"].is_object() {
        rates["labour"].as_object_mut().unwrap().remove("rate");
    }
    merge(&mut rates, more);
    rates
}

fn merge(into: &mut Value, from: Value) {
    match (into, from) {
        (Value::Object(into), Value::Object(from)) => {
            for (name, value) in from {
                merge(into.entry(name).or_insert(Value::Null), value);
            }
        }
        (into, from) => *into = from,
    }
}

/// A job of these parts under these rates, from its file.
pub fn job(rates: &Value, parts: Value) -> Job {
    let job = json!({ "format": "flitchwork.job/1", "units": "in", "title": "Piece", "shop": { "rates": rates }, "parts": parts });
    job::file::read_json("job", &job.to_string(), None).unwrap_or_else(|faults| panic!("{faults}"))
}

/// A pile of sticks or boards, from its file.
pub fn pile(mut stock: Value) -> Pile {
    stock["format"] = json!("flitchwork.pile/1");
    stock["units"] = json!("in");
    pile::file::read_json("pile", &stock.to_string()).unwrap_or_else(|faults| panic!("{faults}"))
}

/// A stick of 500 in that costs so much.
pub fn stick(cost: f64) -> Pile {
    pile(
        json!({ "sticks": [ { "id": "S1", "material": "square", "thickness": 1.5, "width": 1.5, "length": 500, "cost": cost } ] }),
    )
}

/// Parts of exactly one square foot of surface: 2 x 1.5 x 1.5 + 4 x 1.5 x 23.25 = 144 square inches.
pub fn square_foot_parts(qty: u32) -> Value {
    json!([ { "id": "part", "qty": qty, "material": "square", "thickness": 1.5, "width": 1.5, "length": 23.25 } ])
}

pub fn options() -> Options {
    Options { seconds: None, work: Some(20), gap: 0.0, seed: 1, threads: 1 }
}

pub fn planned(job: &Job, pile: &Pile) -> ShopPlan {
    plan::make(job, pile, &options(), &AtomicBool::new(false), &|_| {}).unwrap_or_else(|error| panic!("{error}"))
}

pub fn occasion() -> Occasion {
    Occasion { date: "2026-03-02".parse().unwrap(), client: None }
}

/// Planned and quoted.
pub fn quoted(job: &Job, pile: &Pile) -> Quote {
    quote::quote(job, pile, &planned(job, pile), occasion()).unwrap_or_else(|error| panic!("{error}"))
}
