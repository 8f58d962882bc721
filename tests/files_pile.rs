//! Pile files through the public door: what they come to, and every kind of refusal with its exact message.
//!
//! CSV is tested in `files_csv`, the schema in `files_schema`, random files in `files_random`.

use flitchwork::measure::{Length, Money, Rational, Units};
use flitchwork::pile::file::{read_json, write_json};
use flitchwork::pile::{
    Defect, DefectFace, DefectKind, Face, Nominal, Pile, Price, Rings, SheetGrain, Surfaced, Tally, WarpWord,
    same_words, value,
};
use rstest::rstest;

const fn inch(numerator: i64, denominator: i64) -> Length {
    Length::from_inch_fraction(numerator, denominator)
}

fn ratio(numerator: i64, denominator: i64) -> Rational {
    Rational::new(numerator.into(), denominator.into())
}

/// A pile file of one plain board, with `fields` added to it (or put in place of its own).
fn one_board(fields: &str) -> String {
    let mut board =
        serde_json::json!({ "id": "B1", "species": "ash", "nominal": "4/4", "width": 6, "length": 96, "cost": 20 });
    let given: serde_json::Value = serde_json::from_str(fields).expect("the test's own fields are JSON");
    for (name, value) in given.as_object().expect("fields") {
        if value.is_null() {
            board.as_object_mut().expect("a board").remove(name);
        } else {
            board[name] = value.clone();
        }
    }
    serde_json::json!({ "format": "flitchwork.pile/1", "units": "in", "boards": [board] }).to_string()
}

fn read_board(fields: &str) -> flitchwork::pile::Board {
    let pile = read_json("p", &one_board(fields)).unwrap_or_else(|faults| panic!("{faults}"));
    pile.boards.into_iter().next().expect("one board")
}

fn refusal(text: &str) -> String {
    read_json("p", text).expect_err("this file is to be refused").to_string()
}

const WHOLE: &str = r#"{ "format": "flitchwork.pile/1", "units": "in", "tally": "hardwood",
  "boards": [ { "id": "C-04", "species": "cherry", "nominal": "5/4", "thickness": 1.28, "width": 7.25, "length": 98.5,
      "grade": "FAS", "surfaced": "rough", "rings": "flat", "heart": "top", "price_per_bf": 9.80, "moisture": 7,
      "warp": { "bow": 0.25, "crook": 0.125, "cup": 0.0625, "twist": 0.0 },
      "defects": [ { "kind": "knot", "x": 31, "y": 2.25, "length": 2.5, "width": 1.75, "face": "through", "sound": false } ],
      "marks": "12-14 near top ok" } ],
  "sheets": [ { "id": "PLY-18", "material": "oak ply", "thickness": 0.709, "length": 96, "width": 48, "grain": "length", "quantity": 2, "cost": 92 } ],
  "sticks": [ { "id": "SQ", "material": "ash square", "thickness": 2, "width": 2, "length": 72, "quantity": 6, "cost": 21 } ] }"#;

