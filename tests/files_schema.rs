//! The published schemas against the readers: what the one knows, the other knows, and what the one refuses for its
//! structure, the other refuses too. An independent validator (the `jsonschema` crate, draft 2020-12) judges.

use flitchwork::job::Shop;
use flitchwork::measure::Units;
use flitchwork::{job, pile};
use rstest::rstest;
use serde_json::{Value, json};

fn pile_sample() -> Value {
    json!({ "format": "flitchwork.pile/1", "units": "in", "tally": "exact",
        "boards": [
            { "id": "C-04", "species": "cherry", "nominal": "5/4", "thickness": 1.28, "width": 7.25, "length": "98 1/2 in",
              "grade": "FAS", "surfaced": "rough", "rings": "flat", "heart": "bottom", "price_per_bf": 9.80,
              "board_feet": 6, "surface_measure": 5, "moisture": 7, "quantity": 2,
              "warp": { "bow": 0.25, "crook": "1/8", "cup": 0, "twist": 0.0 },
              "defects": [ { "kind": "knot", "x": 31, "y": 2.25, "length": 2.5, "width": 1.75, "face": "through", "sound": false } ],
              "marks": "12-14 near top ok" },
            { "id": "C-05", "species": "cherry", "thickness": "1", "width": "½", "length": 90, "cost": 3, "warp": "slight" } ],
        "sheets": [ { "id": "PLY-18", "material": "oak ply", "thickness": 0.709, "length": 96, "width": 48, "grain": "none", "quantity": 2, "cost": 92 } ],
        "sticks": [ { "id": "SQ", "material": "ash square", "thickness": 2, "width": 2, "length": 72, "quantity": 6, "cost": 21 } ] })
}

fn job_sample() -> Value {
    json!({ "format": "flitchwork.job/1", "units": "in", "title": "A table", "shop": { "kerf": { "rip": "3/32" }, "machine": { "sheet_stages": 2 } },
        "parts": [
            { "id": "rail", "qty": 4, "species": "cherry", "thickness": 0.875, "width": 3, "length": 21.5, "tenons": [1, 1], "faces": "c1f",
              "rings": ["rift", "quarter"], "priority": -1, "value": 10, "group": "base", "note": "n",
              "match": { "group": "leg", "rule": "board", "scope": "copy", "worth": 5 } },
            { "id": "leg", "species": "cherry", "thickness": 2, "width": 2, "length": 27, "lamination": { "layers": 2 } },
            { "id": "top", "species": "cherry", "thickness": 0.875, "width": 20, "length": 44,
              "panel": { "stave_min": 2.5, "stave_max": 5.5, "equal": true, "max_boards": 3 } },
            { "id": "bottom", "material": "oak ply", "thickness": 0.709, "width": 18, "length": 40, "grain": "across" } ] })
}

/// A shop file that states every setting the schema knows, at its default.
fn shop_sample() -> Value {
    let mut sample = defaults_of(&job::file::shop_schema());
    sample["format"] = json!("flitchwork.shop/1");
    sample["units"] = json!("in");
    sample
}

/// Every setting of a schema at its default; one without a default is left out.
fn defaults_of(schema: &Value) -> Value {
    let mut sample = json!({});
    for (name, schema) in schema["properties"].as_object().expect("properties") {
        if let Some(default) = schema.get("default") {
            sample[name] = default.clone();
        } else if schema.get("properties").is_some() {
            let inner = defaults_of(schema);
            // A group of required fields alone has no defaults to state.
            if schema.get("required").is_none() {
                sample[name] = inner;
            }
        }
    }
    sample
}

/// The same, with what has no default and does not exclude what has one.
fn full_shop_sample() -> Value {
    let mut sample = shop_sample();
    let rates = &mut sample["rates"];
    rates["hardware"] = json!([{ "what": "hinge", "qty": 2, "cost": 3.5 }]);
    rates["letterhead"] = json!(["A shop"]);
    rates["terms"] = json!(["A term."]);
    for (name, operation) in rates["labour"].as_object_mut().expect("operations") {
        if name != "rate" {
            operation["rate"] = json!(50);
        }
    }
    sample
}

