//! Rates in files: what is read, layered, written back and refused.

use flitchwork::job::Shop;
use flitchwork::job::file::{read_json, read_shop, write_json};
use flitchwork::job::rates::{Operation, Profit, Rates, Wage};
use flitchwork::measure::{Money, Rational, Units};
use rstest::rstest;
use serde_json::{Value, json};

fn shop_text(units: &str, rates: &Value) -> String {
    json!({ "format": "flitchwork.shop/1", "units": units, "rates": rates }).to_string()
}

fn job_text(units: &str, rates: &Value) -> String {
    let part = json!({ "id": "p", "species": "ash", "thickness": 1, "width": 2, "length": 20 });
    json!({ "format": "flitchwork.job/1", "units": units, "shop": { "rates": rates }, "parts": [part] }).to_string()
}

fn ratio(n: i64, d: i64) -> Rational {
    Rational::new(n.into(), d.into())
}

#[test]
fn a_job_states_only_what_differs_from_the_shop_and_the_shop_from_the_defaults() {
    let shop =
        json!({ "labour": { "rate": 55, "cut": { "hours": "2 min" } }, "profit": { "markup": 30 }, "currency": "EUR" });
    let shop = read_shop("s", &shop_text("in", &shop)).unwrap();
    let job = json!({ "labour": { "delivery": { "hours": 3 } }, "currency": "GBP" });
    let rates = read_json("j", &job_text("in", &job), Some(&shop)).unwrap().shop.rates;
    assert_eq!(rates.labour.wage, Wage::Hourly(Money::from_micros(55_000_000)));
    assert_eq!(rates.labour.of(Operation::Cut).hours, ratio(1, 30));
    assert_eq!(rates.labour.of(Operation::Delivery).hours, ratio(3, 1));
    assert_eq!(rates.labour.of(Operation::GlueUp), Rates::defaults().labour.of(Operation::GlueUp));
    assert_eq!(rates.profit, Profit::Markup(ratio(3, 10)));
    assert_eq!(rates.currency, "GBP");

    let by_margin = read_json("j", &job_text("in", &json!({ "profit": { "margin": "12.5 %" } })), Some(&shop)).unwrap();
    assert_eq!(by_margin.shop.rates.profit, Profit::Margin(ratio(1, 8)));
    let silent = read_json("j", &job_text("in", &json!({})), Some(&shop)).unwrap();
    assert_eq!(silent.shop.rates.profit, Profit::Markup(ratio(3, 10)));
}

#[test]
fn a_shop_in_millimetres_counts_areas_by_the_square_metre() {
    // 0.09290304 square metres to the square foot, exactly.
    let rates = json!({ "finish": { "per_coat": 10 }, "labour": { "sanding": { "hours": 1 } } });
    let rates = read_json("j", &job_text("mm", &rates), None).unwrap().shop.rates;
    let foot = ratio(9_290_304, 100_000_000);
    assert_eq!(rates.labour.of(Operation::Sanding).hours, foot);
    assert_eq!(*rates.finish.per_coat.as_rational(), foot * ratio(10, 1));
}

#[rstest]
#[case::inches("in")]
#[case::millimetres("mm")]
fn a_job_with_rates_of_every_kind_is_written_and_reads_back_the_same(#[case] units: &str) {
    let rates = json!({
        "currency": "CHF", "letterhead": ["A shop"], "terms": ["A term."], "validity_days": 14, "rounding": 10,
        "material": { "markup": "0.5 %", "credit_offcuts": true }, "consumables": { "glue": 0.4, "part": 1, "share": 3 },
        "finish": { "coats": 2, "per_coat": 4.2 }, "hardware": [ { "what": "hinge", "qty": 2.5, "cost": 7.77 } ],
        "labour": { "yearly": { "wages": 40000, "billable_hours": 1300 }, "cut": { "hours": "1 min", "rate": 50 },
                    "sanding": { "hours": "7 min" }, "design": { "hours": "1 h 20 min" } },
        "overhead": { "hour": 0, "job": 3 }, "contingency": 0, "profit": { "markup": 33.3 },
        "tax": { "name": "VAT", "percent": 8.1 }, "payments": [ { "when": "at once", "percent": 100 } ]
    });
    let job = read_json("j", &job_text(units, &rates), None).unwrap_or_else(|faults| panic!("{faults}"));
    let written = write_json(&job);
    assert_eq!(read_json("j", &written, None).unwrap_or_else(|faults| panic!("{faults}\n{written}")), job);
    assert!(job.shop != Shop::defaults(job.units));
    let plain = read_json("j", &job_text(units, &json!({})), None).unwrap();
    assert!(!write_json(&plain).contains("rates"));
    let cleared = read_json("j", &job_text(units, &json!({ "payments": [] })), None).unwrap();
    assert_eq!(read_json("j", &write_json(&cleared), None).unwrap(), cleared);
}