#[test]
fn a_whole_pile_reads_field_by_field() {
    let pile = read_json("pile.json", WHOLE).unwrap();
    assert_eq!((pile.units, pile.tally), (Units::Inches, Tally::Hardwood));
    let board = &pile.boards[0];
    assert_eq!((board.id.as_str(), board.species.as_str()), ("C-04", "cherry"));
    assert_eq!(board.nominal, Some(Nominal { numerator: 5, denominator: 4 }));
    assert_eq!(board.thickness, inch(128, 100));
    assert_eq!((board.width, board.length), (inch(29, 4), inch(197, 2)));
    assert_eq!((board.grade.as_deref(), board.surfaced), (Some("FAS"), Surfaced::Rough));
    assert_eq!((board.rings, board.heart, board.moisture), (Some(Rings::Flat), Some(Face::Top), Some(7.0)));
    assert_eq!(board.price, Price::BoardFoot(Money::from_rational(ratio(98, 10))));
    assert_eq!((board.warp.bow, board.warp.twist), (inch(1, 4), Length::ZERO));
    assert_eq!(board.quantity, 1);
    let knot = Defect {
        kind: DefectKind::Knot,
        x: inch(31, 1),
        y: inch(9, 4),
        length: inch(5, 2),
        width: inch(7, 4),
        face: DefectFace::Through,
        sound: false,
    };
    let mark = Defect {
        kind: DefectKind::Mark,
        x: inch(12, 1),
        y: Length::ZERO,
        length: inch(2, 1),
        width: Length::from_ticks(4_910_667),
        face: DefectFace::Top,
        sound: true,
    };
    assert_eq!(board.defects, [knot, mark]);
    let sheet = &pile.sheets[0];
    assert_eq!((sheet.thickness, sheet.grain, sheet.quantity), (inch(709, 1000), SheetGrain::Length, 2));
    assert_eq!((pile.sticks[0].quantity, pile.sticks[0].cost.cents()), (6, 2100));
}

#[test]
fn a_written_pile_reads_back_the_same() {
    let pile = read_json("pile.json", WHOLE).unwrap();
    assert_eq!(read_json("again", &write_json(&pile)).unwrap(), pile);
}

#[rstest]
#[case::text_with_its_own_units(r#"{ "width": "152.4 mm" }"#, inch(6, 1))]
#[case::a_fraction(r#"{ "width": "6 1/128" }"#, inch(769, 128))]
#[case::a_number(r#"{ "width": 6.001 }"#, inch(6001, 1000))]
#[case::inch_marks(r#"{ "width": "2-3/4\"" }"#, inch(11, 4))]
#[case::feet(r#"{ "width": "1' 1\"" }"#, inch(13, 1))]
fn a_length_is_a_number_or_a_text(#[case] fields: &str, #[case] width: Length) {
    assert_eq!(read_board(fields).width, width);
}

// NHLA Rules, standard thicknesses and Standard Kiln Dried Rule (2023 rules, page 56).
#[rstest]
#[case::kiln_dried(r#"{ "nominal": "5/4" }"#, inch(19, 16))]
#[case::kiln_dried_thick(r#"{ "nominal": "8/4" }"#, inch(15, 8))]
#[case::surfaced_two_sides(r#"{ "nominal": "4/4", "surfaced": "S2S" }"#, inch(13, 16))]
#[case::surfaced_four_sides(r#"{ "nominal": "8/4", "surfaced": "s4s" }"#, inch(7, 4))]
#[case::one_straight_edge_leaves_the_faces_rough(r#"{ "nominal": "4/4", "surfaced": "slr1e" }"#, inch(15, 16))]
#[case::measured_wins(r#"{ "nominal": "4/4", "thickness": "1 1/32" }"#, inch(33, 32))]
fn a_thickness_left_out_is_what_the_nominal_promises(#[case] fields: &str, #[case] thickness: Length) {
    assert_eq!(read_board(fields).thickness, thickness);
}