/// Settings that stand in place of one that has a default.
const IN_PLACE: [&str; 2] = ["/rates/profit/markup", "/rates/labour/yearly"];

#[derive(Clone, Copy, Debug)]
enum Kind {
    Pile,
    Job,
    Shop,
}

impl Kind {
    fn sample(self) -> Value {
        match self {
            Kind::Pile => pile_sample(),
            Kind::Job => job_sample(),
            Kind::Shop => full_shop_sample(),
        }
    }

    fn schema(self) -> Value {
        match self {
            Kind::Pile => pile::file::schema(),
            Kind::Job => job::file::schema(),
            Kind::Shop => job::file::shop_schema(),
        }
    }

    fn reads(self, file: &Value) -> Result<(), pile::Faults> {
        let text = file.to_string();
        match self {
            Kind::Pile => pile::file::read_json("f", &text).map(|_| ()),
            Kind::Job => job::file::read_json("f", &text, None).map(|_| ()),
            Kind::Shop => job::file::read_shop("f", &text).map(|_| ()),
        }
    }

    fn validates(self, file: &Value) -> bool {
        jsonschema::draft202012::new(&self.schema()).expect("a schema").is_valid(file)
    }
}

#[rstest]
fn a_sample_with_every_field_is_read_and_validates(#[values(Kind::Pile, Kind::Job, Kind::Shop)] kind: Kind) {
    let schema = kind.schema();
    jsonschema::draft202012::meta::validate(&schema).expect("a lawful schema");
    kind.reads(&kind.sample()).unwrap_or_else(|faults| panic!("{faults}"));
    assert!(kind.validates(&kind.sample()));
}

/// Every object of a schema, with the way to it.
fn objects(schema: &Value, path: &str, found: &mut Vec<(String, Value)>) {
    if let Some(properties) = schema.get("properties").and_then(Value::as_object) {
        found.push((path.to_owned(), schema.clone()));
        for (name, property) in properties {
            objects(property, &format!("{path}.{name}"), found);
        }
    }
    if let Some(items) = schema.get("items") {
        objects(items, &format!("{path}[]"), found);
    }
    for option in schema.get("anyOf").and_then(Value::as_array).into_iter().flatten() {
        objects(option, path, found);
    }
}

#[rstest]
fn every_object_is_closed_and_every_field_explained(#[values(Kind::Pile, Kind::Job, Kind::Shop)] kind: Kind) {
    let mut found = Vec::new();
    objects(&kind.schema(), "", &mut found);
    assert!(!found.is_empty());
    for (path, object) in found {
        assert_eq!(object["additionalProperties"], json!(false), "{path}");
        for (name, property) in object["properties"].as_object().expect("properties") {
            let about = property["description"].as_str().unwrap_or_default();
            assert!(about.len() > 5 && about.ends_with('.'), "{path}.{name}: {about:?}");
        }
    }
}

#[rstest]
fn every_length_and_amount_of_money_says_its_unit(#[values(Kind::Pile, Kind::Job, Kind::Shop)] kind: Kind) {
    let mut found = Vec::new();
    objects(&kind.schema(), "", &mut found);
    let mut lengths = 0;
    for (path, object) in found {
        for (name, property) in object["properties"].as_object().expect("properties") {
            let about = property["description"].as_str().unwrap_or_default();
            if property["type"] == json!(["number", "string"]) {
                assert!(about.contains("in the file's `units`"), "{path}.{name}: {about}");
                lengths += 1;
            }
            if ["cost", "price_per_bf", "value", "worth"].contains(&name.as_str()) {
                assert!(about.ends_with("In the shop's currency."), "{path}.{name}: {about}");
            }
        }
    }
    assert!(lengths >= 5);
}

