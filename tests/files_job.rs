//! Job and shop files through the public door: what they come to, and every kind of refusal with its exact message.
//!
//! What all files share (lengths, words, syntax) is tested in `files_pile`; CSV in `files_csv`.

use flitchwork::job::file::{read_json, read_shop, write_json};
use flitchwork::job::shop::RipFirst;
use flitchwork::job::{Faces, Lamination, MatchRule, MatchScope, Panel, Part, PartGrain, Shop, Wanted};
use flitchwork::measure::{Length, Money, Rational, Units};
use flitchwork::pile::Rings;
use rstest::rstest;

const fn inch(numerator: i64, denominator: i64) -> Length {
    Length::from_inch_fraction(numerator, denominator)
}

fn job_of(parts: &str, shop: &str) -> String {
    format!(r#"{{ "format": "flitchwork.job/1", "units": "in", "shop": {shop}, "parts": [{parts}] }}"#)
}

/// A job of one plain part, with `fields` added to it (or put in place of its own).
fn one_part(fields: &str) -> String {
    let mut part = serde_json::json!({ "id": "P", "species": "ash", "thickness": 0.875, "width": 3, "length": 21.5 });
    let given: serde_json::Value = serde_json::from_str(fields).expect("the test's own fields are JSON");
    for (name, value) in given.as_object().expect("fields") {
        if value.is_null() {
            part.as_object_mut().expect("a part").remove(name);
        } else {
            part[name] = value.clone();
        }
    }
    job_of(&part.to_string(), "{}")
}

fn read_part(fields: &str) -> Part {
    let job = read_json("j", &one_part(fields), None).unwrap_or_else(|faults| panic!("{faults}"));
    job.parts.into_iter().next().expect("one part")
}

fn refusal(text: &str) -> String {
    read_json("j", text, None).expect_err("this file is to be refused").to_string()
}

const WHOLE: &str = r#"{ "format": "flitchwork.job/1", "units": "in", "title": "A table",
  "shop": { "kerf": { "rip": "3/32" }, "machine": { "rip_first": "always" }, "keep": { "credit": 0.25 } },
  "parts": [
    { "id": "rail", "qty": 4, "species": "cherry", "thickness": 0.875, "width": 3, "length": 21.5, "tenons": [1, "1 1/4"],
      "faces": "c2f", "rings": ["quarter", "Rift"], "priority": 2, "value": 12.5, "group": "base", "note": "dry fit first" },
    { "id": "leg", "qty": 4, "species": "cherry", "thickness": 2, "width": 2, "length": 27, "lamination": { "layers": 2 }, "match": { "group": "Leg", "rule": "board", "scope": "copy" } },
    { "id": "short leg", "species": "cherry", "thickness": 2, "width": 2, "length": 20, "lamination": {}, "match": { "group": "leg", "rule": "board", "scope": "copy", "worth": 15 } },
    { "id": "top", "qty": 1, "species": "cherry", "thickness": 0.875, "width": 20, "length": 44, "panel": { "stave_min": 2.5, "stave_max": 5.5, "equal": true, "max_boards": 2 } },
    { "id": "bottom", "qty": 1, "material": "oak ply", "thickness": 0.709, "width": 18, "length": 40, "grain": "across" } ] }"#;

#[test]
fn a_whole_job_reads_field_by_field() {
    let job = read_json("job.json", WHOLE, None).unwrap();
    assert_eq!((job.units, job.title.as_str()), (Units::Inches, "A table"));
    let mut shop = Shop::defaults(Units::Inches);
    shop.kerf.rip = inch(3, 32);
    shop.machine.rip_first = RipFirst::Always;
    shop.keep.credit = Rational::new(1.into(), 4.into());
    assert_eq!(job.shop, shop);
    let rail = &job.parts[0];
    assert_eq!((rail.qty, &rail.stock), (4, &Wanted::Species("cherry".into())));
    assert_eq!((rail.thickness, rail.width, rail.length), (inch(7, 8), inch(3, 1), inch(43, 2)));
    assert_eq!((rail.tenons, rail.full_length()), ([inch(1, 1), inch(5, 4)], inch(95, 4)));
    assert_eq!((rail.faces, rail.priority, rail.grain), (Faces::C2f, 2, PartGrain::Along));
    assert_eq!(rail.rings, [Rings::Quarter, Rings::Rift]);
    assert_eq!(rail.value, Money::from_f64(12.5));
    assert_eq!((rail.group.as_deref(), rail.note.as_deref()), (Some("base"), Some("dry fit first")));
    assert_eq!(job.parts[1].lamination, Some(Lamination { layers: Some(2) }));
    assert_eq!(job.parts[2].lamination, Some(Lamination { layers: None }));
    assert_eq!(
        job.parts[3].panel,
        Some(Panel { stave_min: inch(5, 2), stave_max: inch(11, 2), equal: true, max_boards: Some(2) })
    );
    assert_eq!((&job.parts[4].stock, job.parts[4].grain), (&Wanted::Material("oak ply".into()), PartGrain::Across));
}