#[rstest]
#[case::both_profits(
    json!({ "profit": { "markup": 25, "margin": 20 } }),
    "s, rates.profit.margin: `markup` and `margin` are both given (read 20); profit is reckoned on the cost or on the price: keep one of them"
)]
#[case::a_share_for_a_percentage(
    json!({ "profit": { "margin": 0.2 } }),
    "s, rates.profit.margin: a share below one percent is in doubt (read 0.2); write 20 for 20 percent of the whole, or \"0.2 %\" if so little is meant"
)]
#[case::nothing_left(
    json!({ "overhead": { "sales": 60 }, "profit": { "margin": 40 } }),
    "s, rates.profit: overhead on sales and profit together take the whole price or more: no price covers them; lower `profit` or `overhead.sales`"
)]
#[case::payments_that_are_not_the_whole(
    json!({ "payments": [ { "when": "first", "percent": 50 }, { "when": "last", "percent": 40 } ] }),
    "s, rates.payments: the payments do not add up to 100 percent (read a list); write shares that add up to 100, or [] for no schedule"
)]
#[case::overhead_twice(
    json!({ "labour": { "yearly": { "wages": 1, "overhead": 1, "billable_hours": 1 } }, "overhead": { "hour": 1 } }),
    "s, rates.overhead: the yearly overhead is in the hourly rate already, and counted once more here; write 0 for `hour`, `prime` and `sales` under `overhead`, or leave `labour.yearly.overhead` out"
)]
#[case::two_wages(
    json!({ "labour": { "rate": 40, "yearly": { "wages": 1, "billable_hours": 1 } } }),
    "s, rates.labour.yearly: `rate` and `yearly` are both given; write the rate, or what it follows from"
)]
#[case::no_time(
    json!({ "labour": { "cut": { "hours": "soon" } } }),
    "s, rates.labour.cut.hours: a time is wanted here (read \"soon\"); write hours such as 1.5, or \"3 min\""
)]
#[case::no_step(
    json!({ "rounding": 0 }),
    "s, rates.rounding: a price is not rounded to this (read 0); write whole cents, such as 0.01, 1 or 5"
)]
#[case::an_unknown_operation(
    json!({ "labour": { "sandin": { "hours": 1 } } }),
    "s, rates.labour.sandin: there is no field \"sandin\" here; did you mean `sanding`?"
)]
#[case::more_margin_than_there_is(
    json!({ "profit": { "margin": 100 } }),
    "s, rates.profit.margin: this must lie between 0 and 99 percent (read 100); check the figure"
)]
fn rates_that_make_no_sense_are_refused_with_their_place_and_a_cure(#[case] rates: Value, #[case] message: &str) {
    assert_eq!(read_shop("s", &shop_text("in", &rates)).unwrap_err().to_string(), message);
}

#[test]
fn rates_that_go_wrong_together_are_refused_where_the_second_stands() {
    let shop = read_shop("s", &shop_text("in", &json!({ "overhead": { "sales": 70 } }))).unwrap();
    let refused = read_json("j", &job_text("in", &json!({ "profit": { "margin": 30 } })), Some(&shop)).unwrap_err();
    assert!(refused.to_string().starts_with("j, shop.rates.profit: overhead on sales"), "{refused}");
    assert_eq!(Shop::defaults(Units::Inches).rates.judged(), Ok(()));
}
