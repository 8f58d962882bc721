//! Lengths as people write and read them: what is accepted, what is refused and in which words, and that whatever is
//! printed exactly reads back to the same tick. The inch is 25.4 mm by definition (international yard, 1959).

use flitchwork::measure::{Length, LengthError, ROUNDED_MARK, Rational, Rounding, Units, parse_quarters};
use num_bigint::BigInt;
use proptest::prelude::*;
use rstest::rstest;

fn sixty_fourth() -> Length {
    Length::from_inch_fraction(1, 64)
}

#[rstest]
#[case::whole("2", 4_064_000)]
#[case::decimal("2.75", 5_588_000)]
#[case::decimal_comma("2,75", 5_588_000)]
#[case::bare_decimal(".5", 1_016_000)]
#[case::fraction("3/4", 1_524_000)]
#[case::quarters_are_a_plain_fraction("5/4", 2_540_000)]
#[case::mixed("2 3/4", 5_588_000)]
#[case::mixed_with_dash("2-3/4\"", 5_588_000)]
#[case::mixed_with_en_dash("2–3/4", 5_588_000)]
#[case::fraction_slash("2 3⁄4", 5_588_000)]
#[case::vulgar("½", 1_016_000)]
#[case::vulgar_after_whole("2¾", 5_588_000)]
#[case::vulgar_after_space("2 ¾ in", 5_588_000)]
#[case::no_break_space("2\u{a0}3/4", 5_588_000)]
#[case::inch_mark("2\"", 4_064_000)]
#[case::two_single_quotes("2''", 4_064_000)]
#[case::curly_inch("2”", 4_064_000)]
#[case::double_prime("2″", 4_064_000)]
#[case::inch_word("2 inches", 4_064_000)]
#[case::inch_abbreviated("3.5 in.", 7_112_000)]
#[case::feet("6'", 146_304_000)]
#[case::feet_word("6 ft", 146_304_000)]
#[case::broken_feet_alone("6 1/2 ft", 158_496_000)]
#[case::feet_and_inches("6' 3 1/2\"", 153_416_000)]
#[case::feet_and_inches_close("6'3\"", 152_400_000)]
#[case::feet_and_bare_inches("6' 3", 152_400_000)]
#[case::feet_dash_inches("6'-3 1/2\"", 153_416_000)]
#[case::feet_spaced_dash_inches("6' - 3\"", 152_400_000)]
#[case::feet_and_inches_in_words("6FT 3IN", 152_400_000)]
#[case::curly_feet_and_inches("6’ 3½”", 153_416_000)]
#[case::primes("6′ 3″", 152_400_000)]
#[case::feet_and_a_fraction("6' 1/2\"", 147_320_000)]
#[case::millimetres("70 mm", 5_600_000)]
#[case::millimetres_close("70mm", 5_600_000)]
#[case::millimetres_with_comma("38,1 mm", 3_048_000)]
#[case::centimetres("7 cm", 5_600_000)]
#[case::metres("1.2 m", 96_000_000)]
#[case::third_to_the_nearest_tick("1/3", 677_333)]
#[case::two_thirds_to_the_nearest_tick("2/3", 1_354_667)]
#[case::negative("-2 3/4", -5_588_000)]
#[case::negative_with_a_true_minus("−2 in", -4_064_000)]
#[case::negative_feet("-6' 3\"", -152_400_000)]
#[case::plus("+2", 4_064_000)]
#[case::spaces_around("  2 3/4  ", 5_588_000)]
#[case::nothing_at_all("0", 0)]
#[case::leading_zeros("007", 14_224_000)]
#[case::the_longest("100'", 2_438_400_000)]
fn a_length_reads_as_ticks(#[case] text: &str, #[case] ticks: i64) {
    assert_eq!(Length::parse(text, Units::Inches), Ok(Length::from_ticks(ticks)));
}

#[rstest]
#[case::whole("70", 5_600_000)]
#[case::decimal_comma("38,1", 3_048_000)]
#[case::own_unit("3.5 in", 7_112_000)]
#[case::inch_mark("2 3/4\"", 5_588_000)]
#[case::feet_take_inches_after_them("6' 3", 152_400_000)]
fn a_bare_number_is_in_the_units_of_the_file(#[case] text: &str, #[case] ticks: i64) {
    assert_eq!(Length::parse(text, Units::Millimetres), Ok(Length::from_ticks(ticks)));
}