// The contract's figures: 1/8 and 3/8 in of bow, crook and twist in 8 ft, half that as cup; scaled as an arc is
// (s = L^2 / 8R) and as a plane is.
#[rstest]
#[case::flat("flat", 96, [(0, 1); 4])]
#[case::slight_in_eight_feet("slight", 96, [(1, 8), (1, 8), (1, 16), (1, 8)])]
#[case::bad_in_eight_feet("Bad ", 96, [(3, 8), (3, 8), (3, 16), (3, 8)])]
#[case::half_the_length_has_a_quarter_of_the_bow("bad", 48, [(3, 32), (3, 32), (3, 16), (3, 16)])]
#[case::twice_the_length_has_four_times_the_bow("slight", 192, [(1, 2), (1, 2), (1, 16), (1, 4)])]
fn a_warp_word_is_scaled_to_the_board(#[case] word: &str, #[case] length: i64, #[case] figures: [(i64, i64); 4]) {
    let warp = read_board(&format!(r#"{{ "warp": "{word}", "length": {length} }}"#)).warp;
    let [bow, crook, cup, twist] = figures.map(|(n, d)| inch(n, d));
    assert_eq!([warp.bow, warp.crook, warp.cup, warp.twist], [bow, crook, cup, twist]);
}

#[test]
fn a_warp_word_on_an_odd_length_comes_to_the_nearest_tick() {
    // 1/8 in x (61/96)^2 = 254000 x 3721/9216 ticks = 102553.6...
    assert_eq!(WarpWord::Slight.figures(inch(61, 1)).bow, Length::from_ticks(102_554));
}

#[rstest]
#[case::full_width("31-34", (31, 3), (0, 6), DefectFace::Through, false)]
#[case::near("31-34 near", (31, 3), (0, 2), DefectFace::Through, false)]
#[case::mid("31 - 34 mid", (31, 3), (2, 2), DefectFace::Through, false)]
#[case::far("60-63 FAR", (60, 3), (4, 2), DefectFace::Through, false)]
#[case::to_the_end("90-end", (90, 6), (0, 6), DefectFace::Through, false)]
#[case::all_the_words("12-14 near top ok", (12, 2), (0, 2), DefectFace::Top, true)]
#[case::words_in_any_order("12-14 ok bottom far", (12, 2), (4, 2), DefectFace::Bottom, true)]
#[case::in_words("1 ft to 14 in", (12, 2), (0, 6), DefectFace::Through, false)]
#[case::an_en_dash("31–34", (31, 3), (0, 6), DefectFace::Through, false)]
fn a_mark_is_a_defect(
    #[case] mark: &str,
    #[case] along: (i64, i64),
    #[case] across: (i64, i64),
    #[case] face: DefectFace,
    #[case] sound: bool,
) {
    let defects = read_board(&format!(r#"{{ "marks": "{mark}" }}"#)).defects;
    let [x, length, y, width] = [along.0, along.1, across.0, across.1].map(Length::from_inches);
    assert_eq!(defects, [Defect { kind: DefectKind::Mark, x, y, length, width, face, sound }]);
}

#[test]
fn marks_parted_by_semicolons_leave_the_comma_to_decimals() {
    let defects = read_board(r#"{ "marks": "31,5-34; 60 - 63,25 far" }"#).defects;
    assert_eq!((defects[0].x, defects[0].length), (inch(63, 2), inch(5, 2)));
    assert_eq!(defects[1].length, inch(13, 4));
}

#[test]
fn sap_and_stain_are_sound_unless_said_otherwise() {
    let defect = |kind: &str, more: &str| {
        let fields =
            format!(r#"{{ "defects": [ {{ "kind": "{kind}", "x": 0, "y": 0, "length": 1, "width": 1 {more} }} ] }}"#);
        read_board(&fields).defects[0].sound
    };
    assert!(defect("sap", "") && defect("Stain", ""));
    assert!(!defect("knot", "") && !defect("sap", r#", "sound": false"#));
}

#[rstest]
#[case("Red Oak", "red  oak ", true)]
#[case("RÜSTER", "rüster", true)]
#[case("red oak", "redoak", false)]
fn words_compare_without_case_and_extra_spaces(#[case] a: &str, #[case] b: &str, #[case] same: bool) {
    assert_eq!(same_words(a, b), same);
}

#[rstest]
#[case::negative(r#"{ "width": -3 }"#, "p, boards[0].width: a length cannot be negative (read -3); check the figure")]
#[case::zero(r#"{ "width": 0 }"#, "p, boards[0].width: this must be more than nothing (read 0); check the figure")]
#[case::absurd(
    r#"{ "length": 1000.5 }"#,
    "p, boards[0].length: this is absurdly large, more than 1000 in (read 1000.5); check the figure and the units of the file"
)]
#[case::beyond_all_measure(
    r#"{ "length": 1e308 }"#,
    "p, boards[0].length: this is absurdly large, more than 1000 in (read 1e308); check the figure and the units of the file"
)]
#[case::too_thick(
    r#"{ "thickness": 13 }"#,
    "p, boards[0].thickness: this is absurdly large, more than 12 in (read 13); check the figure and the units of the file"
)]
#[case::no_length(
    r#"{ "width": "wide" }"#,
    "p, boards[0].width: this is not a length (read \"wide\"); 23.5, 23 1/2 or 597 mm would do"
)]
#[case::nan(
    r#"{ "width": "NaN" }"#,
    "p, boards[0].width: this is not a length (read \"NaN\"); 23.5, 23 1/2 or 597 mm would do"
)]
#[case::wrong_type(
    r#"{ "width": [6] }"#,
    "p, boards[0].width: a length is wanted here (read a list); write a number in the file's units, or a text such as \"2 3/4 in\" or \"70 mm\""
)]
#[case::id_as_a_number(r#"{ "id": 7 }"#, "p, boards[0].id: text is wanted here (read 7); write it in quotation marks")]
#[case::empty_id(
    r#"{ "id": "  " }"#,
    "p, boards[0].id: this text is empty (read \"  \"); write something, or leave the field out"
)]
#[case::missing(r#"{ "width": null }"#, "p, boards[0].width: `width` is missing; add it: width, across the grain")]
#[case::a_misspelt_field(
    r#"{ "speceis": "ash" }"#,
    "p, boards[0].speceis: there is no field \"speceis\" here; did you mean `species`?"
)]
#[case::a_misspelt_word(
    r#"{ "rings": "quater" }"#,
    "p, boards[0].rings: this word is not known here (read \"quater\"); did you mean `quarter`?"
)]
#[case::an_unknown_word(
    r#"{ "surfaced": "planed by hand" }"#,
    "p, boards[0].surfaced: this word is not known here (read \"planed by hand\"); write `rough`, `s2s`, `s4s` or `slr1e`"
)]
#[case::no_price(
    r#"{ "cost": null }"#,
    "p, boards[0]: neither `cost` nor `price_per_bf` is given; write what the piece costs, or what a board foot of it costs; 0 if it was free"
)]
#[case::two_prices(
    r#"{ "price_per_bf": 7 }"#,
    "p, boards[0].price_per_bf: `cost` and `price_per_bf` are both given (read 7); write what the piece costs, or what a board foot of it costs; 0 if it was free"
)]
#[case::dear(
    r#"{ "cost": 2e9 }"#,
    "p, boards[0].cost: this must lie between 0 and 1000000000 (read 2000000000); check the figure"
)]
#[case::money_as_text(
    r#"{ "cost": "20" }"#,
    "p, boards[0].cost: an amount of money is wanted here (read \"20\"); write it without quotation marks"
)]
#[case::negative_money(r#"{ "cost": -1 }"#, "p, boards[0].cost: this cannot be negative (read -1); check the figure")]
#[case::a_thousand_million_boards(
    r#"{ "quantity": 1000000000 }"#,
    "p, boards[0].quantity: this must lie between 1 and 100000 (read 1000000000); check the figure"
)]
#[case::half_a_board(
    r#"{ "quantity": 1.5 }"#,
    "p, boards[0].quantity: a whole number is wanted here (read 1.5); write it without decimals"
)]
#[case::no_thickness_at_all(
    r#"{ "nominal": null }"#,
    "p, boards[0]: neither `thickness` nor `nominal` is given; measure its thickness, or write its quarter name under `nominal`"
)]
#[case::nominal_of_no_standard(
    r#"{ "nominal": "9/4" }"#,
    "p, boards[0].nominal: there is no standard kiln-dried thickness for it (read \"9/4\"); measure the board and write its `thickness`"
)]
#[case::surfaced_by_agreement(
    r#"{ "nominal": "20/4", "surfaced": "s2s" }"#,
    "p, boards[0].nominal: there is no standard S2S thickness for it (read \"20/4\"); measure the board and write its `thickness`"
)]
#[case::nominal_as_a_number(
    r#"{ "nominal": 1.25 }"#,
    "p, boards[0].nominal: this is not a nominal thickness (read 1.25); write the quarter name in quotation marks: \"4/4\", \"5/4\", \"8/4\""
)]
#[case::a_defect_past_the_end(
    r#"{ "defects": [ { "kind": "knot", "x": 95, "y": 0, "length": 2, "width": 1 } ] }"#,
    "p, boards[0].defects[0]: this defect lies outside its board: `x` + `length` comes to 97 in, the board is 96 in long; measure along from the left end and across from the reference edge"
)]
#[case::a_defect_of_no_size(
    r#"{ "defects": [ { "kind": "check", "x": 0, "y": 0, "length": 4, "width": 0 } ] }"#,
    "p, boards[0].defects[0].width: this must be more than nothing (read 0); check the figure"
)]
#[case::a_mark_past_the_end(
    r#"{ "marks": "90-97" }"#,
    "p, boards[0].marks: this mark runs past the end of the board (read \"90-97\"); the board ends at 96 in"
)]
#[case::a_mark_backwards(
    r#"{ "marks": "34-31" }"#,
    "p, boards[0].marks: this mark ends before it starts (read \"34-31\"); write the smaller figure first"
)]
#[case::nothing_between_two_commas(
    r#"{ "marks": "31-34,, 90-end" }"#,
    "p, boards[0].marks: a mark is empty (read \"\"); write from-to, as in 31-34 or 90-end, then near, mid or far, top or bottom, ok"
)]
#[case::an_end_without_a_start(
    r#"{ "marks": "end" }"#,
    "p, boards[0].marks: this mark does not say from where to where (read \"end\"); write from-to, as in 31-34 or 90-end, then near, mid or far, top or bottom, ok"
)]
#[case::an_end_as_a_start(
    r#"{ "marks": "end-90" }"#,
    "p, boards[0].marks: `end` can only be where a mark stops (read \"end-90\"); write from-to, as in 31-34 or 90-end, then near, mid or far, top or bottom, ok"
)]
#[case::a_mark_with_a_strange_word(
    r#"{ "marks": "3-4 left" }"#,
    "p, boards[0].marks: `left` is no word for a mark (read \"3-4 left\"); write from-to, as in 31-34 or 90-end, then near, mid or far, top or bottom, ok"
)]
#[case::a_mark_on_both_faces(
    r#"{ "marks": "3-4 top bottom" }"#,
    "p, boards[0].marks: `bottom` comes on top of another word of its kind (read \"3-4 top bottom\"); leave one of them out"
)]
#[case::a_mark_with_a_dashed_fraction(
    r#"{ "marks": "31-1/2-34" }"#,
    "p, boards[0].marks: `1/2-34` is not a length (read \"31-1/2-34\"); write from-to with one dash, broken figures as 31.5 or 31 1/2, as in 31 1/2-34"
)]
#[case::a_warp_of_the_wrong_kind(
    r#"{ "warp": 3 }"#,
    "p, boards[0].warp: this is no warp (read 3); write \"flat\", \"slight\" or \"bad\", or { \"bow\": ..., \"crook\": ..., \"cup\": ..., \"twist\": ... }"
)]
#[case::a_strange_warp(
    r#"{ "warp": { "kink": 1 } }"#,
    "p, boards[0].warp.kink: there is no field \"kink\" here; the fields are `bow`, `crook`, `cup`, `twist`"
)]
fn a_board_is_refused_with_place_reason_and_cure(#[case] fields: &str, #[case] message: &str) {
    assert_eq!(refusal(&one_board(fields)), message);
}

