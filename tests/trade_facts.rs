//! The facts of the trade against what is published: every row of `tests/data/trade` that was read in a source, derived
//! by arithmetic or constructed from a stated rule. Each row names its source; rows from memory are not checks and are
//! passed over. Tolerances come from the digits a source prints, and are stated where they are used.

use std::collections::BTreeMap;
use std::path::Path;

use flitchwork::measure::{Length, Rational, Units, decimal_from_text};
use flitchwork::trade::lifting::{self, Duration, Grip, Lift};
use flitchwork::trade::movement::{self, Cut};
use flitchwork::trade::tally::{self, HalfTurn};
use flitchwork::trade::{Figure, Status, safety, species, thickness, weight};
use num_traits::ToPrimitive;
use rstest::rstest;

type Row = BTreeMap<String, String>;

/// The rows of a table, by column name.
fn table(name: &str) -> Vec<Row> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/trade").join(name);
    let mut reader = csv::Reader::from_path(&path).expect("the table is there");
    reader.deserialize().collect::<Result<Vec<Row>, _>>().expect("the table is well formed")
}

/// The rows that count as a check from outside.
fn checks(name: &str) -> Vec<Row> {
    let counts = |row: &Row| ["read", "derived", "constructed"].iter().any(|word| row["status"].starts_with(word));
    table(name).into_iter().filter(counts).collect()
}

fn number(text: &str) -> f64 {
    text.parse().unwrap_or_else(|_| panic!("`{text}` is a number"))
}

fn exact(text: &str) -> Rational {
    decimal_from_text(text).unwrap_or_else(|| panic!("`{text}` is a decimal"))
}

fn inches(text: &str) -> Length {
    Length::parse(text, Units::Inches).unwrap()
}

fn feet(text: &str) -> Length {
    Length::parse(&format!("{text} ft"), Units::Inches).unwrap()
}

/// The numbers in a cell, `1/16` as one.
fn numbers(text: &str) -> Vec<f64> {
    text.split(|c: char| !(c.is_ascii_digit() || c == '.' || c == '/'))
        .filter_map(|token| match token.split_once('/') {
            Some((numerator, denominator)) => Some(numerator.parse::<f64>().ok()? / denominator.parse::<f64>().ok()?),
            None => token.parse().ok(),
        })
        .collect()
}

#[track_caller]
fn close(found: f64, expected: f64, tolerance: f64, what: &str) {
    assert!((found - expected).abs() <= tolerance, "{what}: {found} is not {expected} within {tolerance}");
}

/// Four printed decimals: half a unit of the last.
const FOUR_DECIMALS: f64 = 0.000_05;

#[test]
fn board_feet_come_out_as_in_the_published_examples() {
    let rows = checks("board_foot_examples.csv");
    assert_eq!(rows.len(), 16);
    for row in rows {
        let expected = &row["board_feet_or_result"];
        match row["method"].as_str() {
            "hardwood SM" | "hardwood SM alternating half" => assert_eq!(hardwood_board_feet(&row), exact(expected)),
            "hardwood SM bundle" => {
                let measures: Vec<Rational> = numbers(&row["raw"]).iter().map(|sm| exact(&sm.to_string())).collect();
                let measures = &measures[..number(&row["pieces"]) as usize];
                let total = tally::bundle_board_feet(measures, &exact(&row["thickness_in"]));
                assert_eq!(total, exact(expected), "{}", row["id"]);
            }
            "exact volume" | "exact volume on nominal size" => {
                let (width, length) = (inches(&row["width_in"]), feet(&row["length_ft"]));
                let one = tally::volume_board_feet(width, length, &exact(&row["thickness_in"]));
                let all = one * exact(&row["pieces"]);
                close(all.to_f64().unwrap(), number(expected), FOUR_DECIMALS, &row["id"]);
            }
            "export end tally" => {
                let tallied =
                    tally::export_end_tally(inches(&row["width_in"]), feet(&row["length_ft"]), &mut HalfTurn::new());
                assert_eq!(format!("tallied {} in x {} ft", tallied.inches, tallied.feet), row["raw"]);
            }
            "gross tally" => {
                let (gross, shrinkage) = match row["id"].as_str() {
                    "BF23" => ("1000", "0.07"),
                    _ => ("10", "0.08"),
                };
                assert_eq!(tally::net_from_gross(&exact(gross), &exact(shrinkage)), exact(expected), "{}", row["id"]);
            }
            other => panic!("{}: no check for the method `{other}`", row["id"]),
        }
    }
}