#[rstest]
#[case::empty("", "nothing is written where a length is asked for; 23.5, 23 1/2 or 597 mm would do")]
#[case::blank("   ", "nothing is written where a length is asked for; 23.5, 23 1/2 or 597 mm would do")]
#[case::word("wide", "`wide` is not a length; 23.5, 23 1/2 or 597 mm would do")]
#[case::control_characters_and_a_backtick("a`\u{1b}b", "`a'\\u{1b}b` is not a length; 23.5, 23 1/2 or 597 mm would do")]
#[case::unit_alone("mm", "`mm` is not a length; 23.5, 23 1/2 or 597 mm would do")]
#[case::nan("NaN", "`NaN` is not a length; 23.5, 23 1/2 or 597 mm would do")]
#[case::exponent("1e3", "`1e3` is in `e`, which is no unit known here; in, ft, mm, cm or m would do")]
#[case::unknown_unit("12 yd", "`12 yd` is in `yd`, which is no unit known here; in, ft, mm, cm or m would do")]
#[case::zero_denominator("3/0", "`3/0` divides by zero; a fraction such as 3/4 would do")]
#[case::mixed_zero_denominator("2 3/0", "`2 3/0` divides by zero; a fraction such as 3/4 would do")]
#[case::improper(
    "2 5/4",
    "`2 5/4` adds a fraction of one or more to a whole number; a fraction below one, as in 2 3/4, would do"
)]
#[case::a_foot_of_inches(
    "6' 12\"",
    "`6' 12\"` has a foot or more of inches after its feet; inches below 12, as in 6' 3\", would do"
)]
#[case::broken_feet(
    "6.5' 3\"",
    "`6.5' 3\"` has inches after a broken number of feet; whole feet, as in 6' 3\", would do"
)]
#[case::too_long("100' 1\"", "`100' 1\"` is longer than anything in a shop; at most 100 ft (30480 mm) would do")]
#[case::far_too_long(
    "99999999999999999999999999",
    "`99999999999999999999999999` is longer than anything in a shop; at most 100 ft (30480 mm) would do"
)]
#[case::two_numbers("6 3", "`6 3` is not a length; 23.5, 23 1/2 or 597 mm would do")]
#[case::thousands_and_decimals("1,250.5", "`1,250.5` is not a length; 23.5, 23 1/2 or 597 mm would do")]
#[case::two_points("1.2.3", "`1.2.3` is not a length; 23.5, 23 1/2 or 597 mm would do")]
#[case::point_without_decimals("3.", "`3.` is not a length; 23.5, 23 1/2 or 597 mm would do")]
#[case::subtraction("2 - 3/4", "`2 - 3/4` is not a length; 23.5, 23 1/2 or 597 mm would do")]
#[case::two_slashes("1/2/3", "`1/2/3` is not a length; 23.5, 23 1/2 or 597 mm would do")]
#[case::decimal_in_fraction("1.5/2", "`1.5/2` is not a length; 23.5, 23 1/2 or 597 mm would do")]
#[case::decimal_and_fraction("1.5 3/4", "`1.5 3/4` is not a length; 23.5, 23 1/2 or 597 mm would do")]
#[case::digit_after_a_vulgar_fraction("½2", "`½2` is not a length; 23.5, 23 1/2 or 597 mm would do")]
#[case::two_units("6 in mm", "`6 in mm` is not a length; 23.5, 23 1/2 or 597 mm would do")]
#[case::feet_and_millimetres("6' 70 mm", "`6' 70 mm` is not a length; 23.5, 23 1/2 or 597 mm would do")]
#[case::inches_then_feet("3\" 6'", "`3\" 6'` is not a length; 23.5, 23 1/2 or 597 mm would do")]
#[case::two_signs("--2", "`--2` is not a length; 23.5, 23 1/2 or 597 mm would do")]
#[case::a_rounded_figure("~23 1/2\"", "`~23 1/2\"` is not a length; 23.5, 23 1/2 or 597 mm would do")]
#[case::a_sentence(
    "about as long as the last one we made for the hall",
    "`about as long as the last one we made fo…` is not a length; 23.5, 23 1/2 or 597 mm would do"
)]
fn what_is_no_length_is_refused_with_what_was_read_and_what_would_do(#[case] text: &str, #[case] message: &str) {
    assert_eq!(Length::parse(text, Units::Inches).unwrap_err().to_string(), message);
}