#[rstest]
#[case::empty(
    "",
    "p, line 1, column 0: this is not JSON: EOF while parsing a value; the file is empty; start it with { \"format\": ..., \"units\": \"in\" }"
)]
#[case::a_missing_comma(
    "{ \"format\": \"flitchwork.pile/1\"\n  \"units\": \"in\" }",
    "p, line 2, column 3: this is not JSON: expected `,` or `}` (read \"\"units\": \"in\" }\"); look there, or just before, for a missing comma, bracket or quotation mark"
)]
#[case::a_trailing_comma(
    "{ \"units\": \"in\", }",
    "p, line 1, column 18: this is not JSON: trailing comma (read \"{ \"units\": \"in\", }\"); take away the comma before the closing bracket"
)]
#[case::a_number_beyond_floats(
    "{ \"width\": 1e400 }",
    "p, line 1, column 16: this is not JSON: number out of range (read \"{ \"width\": 1e400 }\"); write a number of ordinary size"
)]
#[case::not_a_number(
    "{ \"width\": NaN }",
    "p, line 1, column 12: this is not JSON: expected value (read \"{ \"width\": NaN }\"); look there, or just before, for a missing comma, bracket or quotation mark"
)]
#[case::cut_off(
    "{ \"units\": \"in",
    "p, line 1, column 14: this is not JSON: EOF while parsing a string (read \"{ \"units\": \"in\"); the file ends too early; look for a missing bracket or quotation mark"
)]
#[case::a_list("[]", "p: a group of fields is wanted here (read an empty list); write { \"name\": value, ... }")]
#[case::another_kind_of_file(
    r#"{ "format": "flitchwork.job/1", "units": "in" }"#,
    "p, format: this is not a file of the kind asked for, `flitchwork.pile/1` (read \"flitchwork.job/1\"); check that the right file was given, and write \"format\": \"flitchwork.pile/1\""
)]
#[case::strange_units(
    r#"{ "format": "flitchwork.pile/1", "units": "inch" }"#,
    "p, units: this word is not known here (read \"inch\"); did you mean `in`?"
)]
#[case::a_field_twice(
    r#"{ "format": "flitchwork.pile/1", "units": "in", "units": "mm" }"#,
    "p, units: this field is written twice (read \"mm\"); leave one of them out"
)]
fn a_file_is_refused_with_place_reason_and_cure(#[case] text: &str, #[case] message: &str) {
    assert_eq!(refusal(text), message);
}