/// Board feet of a row's boards, tallied one after the other, their surface measures checked on the way.
fn hardwood_board_feet(row: &Row) -> Rational {
    let quarters = number(&row["thickness_in"]) * 4.0;
    let billing = thickness::find(quarters as u16, 4).expect("a standard thickness").billing();
    let mut turn = HalfTurn::new();
    let mut sum = Rational::from_integer(0.into());
    let mut measures = Vec::new();
    for _ in 0..number(&row["pieces"]) as usize {
        let measure = tally::surface_measure(inches(&row["width_in"]), feet(&row["length_ft"]), &mut turn);
        sum += tally::hardwood_board_feet(&measure, &billing);
        measures.push(measure.to_f64().unwrap());
    }
    assert_eq!(measures, numbers(&row["SM_ft2"]), "{}", row["id"]);
    sum
}

#[test]
fn exact_halves_go_up_and_down_in_turn_and_other_figures_take_no_turn() {
    let mut turn = HalfTurn::new();
    let found: Vec<Rational> = ["4.5", "4.25", "6.5", "7.75", "4.5", "2.5"].map(|x| turn.to_whole(&exact(x))).into();
    assert_eq!(found, ["5", "4", "6", "8", "5", "2"].map(exact));
}

#[test]
fn standard_thicknesses_are_those_of_the_published_table() {
    assert_eq!(table("thickness.csv").len(), thickness::all().len());
    let rows = checks("thickness.csv");
    assert_eq!(rows.len(), 12);
    for row in rows {
        let (numerator, denominator) = flitchwork::measure::parse_quarters(&row["nominal"]).unwrap();
        let standard = thickness::find(numerator, denominator).expect("a standard thickness");
        assert_eq!((standard.numerator, standard.denominator), (numerator, denominator));
        assert_eq!(standard.billing(), exact(&row["billing_thickness_in"]), "{}", row["nominal"]);
        assert_eq!(standard.kiln_dried, inches(&row["rough_kiln_dried_min_in"]), "{}", row["nominal"]);
        assert_eq!(standard.surfaced, Some(inches(&row["surfaced_S2S_in"])), "{}", row["nominal"]);
        assert_eq!(standard.surfaced, Some(inches(&row["surfaced_S2S_fraction"])), "{}", row["nominal"]);
    }
}

#[test]
fn every_standard_thickness_satisfies_itself_and_a_tick_less_falls_to_the_one_below() {
    let rows = thickness::all();
    for (index, row) in rows.iter().enumerate() {
        let below = index.checked_sub(1).map(|below| &rows[below]);
        for surfaced in [false, true] {
            let Some(least) = row.least(surfaced) else { continue };
            assert_eq!(thickness::largest_satisfied(least, surfaced), Some(row));
            assert_eq!(thickness::largest_satisfied(least - Length::from_ticks(1), surfaced), below);
        }
    }
}

#[rstest]
#[case::thin_stock_bills_an_inch("3/8", false, "1")]
#[case::thinner_than_any_standard_bills_an_inch("1/8", false, "1")]
#[case::full_five_quarter("1.28", false, "1.25")]
#[case::surfaced_five_quarter("1 1/16", true, "1.25")]
#[case::the_same_rough_is_four_quarter("1 1/16", false, "1")]
#[case::surfaced_beyond_the_last_agreed_size("5 1/2", true, "4")]
#[case::beyond_the_table("9", false, "6")]
fn a_measured_thickness_bills_the_largest_standard_it_satisfies(
    #[case] measured: &str,
    #[case] surfaced: bool,
    #[case] billing: &str,
) {
    assert_eq!(thickness::billing_of(inches(measured), surfaced), exact(billing));
}

#[rstest]
#[case(9, 4)]
#[case(1, 1_000)]
#[case(0, 4)]
#[case(4, 0)]
fn no_other_quarter_name_is_a_standard_thickness(#[case] numerator: u16, #[case] denominator: u16) {
    assert_eq!(thickness::find(numerator, denominator), None);
}

