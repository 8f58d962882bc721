//! The kinds of values that rates are written in: percentages, times, money by the area, the step of a price.
//!
//! Each reads itself exactly and says its JSON Schema, as the shapes of `pile::reading` do, and is written back by a
//! function beside it. Which figure is which is `rates_file`'s business.

use num_traits::{ToPrimitive, Zero};
use serde_json::{Value, json};

use crate::measure::{Money, Rational, Units, decimal_from_f64, decimal_from_text};
use crate::pile::reading::{Amount, Node, Reader, Shape};

/// Most hours, or hours for one of anything.
pub(super) const LONGEST: f64 = 100_000.0;

/// A share, written in percent.
pub(super) struct Percent {
    pub(super) most: f64,
}

impl Shape for Percent {
    type Out = Rational;

    fn schema(&self) -> Value {
        json!({ "anyOf": [
            { "const": 0 },
            { "type": "number", "minimum": 1, "maximum": self.most },
            { "type": "string", "pattern": "^\\s*[0-9]+([.][0-9]+)?\\s*%\\s*$" }
        ] })
    }

    fn read(&self, reader: &mut Reader, node: &Node) -> Option<Rational> {
        let percent = match node {
            // 0.2 is twenty percent to one maker and a fifth of one to another.
            Node::Number(number) if *number > 0.0 && *number < 1.0 => {
                let cure = format!(
                    "write {} for {} percent of the whole, or \"{number} %\" if so little is meant",
                    number * 100.0,
                    number * 100.0
                );
                reader.fault(node.shown(), "a share below one percent is in doubt", cure);
                return None;
            }
            Node::Number(number) => decimal_from_f64(*number),
            Node::Text(text) => text.trim().strip_suffix('%').and_then(|number| decimal_from_text(number.trim())),
            _ => None,
        };
        let Some(percent) = percent else {
            reader.fault(node.shown(), "a percentage is wanted here", "write a number such as 20, or \"0.5 %\"");
            return None;
        };
        let most = decimal_from_f64(self.most).unwrap_or_default();
        if percent < Rational::zero() || percent > most {
            let what = format!("this must lie between 0 and {} percent", self.most);
            reader.fault(node.shown(), what, "check the figure");
            return None;
        }
        Some(percent / hundred())
    }
}

/// Hours, or hours for each area: a number of hours, or a text with `h` and `min`.
pub(super) struct Hours {
    pub(super) by_area: bool,
}

impl Shape for Hours {
    type Out = Rational;

    fn schema(&self) -> Value {
        json!({ "anyOf": [
            { "type": "number", "minimum": 0, "maximum": LONGEST },
            { "type": "string", "pattern": "^\\s*[0-9]+([.][0-9]+)?\\s*(h|min|h\\s*[0-9]+([.][0-9]+)?\\s*min)\\s*$" }
        ] })
    }

    fn unit(&self) -> String {
        let area = if self.by_area { AREA_UNIT } else { "" };
        format!(
            "{area}{}A number of hours, or a text such as `1 h 30 min` or `3 min`.",
            if self.by_area { " " } else { "" }
        )
    }

    fn read(&self, reader: &mut Reader, node: &Node) -> Option<Rational> {
        let hours = match node {
            Node::Number(number) => decimal_from_f64(*number),
            Node::Text(text) => hours_of(text),
            _ => None,
        };
        let Some(hours) = hours else {
            reader.fault(node.shown(), "a time is wanted here", "write hours such as 1.5, or \"3 min\"");
            return None;
        };
        if hours < Rational::zero() || hours > decimal_from_f64(LONGEST).unwrap_or_default() {
            reader.fault(node.shown(), "this is no time that work takes", "check the figure");
            return None;
        }
        Some(if self.by_area { hours * areas(reader) } else { hours })
    }
}

/// `1 h 30 min`, `3 min`, `1.5 h`.
fn hours_of(text: &str) -> Option<Rational> {
    let (hours, minutes) = match text.split_once('h') {
        Some((hours, rest)) => (decimal_from_text(hours.trim())?, rest.trim()),
        None => (Rational::zero(), text.trim()),
    };
    if minutes.is_empty() {
        return text.contains('h').then_some(hours);
    }
    let minutes = decimal_from_text(minutes.strip_suffix("min")?.trim())?;
    Some(hours + minutes / Rational::from_integer(60.into()))
}