#[test]
fn a_match_group_has_one_spelling_and_one_worth() {
    let job = read_json("job.json", WHOLE, None).unwrap();
    let [leg, short] = [1, 2].map(|i| job.parts[i].matching.clone().expect("matched"));
    assert_eq!((leg.group.as_str(), short.group.as_str()), ("Leg", "Leg"));
    assert_eq!((leg.rule, leg.scope, leg.worth), (MatchRule::Board, MatchScope::Copy, Money::from_f64(15.0)));
    assert_eq!(short.worth, Money::from_f64(15.0));
}

#[test]
fn a_written_job_reads_back_the_same() {
    let job = read_json("job.json", WHOLE, None).unwrap();
    assert_eq!(read_json("again", &write_json(&job), None).unwrap(), job);
}

#[test]
fn a_plain_part_has_the_contracts_defaults() {
    let part = read_part("{}");
    assert_eq!((part.qty, part.tenons, part.faces), (1, [Length::ZERO; 2], Faces::C1f));
    assert_eq!((part.grain, part.priority), (PartGrain::Along, 0));
    assert!(part.rings.is_empty() && part.value.is_none() && part.matching.is_none());
}

#[test]
fn a_job_overrides_the_shop_file_setting_by_setting() {
    let text = r#"{ "format": "flitchwork.shop/1", "units": "mm", "kerf": { "rip": 3, "crosscut": 4 }, "glue": { "max_layers": 6 } }"#;
    let shop = read_shop("s", text).unwrap();
    let job = job_of(
        r#"{ "id": "leg", "species": "ash", "thickness": 4, "width": 4, "length": 30, "lamination": { "layers": 6 } }"#,
        r#"{ "kerf": { "rip": "1/8" } }"#,
    );
    let read = read_json("j", &job, Some(&shop)).unwrap().shop;
    assert_eq!((read.kerf.rip, read.kerf.crosscut), (inch(1, 8), Length::from_millimetres(4)));
    assert_eq!((read.glue.max_layers, read.step.rip), (6, inch(1, 16)));
    assert_eq!(
        refusal(&job),
        "j, parts[0].lamination.layers: 6 layers are more than the shop glues, 4 (read 6); use thicker stock, or raise `glue.max_layers` in the shop settings"
    );
}

#[test]
fn a_millimetre_job_rips_and_is_read_in_millimetres() {
    let text = r#"{ "format": "flitchwork.job/1", "units": "mm", "parts": [
        { "id": "P", "species": "ash", "thickness": 20, "width": 70, "length": 500 } ] }"#;
    let job = read_json("j", text, None).unwrap();
    let millimetre = Length::from_millimetres(1);
    assert_eq!((job.shop.step.rip, job.shop.kerf.rip), (millimetre, inch(1, 8)));
    assert_eq!((job.shop.print.rough, job.shop.print.fine * 2), (millimetre, millimetre));
    assert_eq!(job.parts[0].width, Length::from_millimetres(70));
}