#[test]
fn the_species_table_agrees_with_every_column_that_was_read() {
    let rows = table("species.csv");
    assert_eq!(rows.len(), species::all().len());
    let mut compared = 0;
    for row in &rows {
        let name = &row["species"];
        let wood = species::find(name).unwrap_or_else(|| panic!("{name} is in the table"));
        assert_eq!(wood.name, name);
        assert_eq!(wood.is_hardwood(), row["kind"] == "hardwood", "{name}");
        let mut compare = |group: &str, column: &str, found: f64| {
            if row["status_by_column"].contains(&format!("{group} read")) {
                assert_eq!(found, number(&row[column]), "{name}, {column}");
                compared += 1;
            }
        };
        compare("shrinkage", "radial_pct", wood.radial_shrinkage);
        compare("shrinkage", "tangential_pct", wood.tangential_shrinkage);
        compare("CR/CT", "CR", wood.radial_coefficient);
        compare("CR/CT", "CT", wood.tangential_coefficient);
        compare("green G", "green_basic_G", wood.green_gravity);
        compare("G12", "G_at_12pct", wood.gravity_at_12.unwrap_or(f64::NAN));
        assert_eq!(wood.gravity_at_12.is_none(), row["G_at_12pct"].is_empty(), "{name}");
    }
    assert!(compared > 150, "only {compared} figures were compared");
}

#[test]
fn movement_coefficients_follow_from_shrinkage_where_they_were_made_from_it() {
    let rows: Vec<Row> = table("species.csv").into_iter().filter(|row| row["C_matches_shrinkage"] == "yes").collect();
    assert_eq!(rows.len(), 42);
    for row in rows {
        let wood = species::find(&row["species"]).expect("in the table");
        for (shrinkage, coefficient) in
            [(wood.radial_shrinkage, wood.radial_coefficient), (wood.tangential_shrinkage, wood.tangential_coefficient)]
        {
            let from = |shrinkage| movement::coefficient_from_shrinkage(shrinkage, wood.fibre_saturation);
            // Half a unit of the shrinkage's one decimal, and half a unit of the coefficient's fifth.
            let tolerance = 0.5 * (from(shrinkage + 0.05) - from(shrinkage - 0.05)) + 0.000_005;
            close(from(shrinkage), coefficient, tolerance, wood.name);
        }
    }
}

#[rstest]
#[case("cherry", "Cherry, black")]
#[case("Black  Cherry", "Cherry, black")]
#[case("cherry black", "Cherry, black")]
#[case("CHERRY, BLACK", "Cherry, black")]
#[case("walnut", "Walnut, black")]
#[case("hard maple", "Maple, sugar")]
#[case("maple, hard", "Maple, sugar")]
#[case("sugar maple", "Maple, sugar")]
#[case("soft maple", "Maple, red")]
#[case("white oak", "Oak, white")]
#[case("red oak", "Oak, northern red")]
#[case("poplar", "Yellow-poplar")]
#[case("yellow poplar", "Yellow-poplar")]
#[case("ash", "Ash, white")]
#[case("Douglas fir", "Douglas-fir, coast")]
#[case("western red cedar", "Cedar, western redcedar")]
#[case("African mahogany", "Mahogany, African (Khaya)")]
fn a_wood_is_found_by_the_names_of_the_trade(#[case] name: &str, #[case] row: &str) {
    assert_eq!(species::find(name).map(|wood| wood.name), Some(row));
}

#[rstest]
#[case("")]
#[case(" , ")]
#[case("purpleheart")]
#[case("oak")]
#[case("maple")]
fn a_name_that_means_no_one_wood_finds_none(#[case] name: &str) {
    assert_eq!(species::find(name), None);
}