#[test]
fn all_faults_of_a_file_come_at_once_in_the_order_of_the_contract() {
    let text = r#"{ "format": "flitchwork.pile/1", "units": "in", "stock": [], "boards": [
        { "id": "A", "species": "ash", "nominal": "4/4", "width": -6, "length": 96, "cost": 1, "price_per_bf": 2, "colour": "red" },
        { "id": "A", "species": "", "thickness": 1, "width": 6, "length": 96, "cost": 1, "marks": "1-2 up, 4-3, 5-6" } ],
        "sheets": [ { "id": "A", "material": "ply", "thickness": 0.7, "length": 96, "cost": 3 }, 4 ] }"#;
    let faults = read_json("p", text).unwrap_err();
    let places: Vec<&str> = faults.iter().map(|fault| fault.place.as_str()).collect();
    assert_eq!(
        places,
        [
            "boards[0].width",
            "boards[0].price_per_bf",
            "boards[0].colour",
            "boards[1].id",
            "boards[1].species",
            "boards[1].marks",
            "boards[1].marks",
            "sheets[0].id",
            "sheets[0].width",
            "sheets[1]",
            "stock"
        ]
    );
    assert_eq!(faults.as_slice()[3].what, "this id is already taken, at boards[0].id");
    assert_eq!(faults.to_string().split("\n\n").count(), places.len());
}