/// Every field and list entry of a file, as JSON pointers.
fn pointers(value: &Value, at: &str, found: &mut Vec<String>) {
    match value {
        Value::Object(fields) => {
            for (name, value) in fields {
                let at = format!("{at}/{name}");
                found.push(at.clone());
                pointers(value, &at, found);
            }
        }
        Value::Array(items) => {
            for (i, item) in items.iter().enumerate() {
                let at = format!("{at}/{i}");
                found.push(at.clone());
                pointers(item, &at, found);
            }
        }
        _ => {}
    }
}

/// The fields a schema knows, as pointers without indices.
fn known(kind: Kind) -> Vec<String> {
    let mut found = Vec::new();
    objects(&kind.schema(), "", &mut found);
    let names = |(path, object): &(String, Value)| {
        let path = path.replace("[]", "").replace('.', "/");
        let names: Vec<String> = object["properties"].as_object().expect("properties").keys().cloned().collect();
        names.into_iter().map(move |name| format!("{path}/{name}")).collect::<Vec<_>>()
    };
    let mut known: Vec<String> = found.iter().flat_map(names).collect();
    known.sort();
    known
}

#[rstest]
fn the_samples_use_every_field_the_schema_knows(#[values(Kind::Pile, Kind::Job, Kind::Shop)] kind: Kind) {
    let mut used = Vec::new();
    pointers(&kind.sample(), "", &mut used);
    let mut used: Vec<String> = used
        .iter()
        .map(|p| p.split('/').filter(|step| step.parse::<usize>().is_err()).collect::<Vec<_>>().join("/"))
        .collect();
    used.sort();
    used.dedup();
    let mut expected = known(kind);
    if matches!(kind, Kind::Job) {
        // The job's own settings are those of the shop file; one of each kind is enough here.
        let shop = |p: &String| !p.starts_with("/shop/");
        expected.retain(shop);
        used.retain(shop);
    }
    expected.retain(|p| !IN_PLACE.iter().any(|other| p.starts_with(other)));
    assert_eq!(used, expected);
}

#[test]
fn a_jobs_settings_are_those_of_a_shop_file() {
    let of_job: Vec<String> =
        known(Kind::Job).into_iter().filter_map(|p| p.strip_prefix("/shop").map(str::to_owned)).collect();
    let mut of_shop = known(Kind::Shop);
    of_shop.retain(|p| p != "/format" && p != "/units");
    assert_eq!(of_job.iter().filter(|p| !p.is_empty()).cloned().collect::<Vec<_>>(), of_shop);
}

#[test]
fn the_published_defaults_are_the_shops_own() {
    let mut shop = Shop::defaults(Units::Inches);
    shop.kerf.rip = flitchwork::measure::Length::ZERO;
    let read = job::file::read_shop("s", &shop_sample().to_string()).unwrap();
    read.apply(&mut shop);
    assert_eq!(shop, Shop::defaults(Units::Inches));
    let of_milling = |p: &&String| p.matches('/').count() == 2 && !p.starts_with("/rates");
    assert_eq!(known(Kind::Shop).iter().filter(of_milling).count(), 42);
}

/// Changes to a sample that break its structure, one at a time.
#[rstest]
fn a_strange_field_anywhere_fails_both(#[values(Kind::Pile, Kind::Job, Kind::Shop)] kind: Kind) {
    let mut at = Vec::new();
    pointers(&kind.sample(), "", &mut at);
    at.push(String::new());
    let mut tried = 0;
    for pointer in at {
        let mut file = kind.sample();
        if let Some(Value::Object(fields)) = file.pointer_mut(&pointer) {
            fields.insert("stranger".into(), json!(1));
            assert!(kind.reads(&file).is_err() && !kind.validates(&file), "{pointer}");
            tried += 1;
        }
    }
    assert!(tried >= 4);
}