#[test]
fn movement_comes_out_as_in_the_published_examples() {
    let rows = checks("movement_examples.csv");
    assert_eq!(rows.len(), 15);
    for row in rows {
        let name = match row["species"].as_str() {
            "red and white oak" => "red oak",
            "cherry panel" => "cherry",
            "white oak, green to 8 percent" => "white oak",
            name => name,
        };
        let wood = species::find(name).unwrap_or_else(|| panic!("{name} is in the table"));
        let width = inches(&row["width"]);
        let (from, to) = (number(&row["mc_from"]), number(&row["mc_to"]));
        let expected = number(&row["expected_change"]);
        let change = movement::change(width, wood, Cut::Flat, from, to).expect("sound figures");
        if !row["coefficient"].is_empty() {
            assert_eq!(wood.tangential_coefficient, number(&row["coefficient"]), "{}", row["id"]);
        }
        let tolerance = row["tolerance"].parse().unwrap_or_else(|_| {
            // The chart from 10 to 5 percent prints 64ths and sits below the coefficient method: a loose check.
            0.35 * (number(&row["width"]) * wood.tangential_coefficient * (to - from)).abs()
        });
        close(change.to_f64(Units::Inches), expected, tolerance, &row["id"]);
    }
}

#[test]
fn total_shrinkage_and_the_general_formula_agree_from_green() {
    let oak = species::find("white oak").expect("in the table");
    let shrinkage = movement::shrinkage_at(oak.tangential_shrinkage, oak.fibre_saturation, 8.0);
    close(shrinkage, 7.7, 1e-9, "S0 (30 - M)/30 of 10.5 % at 8 %");
    assert_eq!(movement::shrinkage_at(oak.tangential_shrinkage, oak.fibre_saturation, 45.0), 0.0);
    let width = Length::from_inches(10);
    let change = movement::at_any_moisture(width, oak.tangential_shrinkage, oak.fibre_saturation, 45.0, 8.0);
    close(change.expect("sound figures").to_f64(Units::Inches), -0.77, 1e-6, "10 in from green to 8 %");
}

#[test]
fn coefficients_are_not_used_outside_the_range_they_hold_in() {
    let width = Length::from_inches(10);
    assert!(movement::by_coefficient(width, 0.0025, 6.0, 14.0).is_some());
    for (from, to) in [(5.9, 8.0), (8.0, 14.1), (f64::NAN, 8.0), (8.0, f64::INFINITY)] {
        assert_eq!(movement::by_coefficient(width, 0.0025, from, to), None);
    }
    for (from, to) in [(-1.0, 8.0), (8.0, -1.0), (f64::NAN, 8.0)] {
        assert_eq!(movement::at_any_moisture(width, 8.0, 30.0, from, to), None);
    }
}

#[test]
fn equilibrium_moisture_is_that_of_the_published_table() {
    let rows = checks("emc.csv");
    assert_eq!(rows.len(), 4);
    for row in rows {
        let (fahrenheit, humidity) = (number(&row["temp_F"]), number(&row["rh_pct"]));
        let found = movement::equilibrium_moisture(fahrenheit, humidity).expect("a climate");
        // The formula rounds the table: within 0.07 in a shop's climate. At 140 F the source itself prints two figures
        // for the pair, 8.0 from the table and 8.4 from the formula.
        let tolerance = if fahrenheit > 100.0 { 0.4 } else { 0.07 };
        close(found, number(&row["emc_table_pct"]), tolerance, "the table");
        close(found, number(&row["emc_formula_pct"]), 0.005, "the formula, two decimals printed");
    }
    assert_eq!(movement::equilibrium_moisture(70.0, 101.0), None);
    assert_eq!(movement::equilibrium_moisture(f64::NAN, 40.0), None);
    close(movement::fahrenheit(21.0), 69.8, 1e-9, "21 C");
}