#[test]
fn a_file_in_millimetres_is_advised_in_millimetres() {
    assert_eq!(
        Length::parse("x", Units::Millimetres).unwrap_err().to_string(),
        "`x` is not a length; 597, 596.9 or 23 1/2 in would do"
    );
}

#[test]
fn a_megabyte_of_digits_is_refused_without_being_read() {
    let digits = "9".repeat(1_000_000);
    assert!(
        matches!(Length::parse(&digits, Units::Inches), Err(LengthError::NotALength { read, .. }) if read.len() < 50)
    );
}

#[rstest]
#[case("5/4", (5, 4))]
#[case(" 8/4 ", (8, 4))]
#[case("10 / 4", (10, 4))]
#[case("3⁄4", (3, 4))]
#[case("½", (1, 2))]
fn a_quarter_name_reads_as_its_two_numbers(#[case] text: &str, #[case] quarters: (u16, u16)) {
    assert_eq!(parse_quarters(text), Ok(quarters));
}

#[rstest]
#[case("1.25")]
#[case("5")]
#[case("5/0")]
#[case("0/4")]
#[case("-5/4")]
#[case("1 1/4")]
#[case("5/4 in")]
#[case("70000/4")]
#[case("")]
fn what_is_no_quarter_name_is_refused(#[case] text: &str) {
    assert_eq!(
        parse_quarters(text).unwrap_err().to_string(),
        format!("`{text}` is not a nominal thickness; a quarter name such as 4/4, 5/4 or 8/4 would do")
    );
}

#[rstest]
#[case::exact(Length::from_inch_fraction(47, 2), "23 1/2\"", "1' 11 1/2\"", "596.9 mm")]
#[case::whole(Length::from_inches(72), "72\"", "6' 0\"", "1828.8 mm")]
#[case::fraction_alone(Length::from_inch_fraction(3, 64), "3/64\"", "3/64\"", "~1.2 mm")]
#[case::nothing(Length::ZERO, "0\"", "0\"", "0 mm")]
#[case::negative(Length::from_inch_fraction(-13, 4), "-3 1/4\"", "-3 1/4\"", "~-82.6 mm")]
#[case::rounded(Length::from_millimetres(600), "~23 5/8\"", "~1' 11 5/8\"", "600 mm")]
#[case::rounded_up_into_the_next_foot(Length::from_ticks(24 * 2_032_000 - 1), "~24\"", "~2' 0\"", "~609.6 mm")]
#[case::rounded_to_nothing(Length::from_ticks(-1), "~0\"", "~0\"", "~0 mm")]
fn a_length_prints_in_each_style(
    #[case] length: Length,
    #[case] inches: &str,
    #[case] feet: &str,
    #[case] millimetres: &str,
) {
    assert_eq!(length.inches_text(sixty_fourth()), inches);
    assert_eq!(length.feet_text(sixty_fourth()), feet);
    assert_eq!(length.mm_text(1), millimetres);
}

#[test]
fn a_rough_cut_prints_rounded_to_the_side_asked_for() {
    let sixteenth = Length::from_inch_fraction(1, 16);
    let length = Length::from_inch_fraction(771, 32);
    assert_eq!(length.inches_text_rounded(sixteenth, Rounding::Up), "~24 1/8\"");
    assert_eq!(length.inches_text_rounded(sixteenth, Rounding::Down), "~24 1/16\"");
    assert_eq!(length.show_rounded(Units::Millimetres, sixteenth, Rounding::Up), "~612 mm");
    assert_eq!(length.show_rounded(Units::Millimetres, sixteenth, Rounding::Down), "~611 mm");
    assert_eq!((-length).inches_text_rounded(sixteenth, Rounding::Up), "~-24 1/16\"");
}

#[rstest]
#[case::sixteenths(16, "~23 5/8\"", "~600 mm")]
#[case::thirty_seconds(32, "~23 5/8\"", "~600.2 mm")]
#[case::sixty_fourths(64, "~23 5/8\"", "~600.2 mm")]
fn millimetres_are_shown_as_fine_as_the_step(#[case] parts: i64, #[case] inches: &str, #[case] millimetres: &str) {
    let length = Length::parse("600.16 mm", Units::Millimetres).unwrap();
    let step = Length::from_inch_fraction(1, parts);
    assert_eq!(length.show(Units::Inches, step), inches);
    assert_eq!(length.show(Units::Millimetres, step), millimetres);
}

