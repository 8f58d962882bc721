//! Every row of `tests/data/trade/pricing_examples.csv` that is about a price, through the rates of a job file, a plan and
//! the quote. Each row names its source. Figures are compared in the decimals their source prints. The rows about lumber
//! to order (PR12, PR13) are no prices.

use std::collections::BTreeMap;
use std::path::Path;

use flitchwork::measure::{Money, Rational, decimal_from_text};
use flitchwork::quote::Quote;
use serde_json::{Value, json};

use crate::workshop::{job, only, quoted, square_foot_parts, stick};

type Row = BTreeMap<String, String>;

fn rows() -> BTreeMap<String, Row> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/trade/pricing_examples.csv");
    let mut reader = csv::Reader::from_path(path).expect("the table is there");
    let rows = reader.deserialize().map(|row| row.expect("the table is well formed"));
    rows.map(|row: Row| (row["id"].clone(), row)).collect()
}

/// A quote of one stick at `stock`, `qty` parts of a square foot each, and these rates.
fn one(stock: f64, qty: u32, rates: Value) -> Quote {
    quoted(&job(&only(rates), square_foot_parts(qty)), &stick(stock))
}

/// Fails unless `found` prints as the row's value, in as many decimals as it has.
#[track_caller]
fn is(row: &str, found: &Rational) {
    let rows = rows();
    let value = &rows[row]["value"];
    let decimals = value.split_once('.').map_or(0, |(_, decimals)| decimals.len());
    let scale = Rational::from_integer(num_bigint::BigInt::from(10u8).pow(decimals as u32));
    let expected = decimal_from_text(value).expect("a decimal");
    assert_eq!((found * &scale).round() / &scale, expected, "{row}: {}", rows[row]["inputs"]);
}

fn exact(money: &Money) -> &Rational {
    money.as_rational()
}

fn whole(n: i64) -> Rational {
    Rational::from_integer(n.into())
}

#[test]
fn pr01_a_markup_of_25_on_the_cost_is_a_margin_of_20_of_the_price() {
    for profit in [json!({ "markup": 25 }), json!({ "margin": 20 })] {
        let quote = one(100.0, 1, json!({ "profit": profit }));
        assert_eq!(*exact(&quote.price.exact), whole(125));
        let markup = exact(&quote.price.profit) / exact(&quote.price.cost) * whole(100);
        is("PR01", &markup);
        assert_eq!(exact(&quote.price.profit) / exact(&quote.price.exact), Rational::new(1.into(), 5.into()));
    }
}

#[test]
fn pr02_overhead_and_profit_as_shares_of_sales_divide_the_cost() {
    let quote = one(500.0, 1, json!({ "overhead": { "sales": 22 }, "profit": { "margin": 9 } }));
    is("PR02", exact(&quote.price.exact));
    assert_eq!(quote.price.price.to_string(), "724.64");
    // The usual error, as the row's note gives it: adding the shares instead.
    let wrong = one(500.0, 1, json!({ "profit": { "markup": 31 } }));
    assert_eq!(wrong.price.price.to_string(), "655.00");
}

#[test]
fn pr04_and_pr05_a_craft_cost_sheet_agrees_with_itself_when_it_is_rounded_once() {
    // 1.09 square feet of leather at 7.97 as the stock, "misc" as a share of it, the tie and the return as bought things.
    let stock = 8.6873;
    for (row, rate) in [("PR04", 40), ("PR05", 50)] {
        let quote = one(
            stock,
            1,
            json!({
                "consumables": { "share": 20 },
                "hardware": [ { "what": "tie", "cost": 0.36 }, { "what": "return", "cost": 0.57 } ],
                "labour": { "rate": rate, "part": { "hours": 0.34 } }
            }),
        );
        is(row, exact(&quote.price.exact));
        assert_eq!(quote.price.price.to_string(), rows()[row]["value"]);
        // The materials without the return come to 10.78476: printed 10.78, where rounded lines would give 10.79.
        let materials = exact(&quote.price.materials) - decimal_from_text("0.57").unwrap();
        assert_eq!(materials, decimal_from_text("10.78476").unwrap());
    }
}

#[test]
fn pr08_a_week_of_a_hundred_pieces_costs_five_each_and_sells_at_ten() {
    let stick = crate::workshop::pile(json!({ "sticks": [
        { "id": "S1", "material": "square", "thickness": 1.5, "width": 1.5, "length": 1000, "cost": 100 } ] }));
    let parts =
        json!([ { "id": "piece", "qty": 100, "material": "square", "thickness": 1.5, "width": 1.5, "length": 4 } ]);
    let rates = only(json!({ "labour": { "rate": 10, "part": { "hours": 0.4 } }, "profit": { "markup": 100 } }));
    let quote = quoted(&job(&rates, parts), &stick);
    assert_eq!(quote.hours(), whole(40));
    is("PR08", &(exact(&quote.price.cost) / whole(100)));
    assert_eq!(exact(&quote.price.exact) / whole(100), whole(10));
}

#[test]
fn pr09_keystone_retail_is_twice_wholesale() {
    let rates = json!({ "labour": { "rate": 5.25, "design": { "hours": 6 } }, "overhead": { "job": 8.5 }, "profit": { "markup": 100 } });
    let quote = one(40.0, 1, rates);
    assert_eq!(*exact(&quote.price.cost), whole(80));
    is("PR09", exact(&quote.price.exact));
}

#[test]
fn pr10_overhead_on_prime_cost_then_markup() {
    let rates = json!({ "labour": { "rate": 30, "design": { "hours": 4 } }, "overhead": { "prime": 40 }, "profit": { "markup": 15 } });
    let quote = one(180.0, 1, rates);
    assert_eq!(*exact(&quote.price.cost), whole(420));
    is("PR10", exact(&quote.price.exact));
}

#[test]
fn pr11_a_shop_rate_is_a_years_cost_over_the_hours_that_are_billed() {
    let yearly = json!({ "wages": 45000, "overhead": 27000, "billable_hours": 1200 });
    let quote = one(0.0, 1, json!({ "labour": { "yearly": yearly, "design": { "hours": 1 } } }));
    is("PR11", exact(&quote.price.labour));
}

#[test]
fn pr14_a_commission_by_margin() {
    // 88.57 board feet at 8.50 as a stick of that price; the finish is one coat of 45 on the part's one square foot.
    let stock = 752.845;
    let rates = json!({
        "hardware": [ { "what": "hardware", "cost": 60 } ],
        "finish": { "coats": 1, "per_coat": 45 },
        "labour": { "rate": 38, "design": { "hours": 2 }, "part": { "hours": 30 } },
        "overhead": { "hour": 12.5 },
        "profit": { "margin": 20 }
    });
    let quote = one(stock, 1, rates);
    assert_eq!(*exact(&quote.price.cost), decimal_from_text("2473.845").unwrap());
    is("PR14", exact(&quote.price.exact));
    assert_eq!(exact(&quote.price.profit) / exact(&quote.price.exact), Rational::new(1.into(), 5.into()));
}

#[test]
fn every_example_of_a_price_is_checked() {
    let checked = ["PR01", "PR02", "PR04", "PR05", "PR08", "PR09", "PR10", "PR11", "PR14"];
    let about_prices: Vec<String> =
        rows().into_values().filter(|row| row["kind"] != "lumber to order").map(|row| row["id"].clone()).collect();
    assert_eq!(about_prices, checked);
}