#[test]
fn units_are_those_of_their_definitions() {
    let cubic_metres_of_board_foot = || {
        let (foot, inch) = (Length::from_inches(12), Length::from_inches(1));
        let metres = |length: Length| length.to_f64(Units::Millimetres) / 1000.0;
        let one = exact("1");
        assert_eq!(tally::volume_board_feet(foot, foot, &one), one);
        metres(foot) * metres(foot) * metres(inch)
    };
    let gravity_check = 0.40;
    for row in checks("units.csv") {
        let item = row["item"].as_str();
        let value = &row["value"];
        match (item, row["unit"].as_str()) {
            ("inch", _) => assert_eq!(Length::from_inches(1), Length::parse(value, Units::Millimetres).unwrap()),
            ("foot", _) => assert_eq!(feet("1"), Length::parse(value, Units::Millimetres).unwrap()),
            (fraction, "mm") => {
                assert_eq!(inches(fraction), Length::parse(value, Units::Millimetres).unwrap(), "{item}");
            }
            ("board foot", "in3") => {
                assert_eq!(tally::volume_board_feet(inches("1"), inches(value), &exact("1")), exact("1"));
            }
            ("board foot", "m3") => close(cubic_metres_of_board_foot(), number(value), 5e-10, "nine decimals"),
            ("cubic metre", _) => close(1.0 / cubic_metres_of_board_foot(), number(value), 5e-4, "three decimals"),
            ("cubic foot", _) => assert_eq!(tally::volume_board_feet(feet("1"), feet("1"), &exact("12")), exact(value)),
            ("M or MBF", _) => {
                assert_eq!(tally::volume_board_feet(feet("10"), feet("10"), &exact("10")), exact(value));
            }
            ("MBF", _) => close(1000.0 * cubic_metres_of_board_foot(), number(value), 5e-7, "six decimals"),
            ("water density", _) => assert_eq!(weight::WATER_POUNDS_PER_CUBIC_FOOT, number(value)),
            ("density check", unit) if unit.starts_with("lb/ft3") => {
                close(weight::pounds_per_cubic_foot(gravity_check, 12.0), number(value), 0.001, "27.968 lb/ft3");
            }
            ("density check", _) => {
                close(weight::kilograms_per_cubic_metre(gravity_check, 12.0), number(value), 1e-9, "448 kg/m3");
            }
            (item, unit) => panic!("no check for {item} in {unit}"),
        }
    }
}

#[test]
fn a_white_oak_plank_weighs_what_its_density_says_and_takes_two_people() {
    // Constructed: 8/4 x 10 in x 10 ft is 1.389 ft3; x 0.68 x 1.12 x 62.43 lb/ft3 is about 66 lb.
    let oak = species::find("white oak").expect("in the table");
    let pounds = weight::piece_pounds(oak, 12.0, feet("10"), inches("10"), inches("2"));
    close(pounds, 66.0, 0.5, "about 66 lb");
    assert!(pounds > lifting::LOAD_CONSTANT.value);
}

#[test]
fn gravity_follows_the_two_printed_figures_or_the_formula() {
    let oak = species::find("white oak").expect("in the table");
    close(weight::gravity_at(oak, 12.0), 0.68, 1e-12, "the printed figure at 12 %");
    close(weight::gravity_at(oak, 30.0), 0.60, 1e-12, "green");
    close(weight::gravity_at(oak, 80.0), 0.60, 1e-12, "wetter than green");
    assert!(weight::gravity_at(oak, 6.0) > 0.68);
    let teak = species::find("teak").expect("in the table");
    close(weight::gravity_at(teak, 12.0), weight::gravity_from_green(0.55, 12.0), 1e-12, "no figure at 12 %");
}

#[test]
fn the_gravity_formula_gives_the_printed_column_at_12_percent() {
    // Only woods whose two gravities were both read; printed to 0.01, and the formula is a fit over all woods.
    let both = |row: &Row| row["status_by_column"].ends_with("green G read; G12 read");
    let rows: Vec<Row> = table("species.csv").into_iter().filter(both).collect();
    assert_eq!(rows.len(), 5);
    for row in rows {
        let found = weight::gravity_from_green(number(&row["green_basic_G"]), 12.0);
        close(found, number(&row["G_at_12pct"]), 0.015, &row["species"]);
    }
}

#[test]
fn a_sheet_of_oak_plywood_takes_two_people() {
    // Common practice: no published density; the caution is that 3/4 in x 4 ft x 8 ft is over 51 lb.
    assert_eq!(weight::OAK_PLYWOOD.status, Status::CommonPractice);
    let sheet = weight::cubic_feet(feet("8"), feet("4"), inches("3/4")) * weight::OAK_PLYWOOD.value;
    assert!(sheet > lifting::LOAD_CONSTANT.value, "{sheet} lb");
}

