//! What stands on the maker's sheet and what on the client's page.

use flitchwork::draw::offer::{offer_drawings, offer_pdf};
use flitchwork::plan::file::{read_json, write_json};
use flitchwork::quote::page::Page;
use flitchwork::quote::{self, Alternative, QuoteError, as_csv, as_html, summary};
use serde_json::{Value, json};

use crate::workshop::{job, occasion, only, pile, planned, quoted, square_foot_parts, stick};

fn telling_rates() -> Value {
    only(json!({
        "currency": "USD", "letterhead": ["A workshop of our own making"], "terms": ["Wood moves & <breathes>."],
        "labour": { "rate": 61.37, "design": { "hours": 3.25 }, "part": { "hours": 1.75 }, "delivery": { "hours": 2 } },
        "hardware": [ { "what": "secret hinge", "qty": 2, "cost": 7.77 } ],
        "material": { "markup": 13 }, "overhead": { "hour": 9.13 }, "contingency": 7, "profit": { "margin": 17 },
        "rounding": 5, "tax": { "name": "Sales tax", "percent": 8.25 },
        "payments": [ { "when": "with the order", "percent": 40 }, { "when": "on delivery", "percent": 60 } ]
    }))
}

/// Every label of the client's page on paper.
fn on_paper(page: &Page) -> String {
    let words: Vec<String> = offer_drawings(page)
        .iter()
        .flat_map(|sheet| sheet.labels().map(|label| label.text.clone()).collect::<Vec<_>>())
        .collect();
    words.join(" ")
}

#[test]
fn the_clients_page_shows_the_price_and_nothing_of_what_it_is_made_of() {
    let quote = quoted(&job(&telling_rates(), square_foot_parts(2)), &stick(91.19));
    let page = Page::of(&quote);
    for text in [as_html(&page), on_paper(&page)] {
        for inside in [
            "61.37",
            "3.25",
            "1.75",
            "secret hinge",
            "7.77",
            "91.19",
            "S1",
            "9.13",
            "13 %",
            "17 %",
            "7 %",
            "hour",
            "overhead",
            "margin",
            "markup",
            "profit",
            "contingency",
            "labour",
        ] {
            // The looks of the page are not its words.
            let words = text.split("</style>").last().unwrap();
            assert!(
                !words.to_lowercase().contains(&inside.to_lowercase()),
                "{inside} is on the client's page:\n{words}"
            );
        }
        let plain = text.replace(',', "");
        let total = quote.price.total.to_string();
        for outside in [
            "A workshop of our own making",
            "Piece",
            "2 March 2026",
            "1 April 2026",
            total.as_str(),
            "Sales tax 8.25 %",
        ] {
            assert!(plain.contains(outside), "no {outside} on the client's page:\n{text}");
        }
    }
    assert!(as_html(&page).contains("Wood moves &amp; &lt;breathes&gt;."));
    let maker = summary(&quote);
    for inside in ["61.37", "secret hinge", "91.19", "17 %", "S1"] {
        assert!(maker.contains(inside), "no {inside} on the maker's sheet:\n{maker}");
    }
}

#[test]
fn the_same_quote_gives_the_same_bytes() {
    let (job, pile) = (job(&telling_rates(), square_foot_parts(2)), stick(91.19));
    let (one, two) = (quoted(&job, &pile), quoted(&job, &pile));
    assert_eq!(quote::file::write_json(&one), quote::file::write_json(&two));
    assert_eq!((summary(&one), as_csv(&one)), (summary(&two), as_csv(&two)));
    let pdf = offer_pdf(&Page::of(&one)).unwrap();
    assert!(pdf.starts_with(b"%PDF-") && pdf == offer_pdf(&Page::of(&two)).unwrap());
}