#[rstest]
#[case::a_tenon_longer_than_its_part(
    r#"{ "tenons": [1, 22] }"#,
    "j, parts[0].tenons[1]: a tenon of 22 in is longer than its part, 21.5 in; `length` counts from shoulder to shoulder; check both figures"
)]
#[case::one_tenon(
    r#"{ "tenons": [1] }"#,
    "j, parts[0].tenons: this list has 1 entries, fewer than 2; write what is missing"
)]
#[case::a_negative_tenon(
    r#"{ "tenons": [-1, 1] }"#,
    "j, parts[0].tenons[0]: a length cannot be negative (read -1); check the figure"
)]
#[case::none_of_it(r#"{ "qty": 0 }"#, "j, parts[0].qty: this must lie between 1 and 100000 (read 0); check the figure")]
#[case::neither_species_nor_material(
    r#"{ "species": null }"#,
    "j, parts[0]: neither `species` nor `material` is given; ask for a `species` of lumber, or for the `material` of a sheet or stick"
)]
#[case::species_and_material(
    r#"{ "material": "ply" }"#,
    "j, parts[0].material: `species` and `material` are both given (read \"ply\"); ask for a `species` of lumber, or for the `material` of a sheet or stick"
)]
#[case::lamination_and_panel(
    r#"{ "lamination": {}, "panel": { "stave_min": 2, "stave_max": 3 } }"#,
    "j, parts[0].panel: `lamination` and `panel` are both given; a part is built up in thickness or in width: part it into two parts"
)]
#[case::staves_the_wrong_way_round(
    r#"{ "panel": { "stave_min": 4, "stave_max": 3 } }"#,
    "j, parts[0].panel.stave_min: the narrowest stave is wider than the widest (read 4); exchange `stave_min` and `stave_max`"
)]
#[case::too_many_layers(
    r#"{ "lamination": { "layers": 5 } }"#,
    "j, parts[0].lamination.layers: 5 layers are more than the shop glues, 4 (read 5); use thicker stock, or raise `glue.max_layers` in the shop settings"
)]
#[case::no_layers(
    r#"{ "lamination": { "layers": 0 } }"#,
    "j, parts[0].lamination.layers: this must lie between 1 and 20 (read 0); check the figure"
)]
#[case::a_glued_up_sheet(
    r#"{ "species": null, "material": "ply", "lamination": {} }"#,
    "j, parts[0].lamination: `material` and `lamination` are both given; only lumber is glued up: ask for a `species`"
)]
#[case::rings_of_a_sheet(
    r#"{ "species": null, "material": "ply", "rings": ["flat"] }"#,
    "j, parts[0].rings: `material` and `rings` are both given (read a list); only lumber has growth rings: ask for a `species`"
)]
#[case::lumber_across_its_grain(
    r#"{ "grain": "across" }"#,
    "j, parts[0].grain: lumber is never cut across its grain (read \"across\"); a board's grain runs with the length: exchange `length` and `width`, or ask for a `material`"
)]
#[case::rings_as_a_word(
    r#"{ "rings": "flat" }"#,
    "j, parts[0].rings: a list is wanted here (read \"flat\"); write it in square brackets: [ ... ]"
)]
#[case::a_match_without_a_rule(
    r#"{ "match": { "group": "g" } }"#,
    "j, parts[0].match.rule: `rule` is missing; add it: `board` from one board or sheet, `run` end to end in one strip, `side` neighbouring strips"
)]
#[case::a_misspelt_field(
    r#"{ "tennons": [1, 1] }"#,
    "j, parts[0].tennons: there is no field \"tennons\" here; did you mean `tenons`?"
)]
#[case::a_broken_priority(
    r#"{ "priority": 1.5 }"#,
    "j, parts[0].priority: a whole number is wanted here (read 1.5); write it without decimals"
)]
#[case::yes_in_words(
    r#"{ "panel": { "stave_min": 2, "stave_max": 3, "equal": "yes" } }"#,
    "j, parts[0].panel.equal: yes or no is wanted here (read \"yes\"); write true or false, without quotation marks"
)]
fn a_part_is_refused_with_place_reason_and_cure(#[case] fields: &str, #[case] message: &str) {
    assert_eq!(refusal(&one_part(fields)), message);
}