#[test]
fn without_units_no_size_is_judged_but_all_else_is() {
    let text = r#"{ "format": "flitchwork.pile/1", "boards": [
        { "id": "A", "species": "ash", "thickness": 27, "width": 150, "length": 2400, "cost": -1 } ] }"#;
    let faults = read_json("p", text).unwrap_err();
    let places: Vec<&str> = faults.iter().map(|fault| fault.place.as_str()).collect();
    assert_eq!(places, ["units", "boards[0].cost"]);
}

#[test]
fn a_million_pieces_are_enough() {
    let sheet = |i: usize| {
        format!(
            r#"{{ "id": "S{i}", "material": "ply", "thickness": 0.7, "length": 96, "width": 48, "quantity": 100000, "cost": 3 }}"#
        )
    };
    let file = |lines: usize| {
        let sheets: Vec<String> = (0..lines).map(sheet).collect();
        format!(r#"{{ "format": "flitchwork.pile/1", "units": "in", "sheets": [{}] }}"#, sheets.join(","))
    };
    assert!(read_json("p", &file(10)).is_ok());
    assert_eq!(
        refusal(&file(11)),
        "p: this file counts 1100000 pieces in all, more than 1000000; check the quantities"
    );
}

#[test]
fn a_slip_in_a_long_line_is_shown_where_it_is() {
    let text = WHOLE.replace('\n', " ").replace("\"width\": 7.25,", "\"width\": 7.25");
    let message = refusal(&text);
    assert!(message.contains(r#""width": 7.25 "length": 98.5"#), "{message}");
}

#[test]
fn deep_nesting_is_refused_without_harm() {
    let message = refusal(&"[".repeat(100_000));
    assert!(message.contains("recursion limit exceeded"), "{message}");
}

#[test]
fn a_hundred_thousand_strange_fields_are_named_without_a_hang() {
    let strangers: Vec<String> = (0..100_000).map(|i| format!("\"wdith{i}\": {i}")).collect();
    let text = format!("{{ \"format\": \"flitchwork.pile/1\", \"units\": \"in\", {} }}", strangers.join(","));
    assert_eq!(read_json("p", &text).unwrap_err().as_slice().len(), 100_000);
}

#[test]
fn a_byte_order_mark_before_json_is_passed_over() {
    assert!(read_json("p", &format!("\u{feff}{WHOLE}")).is_ok());
}

fn billed(fields: &str, tally: &str) -> value::Billing {
    let text = one_board(fields).replace("\"units\":\"in\"", &format!("\"units\":\"in\",\"tally\":\"{tally}\""));
    let pile = read_json("p", &text).unwrap_or_else(|faults| panic!("{faults}"));
    value::billing(&pile).remove(0)
}

#[rstest]
#[case::invoiced_board_feet_win(r#"{ "board_feet": 5.5, "surface_measure": 9 }"#, "hardwood", ratio(11, 2))]
#[case::the_yards_surface_measure(r#"{ "surface_measure": 9, "nominal": "5/4" }"#, "hardwood", ratio(45, 4))]
#[case::surface_measure_is_no_matter_to_exact(r#"{ "surface_measure": 9 }"#, "exact", ratio(4, 1))]
#[case::exact_counts_the_true_length(r#"{ "length": 99 }"#, "exact", ratio(33, 8))]
#[case::hardwood_counts_whole_feet(r#"{ "length": 107.9 }"#, "hardwood", ratio(4, 1))]
#[case::under_an_inch_bills_an_inch(r#"{ "nominal": "3/4" }"#, "hardwood", ratio(4, 1))]
#[case::measured_at_the_kiln_dried_minimum(r#"{ "nominal": null, "thickness": "1 3/16" }"#, "hardwood", ratio(5, 1))]
#[case::measured_just_under(r#"{ "nominal": null, "thickness": 1.187 }"#, "hardwood", ratio(4, 1))]
#[case::surfaced(r#"{ "nominal": null, "thickness": "1 1/16", "surfaced": "s2s" }"#, "hardwood", ratio(5, 1))]
fn a_board_is_billed_by_its_tally(#[case] fields: &str, #[case] tally: &str, #[case] board_feet: Rational) {
    let fields = fields.replacen('{', r#"{ "cost": null, "price_per_bf": 10,"#, 1);
    let billing = billed(&fields, tally);
    assert_eq!(billing.board_feet(), board_feet);
    assert_eq!(billing.cost(), Money::from_rational(board_feet * ratio(10, 1)));
}

#[test]
fn exact_halves_go_up_and_down_over_lines_and_copies_in_the_order_of_the_file() {
    let board = |id: &str, quantity: u32, more: &str| {
        format!(
            r#"{{ "id": "{id}", "species": "ash", "nominal": "4/4", "width": 6, "length": 108, "quantity": {quantity} {more} }}"#
        )
    };
    let per_foot = r#", "price_per_bf": 10"#;
    let boards = [
        board("A", 3, per_foot),
        board("by the piece", 1, r#", "cost": 10"#),
        board("invoiced", 1, r#", "price_per_bf": 10, "board_feet": 4.5"#),
        board("tallied", 1, r#", "price_per_bf": 10, "surface_measure": 4"#),
        board("B", 2, per_foot),
        board("C", 1, per_foot),
    ];
    let text = format!(r#"{{ "format": "flitchwork.pile/1", "units": "in", "boards": [{}] }}"#, boards.join(","));
    let pile: Pile = read_json("p", &text).unwrap();
    let billing = value::billing(&pile);
    let measures = |line: usize| {
        let copies = 0..pile.boards[line].quantity;
        copies.map(|copy| billing[line].copy(copy).surface_measure).collect::<Vec<_>>()
    };
    assert_eq!(measures(0), [Some(5), Some(4), Some(5)]);
    assert_eq!(measures(1), [None]);
    assert_eq!(measures(2), [None]);
    assert_eq!(measures(3), [Some(4)]);
    assert_eq!(measures(4), [Some(4), Some(5)]);
    assert_eq!(measures(5), [Some(4)]);
    assert_eq!(billing[0].cost().cents(), 14_000);
    assert_eq!(billing[1].cost().cents(), 1_000);
    assert_eq!(billing[2].cost().cents(), 4_500);
}

/// Worked examples of board measure, each through a pile file of its own; the sources stand in the table itself.
#[test]
fn published_board_foot_examples_come_out_of_pile_files() {
    let mut table = csv::Reader::from_path("tests/data/trade/board_foot_examples.csv").unwrap();
    let mut checked = Vec::new();
    for row in table.records() {
        let row = row.unwrap();
        let (id, method) = (&row[0], &row[2]);
        let tally = match method {
            "hardwood SM" | "hardwood SM alternating half" => "hardwood",
            "exact volume" | "exact volume on nominal size" => "exact",
            // A bundle is billed as one, the export tally counts no volume, gross and net know no boards.
            _ => continue,
        };
        let quarters = (row[3].parse::<f64>().unwrap() * 4.0) as u32;
        let feet: i64 = row[5].parse().unwrap();
        let board = format!(
            r#"{{ "id": "B", "species": "any", "nominal": "{quarters}/4", "width": {}, "length": "{feet} ft", "quantity": {}, "price_per_bf": 1 }}"#,
            &row[4], &row[6]
        );
        let text =
            format!(r#"{{ "format": "flitchwork.pile/1", "units": "in", "tally": "{tally}", "boards": [{board}] }}"#);
        let pile = read_json(id, &text).unwrap_or_else(|faults| panic!("{faults}"));
        let billing = value::billing(&pile).remove(0);
        let printed: f64 = row[9].parse().unwrap();
        let ten_thousandths = (billing.board_feet() * ratio(10_000, 1)).round();
        assert_eq!(ten_thousandths, ratio((printed * 10_000.0).round() as i64, 1), "{id}");
        checked.push(id.to_owned());
    }
    let all = ["BF01", "BF02", "BF03", "BF07", "BF09", "BF10", "BF13", "BF14", "BF15", "BF17", "BF20", "BF22"];
    assert_eq!(checked, all);
}