#[test]
fn a_plan_from_its_file_gives_the_quote_of_the_plan_in_memory() {
    let board = pile(json!({ "boards": [
        { "id": "C1", "species": "cherry", "nominal": "4/4", "width": 6.3, "length": 121.7, "price_per_bf": 9.87 } ] }));
    let rail = json!([ { "id": "rail", "species": "cherry", "thickness": "3/4", "width": 3, "length": 40 } ]);
    let job = job(&only(json!({ "material": { "credit_offcuts": true } })), rail);
    let plan = planned(&job, &board);
    let again = read_json("plan", &write_json(&plan)).unwrap();
    let quote = |plan| quote::quote(&job, &board, plan, occasion()).unwrap();
    assert_eq!(quote(&plan), quote(&again));
}

#[test]
fn a_quote_validates_against_its_schema_and_reads_back() {
    let quote = quoted(&job(&telling_rates(), square_foot_parts(2)), &stick(91.19));
    let schema = quote::file::schema();
    jsonschema::draft202012::meta::validate(&schema).expect("a lawful schema");
    let file: Value = serde_json::from_str(&quote::file::write_json(&quote)).unwrap();
    let validator = jsonschema::draft202012::new(&schema).unwrap();
    let errors: Vec<String> = validator.iter_errors(&file).map(|error| error.to_string()).collect();
    assert!(errors.is_empty(), "{errors:?}");
    let read: quote::file::QuoteFile = serde_json::from_value(file).unwrap();
    assert_eq!(read, quote::file::to_file(&quote));
}

#[test]
fn a_short_plan_gives_a_quote_that_says_so_everywhere_and_is_no_offer() {
    // One of three parts fits on the stick.
    let short = pile(json!({ "sticks": [
        { "id": "S1", "material": "square", "thickness": 1.5, "width": 1.5, "length": 30, "cost": 10 } ] }));
    let quote = quoted(&job(&telling_rates(), square_foot_parts(3)), &short);
    assert!(!quote.is_complete());
    assert_eq!((quote.missing[0].part.as_str(), quote.missing[0].copies), ("part", 2));
    assert!(summary(&quote).contains("INCOMPLETE: 2 of 3 pieces are not in the plan"), "{}", summary(&quote));
    assert!(as_csv(&quote).contains("status,incomplete"));
    assert_eq!(serde_json::from_str::<Value>(&quote::file::write_json(&quote)).unwrap()["status"], "incomplete");
    let page = Page::of(&quote);
    for text in [as_html(&page), on_paper(&page)] {
        assert!(text.contains("Incomplete quote") && text.contains("2 of 3 parts are not covered"), "{text}");
        assert!(!text.contains("Stands until") && !text.contains("Ordered by"), "{text}");
    }
}

#[test]
fn a_plan_of_another_pile_is_refused() {
    let job = job(&telling_rates(), square_foot_parts(2));
    let plan = planned(&job, &stick(91.19));
    let error = quote::quote(&job, &stick(70.0), &plan, occasion()).unwrap_err();
    assert!(matches!(error, QuoteError::Unlawful(_)));
    assert!(error.to_string().contains("plan again"), "{error}");
}

#[test]
fn a_cell_of_the_spreadsheet_cannot_become_a_formula() {
    let rates = only(json!({ "hardware": [ { "what": "=HYPERLINK(1)", "cost": 1 } ] }));
    let csv = as_csv(&quoted(&job(&rates, square_foot_parts(1)), &stick(1.0)));
    assert!(csv.contains("materials,'=HYPERLINK(1),1,pieces,"), "{csv}");
}

#[test]
fn another_wood_that_can_be_had_is_offered_to_the_client_and_one_that_cannot_is_not() {
    let mut quote = quoted(&job(&telling_rates(), square_foot_parts(1)), &stick(91.19));
    let other = |words: &str, missing| Alternative { missing, ..Alternative::of(words.to_owned(), &quote) };
    let offered = vec![other("walnut instead of cherry", 0), other("oak instead of cherry", 2)];
    quote.alternatives = offered;
    let html = as_html(&Page::of(&quote));
    assert!(html.contains("walnut instead of cherry") && !html.contains("oak"), "{html}");
    let maker = summary(&quote);
    assert!(maker.contains("oak instead of cherry") && maker.contains("INCOMPLETE, 2 pieces missing"), "{maker}");
}