#[rstest]
#[case::negative_kerf(
    r#"{ "kerf": { "rip": -0.1 } }"#,
    "j, shop.kerf.rip: a length cannot be negative (read -0.1); check the figure"
)]
#[case::a_kerf_in_another_unit(
    r#"{ "kerf": { "rip": 3.2 } }"#,
    "j, shop.kerf.rip: this is absurdly large, more than 1 in (read 3.2); check the figure and the units of the file"
)]
#[case::credit_above_the_whole(
    r#"{ "keep": { "credit": 30 } }"#,
    "j, shop.keep.credit: this must lie between 0 and 1 (read 30); check the figure"
)]
#[case::negative_warp(
    r#"{ "warp": { "factor": -1 } }"#,
    "j, shop.warp.factor: this cannot be negative (read -1); check the figure"
)]
#[case::no_step(
    r#"{ "step": { "rip": 0 } }"#,
    "j, shop.step.rip: this must be more than nothing (read 0); check the figure"
)]
#[case::climate_upside_down(
    r#"{ "climate": { "rh_low": 70 } }"#,
    "j, shop.climate.rh_low: the lowest humidity, 70 %, is above the highest, 60 % (read 70); write the dry season's figure under `rh_low`"
)]
#[case::a_strange_setting(
    r#"{ "kerf": { "rpi": 0.1 } }"#,
    "j, shop.kerf.rpi: there is no field \"rpi\" here; did you mean `rip`?"
)]
#[case::a_strange_group(r#"{ "kerfs": {} }"#, "j, shop.kerfs: there is no field \"kerfs\" here; did you mean `kerf`?")]
#[case::a_strange_word(
    r#"{ "machine": { "rip_first": "never" } }"#,
    "j, shop.machine.rip_first: this word is not known here (read \"never\"); write `wide` or `always`"
)]
fn a_shop_setting_is_refused_with_place_reason_and_cure(#[case] shop: &str, #[case] message: &str) {
    let part = r#"{ "id": "P", "species": "ash", "thickness": 1, "width": 3, "length": 21 }"#;
    assert_eq!(refusal(&job_of(part, shop)), message);
}

#[test]
fn a_match_group_that_disagrees_with_itself_is_refused_where_it_turns() {
    let part = |id: &str, matching: &str| {
        format!(
            r#"{{ "id": "{id}", "species": "ash", "thickness": 1, "width": 3, "length": 21, "match": {matching} }}"#
        )
    };
    let parts = [
        part("A", r#"{ "group": "doors", "rule": "run", "worth": 10 }"#),
        part("B", r#"{ "group": "Doors ", "rule": "side", "scope": "copy", "worth": 12 }"#),
    ];
    assert_eq!(
        refusal(&job_of(&parts.join(","), "{}")),
        [
            "j, parts[1].match.rule: match group `Doors` has `rule` `side` here and `run` at parts[0].match.rule (read \"side\"); a group has one rule, one scope and one worth: give the other parts a group of their own",
            "j, parts[1].match.scope: match group `Doors` has `scope` `copy` here and `group` at parts[0].match.scope (read \"copy\"); a group has one rule, one scope and one worth: give the other parts a group of their own",
            "j, parts[1].match.worth: match group `Doors` has `worth` `12.00` here and `10.00` at parts[0].match.worth (read 12); a group has one rule, one scope and one worth: give the other parts a group of their own",
        ]
        .join("\n\n")
    );
}

#[test]
fn parts_of_one_name_are_refused() {
    let part = r#"{ "id": "P", "species": "ash", "thickness": 1, "width": 3, "length": 21 }"#;
    assert_eq!(
        refusal(&job_of(&format!("{part},{part}"), "{}")),
        "j, parts[1].id: this id is already taken, at parts[0].id (read \"P\"); give every piece an id of its own"
    );
}

#[test]
fn a_job_of_no_parts_is_refused() {
    assert_eq!(refusal(&job_of("", "{}")), "j, parts: this list has 0 entries, fewer than 1; write what is missing");
}

#[test]
fn a_shop_file_is_refused_with_all_its_faults() {
    let text = r#"{ "format": "flitchwork.shop/1", "units": "in", "kerf": { "rip": "wide" }, "climate": { "rh_low": 80, "rh_high": 20 }, "prices": {} }"#;
    let faults = read_shop("s", text).unwrap_err();
    let places: Vec<&str> = faults.iter().map(|fault| fault.place.as_str()).collect();
    assert_eq!(places, ["kerf.rip", "climate.rh_low", "prices"]);
}