#[test]
fn numbers_of_json_that_are_no_length_are_refused() {
    for value in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, f64::MAX, 1e30] {
        assert_eq!(Length::from_json_f64(value, Units::Inches), None);
    }
}

#[test]
fn a_json_number_is_taken_by_its_decimal_text() {
    assert_eq!(Length::from_json_f64(0.1, Units::Millimetres), Some(Length::from_ticks(8_000)));
    assert_eq!(Length::from_json_f64(0.3333, Units::Inches), Some(Length::from_ticks(677_266)));
    assert_eq!(Length::from_json_f64(-7.25, Units::Inches), Some(Length::from_ticks(-14_732_000)));
}

/// Lengths of up to 100 ft either way, in steps of `grain` ticks.
fn lengths(grain: i64) -> impl Strategy<Value = Length> {
    let most = Length::LONGEST_READ.ticks() / grain;
    (-most..=most).prop_map(move |steps| Length::from_ticks(steps * grain))
}

proptest! {
    #[test]
    fn inches_printed_exactly_read_back_to_the_same_tick(length in lengths(15_875)) {
        let step = Length::from_inch_fraction(1, 128);
        for text in [length.inches_text(step), length.feet_text(step)] {
            prop_assert!(!text.contains(ROUNDED_MARK), "{text} is exact");
            prop_assert_eq!(Length::parse(&text, Units::Millimetres), Ok(length), "{}", text);
        }
    }

    #[test]
    fn millimetres_printed_exactly_read_back_to_the_same_tick(length in lengths(1)) {
        let text = length.mm_text(7);
        prop_assert!(!text.contains(ROUNDED_MARK), "{text} is exact");
        prop_assert_eq!(Length::parse(&text, Units::Inches), Ok(length), "{}", text);
    }

    #[test]
    fn a_printed_length_is_marked_exactly_when_it_differs(length in lengths(1), parts in 1_i64..=6) {
        let step = Length::from_inch_fraction(1, 1 << parts);
        for rounding in [Rounding::Nearest, Rounding::Down, Rounding::Up] {
            for text in [
                length.inches_text_rounded(step, rounding),
                length.feet_text_rounded(step, rounding),
                length.mm_text_rounded(1, rounding),
            ] {
                let shown = Length::parse(text.trim_start_matches(ROUNDED_MARK), Units::Inches).unwrap();
                prop_assert_eq!(text.contains(ROUNDED_MARK), shown != length, "{}", text);
                match rounding {
                    Rounding::Nearest => prop_assert!((shown - length).ticks().abs() * 2 <= step.ticks().max(8_000)),
                    Rounding::Down => prop_assert!(shown <= length),
                    Rounding::Up => prop_assert!(shown >= length),
                }
            }
        }
    }

    #[test]
    fn a_json_number_comes_back_to_the_same_tick(ticks in -1_000_000_000_000_i64..1_000_000_000_000, inches: bool) {
        let units = if inches { Units::Inches } else { Units::Millimetres };
        let length = Length::from_ticks(ticks);
        prop_assert_eq!(Length::from_json_f64(length.to_f64(units), units), Some(length));
    }

    #[test]
    fn sums_of_shop_fractions_are_exact(parts in prop::collection::vec((0_i64..64, 0_u32..=7), 1..40)) {
        let texts = parts.iter().map(|(n, power)| format!("{n}/{}", 1 << power));
        let sum: Length = texts.map(|text| Length::parse(&text, Units::Inches).unwrap()).sum();
        let exact: Rational =
            parts.iter().map(|(n, power)| Rational::new(BigInt::from(*n), BigInt::from(1 << power))).sum();
        prop_assert_eq!(sum.to_rational(Units::Inches), exact);
    }

    #[test]
    fn no_text_brings_the_reader_down(text in "[-+0-9 /.,'\"½¾inftm⁄]{0,24}|\\PC{0,100}") {
        let told = match Length::parse(&text, Units::Inches) {
            Ok(length) => length <= Length::LONGEST_READ && length >= -Length::LONGEST_READ,
            Err(error) => error.to_string().ends_with("would do"),
        };
        prop_assert!(told);
    }
}