#[rstest]
fn a_value_of_the_wrong_type_anywhere_fails_both(#[values(Kind::Pile, Kind::Job, Kind::Shop)] kind: Kind) {
    let mut at = Vec::new();
    pointers(&kind.sample(), "", &mut at);
    let schema = jsonschema::draft202012::new(&kind.schema()).expect("a schema");
    for pointer in at {
        for wrong in [json!(null), json!([[]]), json!({ "a": {} }), json!(-1.5), json!("\u{7}?")] {
            let mut file = kind.sample();
            *file.pointer_mut(&pointer).expect("a field") = wrong.clone();
            let (read, valid) = (kind.reads(&file), schema.is_valid(&file));
            // Free text takes any text; control characters in it are no matter of structure.
            let free_text = wrong.is_string() && file.pointer(&pointer).is_some_and(Value::is_string) && valid;
            if free_text {
                assert!(read.is_err(), "{pointer}: {wrong} was read");
            } else {
                assert!(read.is_err() && !valid, "{pointer} = {wrong}: read {read:?}, valid {valid}");
            }
        }
    }
}

#[rstest]
fn a_field_left_out_fails_both_or_neither(#[values(Kind::Pile, Kind::Job, Kind::Shop)] kind: Kind) {
    let mut at = Vec::new();
    pointers(&kind.sample(), "", &mut at);
    let schema = jsonschema::draft202012::new(&kind.schema()).expect("a schema");
    let mut refused = 0;
    for pointer in at {
        let mut file = kind.sample();
        let (parent, name) = pointer.rsplit_once('/').expect("a pointer");
        let Some(Value::Object(fields)) = file.pointer_mut(parent) else { continue };
        fields.remove(name);
        let (read, valid) = (kind.reads(&file), schema.is_valid(&file));
        assert_eq!(read.is_ok(), valid, "without {pointer}: {read:?}");
        refused += usize::from(!valid);
    }
    assert!(refused >= 2);
}

#[rstest]
#[case::two_prices(Kind::Pile, "/boards/0", "cost", json!(3))]
#[case::species_and_material(Kind::Job, "/parts/0", "material", json!("ply"))]
#[case::lamination_and_panel(Kind::Job, "/parts/1", "panel", json!({ "stave_min": 1, "stave_max": 2 }))]
#[case::a_glued_up_sheet(Kind::Job, "/parts/3", "lamination", json!({}))]
#[case::a_sheet_with_rings(Kind::Job, "/parts/3", "rings", json!(["flat"]))]
#[case::three_tenons(Kind::Job, "/parts/0", "tenons", json!([1, 1, 1]))]
#[case::no_parts(Kind::Job, "", "parts", json!([]))]
#[case::a_word_of_no_list(Kind::Pile, "/boards/0", "surfaced", json!("sawn"))]
#[case::a_negative_length(Kind::Pile, "/boards/0", "width", json!(-1))]
#[case::no_quarter_name(Kind::Pile, "/boards/0", "nominal", json!("five quarters"))]
#[case::too_many(Kind::Job, "/parts/0", "qty", json!(100_001))]
#[case::another_format(Kind::Shop, "", "format", json!("flitchwork.shop/2"))]
#[case::two_profits(Kind::Shop, "/rates/profit", "markup", json!(25))]
#[case::two_wages(Kind::Shop, "/rates/labour", "yearly", json!({ "wages": 1, "billable_hours": 1 }))]
#[case::a_share_for_a_percentage(Kind::Shop, "/rates/profit", "margin", json!(0.2))]
#[case::credit_above_one(Kind::Shop, "/keep", "credit", json!(1.01))]
fn a_rule_across_fields_or_a_range_fails_both(
    #[case] kind: Kind,
    #[case] pointer: &str,
    #[case] name: &str,
    #[case] value: Value,
) {
    let mut file = kind.sample();
    file.pointer_mut(pointer).expect("a group")[name] = value;
    assert!(kind.reads(&file).is_err());
    assert!(!kind.validates(&file));
}