const AREA_UNIT: &str = "By the square foot in a file in inches, by the square metre in one in millimetres.";

/// Money for each area.
pub(super) struct AreaAmount;

impl Shape for AreaAmount {
    type Out = Money;

    fn schema(&self) -> Value {
        Amount.schema()
    }

    fn unit(&self) -> String {
        format!("{AREA_UNIT} {}", Amount.unit())
    }

    fn read(&self, reader: &mut Reader, node: &Node) -> Option<Money> {
        let amount = Amount.read(reader, node)?;
        Some(amount.times(&areas(reader)))
    }
}

/// The step of a price: more than nothing.
pub(super) struct Step;

impl Shape for Step {
    type Out = Money;

    fn schema(&self) -> Value {
        json!({ "type": "number", "minimum": 0.01, "maximum": 1.0e6 })
    }

    fn unit(&self) -> String {
        Amount.unit()
    }

    fn read(&self, reader: &mut Reader, node: &Node) -> Option<Money> {
        let step = Amount.read(reader, node)?;
        let cents = step.as_rational() * hundred();
        let most = Money::from_rational(Rational::from_integer(1_000_000.into()));
        if cents.is_integer() && !cents.is_zero() && step <= most {
            return Some(step);
        }
        reader.fault(node.shown(), "a price is not rounded to this", "write whole cents, such as 0.01, 1 or 5");
        None
    }
}

/// Square feet in the area that a file counts by.
fn areas(reader: &Reader) -> Rational {
    match reader.units {
        Some(Units::Millimetres) => square_feet_per_file_area(Units::Millimetres),
        _ => square_feet_per_file_area(Units::Inches),
    }
}

/// What a rate for one area of the file is for one square foot: a square foot is exactly 0.09290304 square metres.
pub(super) fn square_feet_per_file_area(units: Units) -> Rational {
    match units {
        Units::Inches => Rational::from_integer(1.into()),
        Units::Millimetres => Rational::new(9_290_304.into(), 100_000_000.into()),
    }
}

fn hundred() -> Rational {
    Rational::from_integer(100.into())
}

pub(super) fn percent_node(share: &Rational) -> Node {
    let percent = (share * hundred()).to_f64().unwrap_or_default();
    if percent > 0.0 && percent < 1.0 { Node::Text(format!("{percent} %")) } else { Node::Number(percent) }
}

/// Hours in decimals where those are exact, else in minutes.
pub(super) fn hours_node(hours: &Rational, by_area: bool, units: Units) -> Node {
    let hours = if by_area { hours / square_feet_per_file_area(units) } else { hours.clone() };
    let decimal = hours.to_f64().unwrap_or_default();
    if decimal_from_f64(decimal).as_ref() == Some(&hours) {
        return Node::Number(decimal);
    }
    let minutes = (hours * Rational::from_integer(60.into())).to_f64().unwrap_or_default();
    Node::Text(format!("{minutes} min"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use rstest::rstest;

    #[rstest]
    #[case("3 min", Some((1, 20)))]
    #[case("1 h 30 min", Some((3, 2)))]
    #[case(" 2.5h ", Some((5, 2)))]
    #[case("1 min", Some((1, 60)))]
    #[case("3", None)]
    #[case("3 s", None)]
    #[case("h", None)]
    #[case("-3 min", None)]
    #[case("", None)]
    fn a_time_is_read_with_its_units(#[case] text: &str, #[case] hours: Option<(i64, i64)>) {
        let hours = hours.map(|(n, d)| Rational::new(n.into(), d.into()));
        // A sign is read and refused as a size, not as a form.
        assert_eq!(hours_of(text).filter(|hours| *hours >= Rational::zero()), hours, "{text}");
    }

    #[test]
    fn a_time_that_no_decimals_hold_is_written_in_minutes() {
        let minute = Rational::new(1.into(), 60.into());
        assert_eq!(hours_node(&minute, false, Units::Inches), Node::Text("1 min".into()));
        assert_eq!(hours_node(&Rational::new(1.into(), 20.into()), false, Units::Inches), Node::Number(0.05));
    }
}