#[test]
fn the_lifting_equation_gives_the_worked_check_and_the_printed_multipliers() {
    // Source of the multipliers: NIOSH 94-110.
    let lift =
        Lift { reach: 15.0, height: 30.0, travel: 30.0, twist: 0.0, grip: Grip::Good, duration: Duration::Short };
    close(lift.limit_pounds(), 29.9, 0.05, "H 15, V 30, D 30");
    close(lifting::height_multiplier(0.0), 0.78, 0.005_001, "0.78 at the floor");
    close(lifting::height_multiplier(70.0), 0.70, 1e-12, "0.70 at 70 in");
    assert_eq!(lifting::height_multiplier(71.0), 0.0);
    assert_eq!(lifting::reach_multiplier(8.0), 1.0);
    assert_eq!(lifting::reach_multiplier(26.0), 0.0);
    assert_eq!(lifting::travel_multiplier(5.0), 1.0);
    close(lifting::travel_multiplier(30.0), 0.88, 1e-12, "0.88 at 30 in");
    let worst = Lift { twist: 90.0, grip: Grip::Poor, duration: Duration::Long, ..lift };
    assert!(worst.limit_pounds() < lift.limit_pounds());
}

#[rstest]
#[case(safety::JOINTER_SHORTEST, "jointer", "minimum stock length", 0)]
#[case(safety::JOINTER_SHORTEST_STRICT, "jointer", "minimum stock length, stricter school", 0)]
#[case(safety::JOINTER_NARROWEST, "jointer", "narrowest stock", 0)]
#[case(safety::JOINTER_THINNEST, "jointer", "thinnest stock face jointed", 0)]
#[case(safety::JOINTER_DEEPEST_CUT, "jointer", "maximum depth of cut", 0)]
#[case(safety::JOINTER_PUSH_BLOCK_LENGTH, "jointer", "use hold-down or push block when", 0)]
#[case(safety::JOINTER_PUSH_BLOCK_SECTION, "jointer", "use hold-down or push block when", 1)]
#[case(safety::JOINTER_HANDS, "jointer", "hands from cutterhead", 1)]
#[case(safety::PLANER_THINNEST, "planer", "do not plane below", 0)]
#[case(safety::PLANER_PAST_ROLLERS, "planer", "add to roller distance", 0)]
#[case(safety::RIP_PUSH_STICK, "table saw", "push stick when rip is at or under", 0)]
#[case(safety::RIP_BLADE_ABOVE, "table saw", "blade above stock", 0)]
#[case(safety::RIP_SHORTEST, "table saw", "shortest rip", 0)]
#[case(safety::RIP_NARROWEST, "table saw", "narrowest rip without a jig", 0)]
#[case(safety::MITRE_SAW_HANDS, "mitre saw", "hand margin from blade", 0)]
#[case(safety::DUST_OSHA_TOTAL, "dust", "OSHA PEL, total particulate (PNOR)", 0)]
#[case(safety::DUST_OSHA_RESPIRABLE, "dust", "OSHA PEL, respirable", 0)]
#[case(safety::DUST_NIOSH, "dust", "NIOSH REL", 0)]
#[case(safety::DUST_ACGIH_WESTERN_REDCEDAR, "dust", "ACGIH TLV western redcedar / all others", 0)]
#[case(safety::DUST_ACGIH, "dust", "ACGIH TLV western redcedar / all others", 1)]
#[case(safety::NOISE_OSHA, "noise", "OSHA PEL", 0)]
#[case(safety::NOISE_OSHA_STEP, "noise", "OSHA PEL", 2)]
#[case(safety::NOISE_OSHA_ACTION, "noise", "action level", 0)]
#[case(safety::NOISE_NIOSH, "noise", "NIOSH and ACGIH", 0)]
#[case(safety::NOISE_NIOSH_STEP, "noise", "NIOSH and ACGIH", 1)]
#[case(lifting::LOAD_CONSTANT, "lifting", "NIOSH load constant", 0)]
#[case(lifting::LOAD_CONSTANT_METRIC, "lifting", "NIOSH load constant", 1)]
fn a_safety_figure_is_the_published_one(
    #[case] figure: Figure,
    #[case] topic: &str,
    #[case] item: &str,
    #[case] place: usize,
) {
    let rows = table("safety.csv");
    let row = rows.iter().find(|row| row["topic"] == topic && row["item"] == item).expect("the row is there");
    assert_eq!(figure.value, numbers(&row["value"])[place]);
    let status = if row["status"].starts_with("read") { "published" } else { row["status"].as_str() };
    assert_eq!(figure.status.words(), status);
    assert!(!figure.source.is_empty() && !figure.unit.is_empty());
}
