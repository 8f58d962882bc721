//! Reading the lengths people write.
//!
//! Turns `2 3/4`, `6' 3 1/2"`, `38,1 mm` and the like into exact ticks, and refuses everything else with what was read
//! and what would do. Printing is `length_print`'s; whether a length makes sense where it stands (a negative width, a
//! board longer than the shop) is for the caller to say.
//!
//! # Grammar
//!
//! ```text
//! length   = [ sign ] ( feet [ [ join ] inches ] | number [ unit ] )
//! feet     = number foot                      whole when inches follow
//! inches   = number [ inch ]                  below 12
//! number   = decimal | whole ( " " | "-" ) fraction | whole vulgar | fraction
//! decimal  = digits [ ( "." | "," ) digits ] | ( "." | "," ) digits
//! fraction = digits "/" digits | vulgar       below 1 after a whole number
//! vulgar   = one of ½ ⅓ ⅔ ¼ ¾ ⅕ ⅖ ⅗ ⅘ ⅙ ⅚ ⅐ ⅛ ⅜ ⅝ ⅞ ⅑ ⅒
//! unit     = inch | foot | "mm" | "cm" | "m"
//! inch     = '"' | "''" | "in" | "in." | "inch" | "inches"
//! foot     = "'" | "ft" | "ft." | "foot" | "feet"
//! join     = "-", the dash between feet and inches on drawings
//! sign     = "-" | "+"
//! ```
//!
//! Spaces may stand between any two of these except inside a number; case does not matter; typographic quotes, primes,
//! dashes and slashes count as the plain ones. A number without a unit is in the units of the file. A comma is always
//! the decimal mark, never a separator of thousands. Exponents are not read.

use num_bigint::BigInt;
use num_traits::{One, ToPrimitive, Zero};

use super::{Length, Rational, Units, decimal_from_f64, decimal_from_text};

/// Longer texts are refused unread: no length needs them, and the digits of a number are not taken without limit.
const LONGEST_TEXT: usize = 80;

/// Why a text is not a length.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum LengthError {
    /// Nothing but spaces.
    #[error("nothing is written where a length is asked for; {} would do", examples(*.units))]
    Empty {
        /// The units of the file, for the advice.
        units: Units,
    },
    /// Not in the grammar.
    #[error("`{read}` is not a length; {} would do", examples(*.units))]
    NotALength {
        /// The text, shortened if it is long.
        read: String,
        /// The units of the file, for the advice.
        units: Units,
    },
    /// A number followed by a word that is no unit of length known here.
    #[error("`{read}` is in `{unit}`, which is no unit known here; in, ft, mm, cm or m would do")]
    UnknownUnit {
        /// The text.
        read: String,
        /// The word where the unit stands.
        unit: String,
    },
    /// A fraction over zero.
    #[error("`{read}` divides by zero; a fraction such as 3/4 would do")]
    DividesByZero {
        /// The text.
        read: String,
    },
    /// A whole number followed by a fraction that is not below one.
    #[error("`{read}` adds a fraction of one or more to a whole number; a fraction below one, as in 2 3/4, would do")]
    ImproperFraction {
        /// The text.
        read: String,
    },
    /// Inches after feet that make another foot.
    #[error("`{read}` has a foot or more of inches after its feet; inches below 12, as in 6' 3\", would do")]
    InchesPastAFoot {
        /// The text.
        read: String,
    },
    /// Broken feet with inches after them.
    #[error("`{read}` has inches after a broken number of feet; whole feet, as in 6' 3\", would do")]
    BrokenFeet {
        /// The text.
        read: String,
    },
    /// Beyond [`Length::LONGEST_READ`] either way.
    #[error("`{read}` is longer than anything in a shop; at most 100 ft (30480 mm) would do")]
    TooLong {
        /// The text.
        read: String,
    },
    /// Not a quarter name.
    #[error("`{read}` is not a nominal thickness; a quarter name such as 4/4, 5/4 or 8/4 would do")]
    NotQuarters {
        /// The text.
        read: String,
    },
}

fn examples(units: Units) -> &'static str {
    match units {
        Units::Inches => "23.5, 23 1/2 or 597 mm",
        Units::Millimetres => "597, 596.9 or 23 1/2 in",
    }
}

impl Length {
    /// The longest length read from text, 100 ft (30480 mm), either side of zero. Areas of anything no longer fit in
    /// 64 bits of square ticks.
    pub const LONGEST_READ: Length = Length::from_inches(1200);

    /// The length a person wrote, to the nearest tick (halves away from zero). A number without a unit is in `units`.
    /// The grammar is in [`length_text`](self). Negative lengths are read: what may be negative is the caller's to say.
    ///
    /// # Errors
    /// [`LengthError`], with what was read and what would do.
    ///
    /// # Example
    /// ```
    /// use flitchwork::measure::{Length, Units};
    /// let rail = Length::parse("2-3/4\"", Units::Millimetres)?;
    /// assert_eq!(rail, Length::from_inch_fraction(11, 4));
    /// assert_eq!(Length::parse("38,1 mm", Units::Inches)?, Length::from_inch_fraction(3, 2));
    /// assert_eq!(
    ///     Length::parse("wide", Units::Inches).unwrap_err().to_string(),
    ///     "`wide` is not a length; 23.5, 23 1/2 or 597 mm would do"
    /// );
    /// # Ok::<(), flitchwork::measure::LengthError>(())
    /// ```
    pub fn parse(text: &str, units: Units) -> Result<Length, LengthError> {
        let text = text.trim();
        if text.is_empty() {
            return Err(LengthError::Empty { units });
        }
        let read = || quoted(text);
        let fault = |fault| match fault {
            Fault::NotALength => LengthError::NotALength { read: read(), units },
            Fault::UnknownUnit(unit) => LengthError::UnknownUnit { read: read(), unit: quoted(&unit) },
            Fault::DividesByZero => LengthError::DividesByZero { read: read() },
            Fault::ImproperFraction => LengthError::ImproperFraction { read: read() },
            Fault::InchesPastAFoot => LengthError::InchesPastAFoot { read: read() },
            Fault::BrokenFeet => LengthError::BrokenFeet { read: read() },
        };
        let tokens = tokens(text).ok_or(Fault::NotALength).map_err(fault)?;
        let millimetres = Reader { tokens: &tokens, at: 0 }.length(units).map_err(fault)?;
        Length::from_rational(&millimetres, Units::Millimetres)
            .filter(|length| -Length::LONGEST_READ <= *length && *length <= Length::LONGEST_READ)
            .ok_or_else(|| LengthError::TooLong { read: read() })
    }

    /// The length a JSON number stands for: its shortest decimal text, taken exactly, to the nearest tick. `None` for
    /// NaN, infinities and what does not fit in 64 bits of ticks. Comes back to the same tick from [`Length::to_f64`]
    /// for anything below 10^12 ticks (12.5 km).
    pub fn from_json_f64(value: f64, units: Units) -> Option<Length> {
        Length::from_rational(&decimal_from_f64(value)?, units)
    }
}

/// The two numbers of a nominal thickness as the trade writes it: `5/4` gives `(5, 4)`, `½` gives `(1, 2)`. Whether
/// there is such a standard thickness is `trade`'s to say.
///
/// # Errors
/// [`LengthError::NotQuarters`] for anything but two positive whole numbers below 65536 with a slash between.
pub fn parse_quarters(text: &str) -> Result<(u16, u16), LengthError> {
    let read_quarters = || {
        let tokens: Vec<Token> = tokens(text.trim())?.into_iter().filter(|token| *token != Token::Gap).collect();
        let (numerator, denominator) = match tokens.as_slice() {
            [Token::Number(numerator), Token::Slash, Token::Number(denominator)] => {
                (whole(numerator)?.to_u16()?, whole(denominator)?.to_u16()?)
            }
            [Token::Vulgar(numerator, denominator)] => (u16::from(*numerator), u16::from(*denominator)),
            _ => return None,
        };
        (numerator > 0 && denominator > 0).then_some((numerator, denominator))
    };
    read_quarters().ok_or_else(|| LengthError::NotQuarters { read: quoted(text.trim()) })
}

/// The text as an error repeats it: shortened when it is long.
fn quoted(text: &str) -> String {
    const KEPT: usize = 40;
    let mut shown = String::new();
    for c in text.chars().take(KEPT) {
        match c {
            // A message is one line, and its own quotation marks are backticks.
            c if c.is_control() => shown.extend(c.escape_default()),
            '`' => shown.push('\''),
            c => shown.push(c),
        }
    }
    if text.chars().nth(KEPT).is_some() {
        shown.push('…');
    }
    shown
}

/// What is wrong with the text, before it is joined to the text itself.
enum Fault {
    NotALength,
    UnknownUnit(String),
    DividesByZero,
    ImproperFraction,
    InchesPastAFoot,
    BrokenFeet,
}

#[derive(Clone, Debug, PartialEq)]
enum Token {
    /// Digits with at most one decimal mark, the mark turned into a point.
    Number(String),
    /// One character that is a whole fraction.
    Vulgar(u8, u8),
    Slash,
    Dash,
    Plus,
    Gap,
    Foot,
    Inch,
    Word(String),
}

/// The text in tokens; `None` when it holds a character that no length has, or is longer than any length.
fn tokens(text: &str) -> Option<Vec<Token>> {
    if text.chars().count() > LONGEST_TEXT {
        return None;
    }
    let mut tokens = Vec::new();
    let mut rest = text.chars().peekable();
    while let Some(&c) = rest.peek() {
        let token = match c {
            '0'..='9' | '.' | ',' => {
                let mut number = String::new();
                while let Some(c) = rest.next_if(|c| c.is_ascii_digit() || matches!(c, '.' | ',')) {
                    number.push(if c == ',' { '.' } else { c });
                }
                if number.ends_with('.') {
                    return None;
                }
                tokens.push(Token::Number(number));
                continue;
            }
            c if c.is_alphabetic() => {
                let mut word = String::new();
                while let Some(c) = rest.next_if(|c| c.is_alphabetic()) {
                    word.extend(c.to_lowercase());
                }
                if word == "in" || word == "ft" {
                    rest.next_if_eq(&'.');
                }
                tokens.push(Token::Word(word));
                continue;
            }
            c if c.is_whitespace() => {
                while rest.next_if(|c| c.is_whitespace()).is_some() {}
                tokens.push(Token::Gap);
                continue;
            }
            '/' | '⁄' | '∕' => Token::Slash,
            '-' | '‐' | '‑' | '–' | '−' => Token::Dash,
            '+' => Token::Plus,
            '"' | '“' | '”' | '„' | '″' => Token::Inch,
            '\'' | '‘' | '’' | '′' => Token::Foot,
            other => {
                let (numerator, denominator) = vulgar(other)?;
                Token::Vulgar(numerator, denominator)
            }
        };
        rest.next();
        if token == Token::Foot && tokens.last() == Some(&Token::Foot) {
            tokens.pop();
            tokens.push(Token::Inch);
        } else {
            tokens.push(token);
        }
    }
    Some(tokens)
}

fn vulgar(c: char) -> Option<(u8, u8)> {
    Some(match c {
        '½' => (1, 2),
        '⅓' => (1, 3),
        '⅔' => (2, 3),
        '¼' => (1, 4),
        '¾' => (3, 4),
        '⅕' => (1, 5),
        '⅖' => (2, 5),
        '⅗' => (3, 5),
        '⅘' => (4, 5),
        '⅙' => (1, 6),
        '⅚' => (5, 6),
        '⅐' => (1, 7),
        '⅛' => (1, 8),
        '⅜' => (3, 8),
        '⅝' => (5, 8),
        '⅞' => (7, 8),
        '⅑' => (1, 9),
        '⅒' => (1, 10),
        _ => return None,
    })
}

/// The value of digits without a decimal mark.
fn whole(number: &str) -> Option<BigInt> {
    if number.contains('.') { None } else { number.parse().ok() }
}

#[derive(Clone, Copy, PartialEq)]
enum Unit {
    Foot,
    Inch,
    Millimetre,
    Centimetre,
    Metre,
}

impl Unit {
    /// What a bare number of the file is in.
    fn of(units: Units) -> Unit {
        match units {
            Units::Inches => Unit::Inch,
            Units::Millimetres => Unit::Millimetre,
        }
    }

    /// Exact millimetres in one.
    fn millimetres(self) -> Rational {
        let (numerator, denominator) = match self {
            Unit::Foot => (3048, 10),
            Unit::Inch => (254, 10),
            Unit::Millimetre => (1, 1),
            Unit::Centimetre => (10, 1),
            Unit::Metre => (1000, 1),
        };
        Rational::new(BigInt::from(numerator), BigInt::from(denominator))
    }
}

/// A walk over the tokens of one text.
struct Reader<'t> {
    tokens: &'t [Token],
    at: usize,
}

impl Reader<'_> {
    /// The whole text, in millimetres.
    fn length(&mut self, units: Units) -> Result<Rational, Fault> {
        let negative = self.take(&Token::Dash);
        if !negative {
            self.take(&Token::Plus);
        }
        self.take(&Token::Gap);
        let first = self.number()?;
        self.take(&Token::Gap);
        let unit = self.unit()?;
        let mut size = &first * unit.unwrap_or(Unit::of(units)).millimetres();
        self.take(&Token::Gap);
        if unit == Some(Unit::Foot) && !self.at_end() {
            if !first.is_integer() {
                return Err(Fault::BrokenFeet);
            }
            size += self.inches_after_feet()?;
        }
        if !self.at_end() {
            return Err(Fault::NotALength);
        }
        Ok(if negative { -size } else { size })
    }

    /// `[ "-" ] number [ inch ]`, in millimetres.
    fn inches_after_feet(&mut self) -> Result<Rational, Fault> {
        if self.take(&Token::Dash) {
            self.take(&Token::Gap);
        }
        let inches = self.number()?;
        self.take(&Token::Gap);
        if !matches!(self.unit()?, None | Some(Unit::Inch)) {
            return Err(Fault::NotALength);
        }
        if inches >= Rational::from_integer(BigInt::from(12)) {
            return Err(Fault::InchesPastAFoot);
        }
        Ok(inches * Unit::Inch.millimetres())
    }

    /// A decimal, a fraction, or a whole number with a fraction after it.
    fn number(&mut self) -> Result<Rational, Fault> {
        if let Some(fraction) = self.fraction()? {
            return Ok(fraction);
        }
        let Some(Token::Number(number)) = self.tokens.get(self.at) else {
            return Err(Fault::NotALength);
        };
        let value = decimal_from_text(number).ok_or(Fault::NotALength)?;
        self.at += 1;
        if whole(number).is_none() {
            return Ok(value);
        }
        let after_whole = self.at;
        if matches!(self.tokens.get(self.at), Some(Token::Gap | Token::Dash)) {
            self.at += 1;
        }
        match self.fraction()? {
            Some(fraction) if fraction >= Rational::one() => Err(Fault::ImproperFraction),
            Some(fraction) => Ok(value + fraction),
            None => {
                self.at = after_whole;
                Ok(value)
            }
        }
    }

    /// `digits "/" digits` or a character that is a fraction; `None`, and no step, when neither stands here.
    fn fraction(&mut self) -> Result<Option<Rational>, Fault> {
        match &self.tokens[self.at..] {
            [Token::Vulgar(numerator, denominator), ..] => {
                self.at += 1;
                Ok(Some(Rational::new(BigInt::from(*numerator), BigInt::from(*denominator))))
            }
            [Token::Number(numerator), Token::Slash, Token::Number(denominator), ..] => {
                let numerator = whole(numerator).ok_or(Fault::NotALength)?;
                let denominator = whole(denominator).ok_or(Fault::NotALength)?;
                if denominator.is_zero() {
                    return Err(Fault::DividesByZero);
                }
                self.at += 3;
                Ok(Some(Rational::new(numerator, denominator)))
            }
            _ => Ok(None),
        }
    }

    /// The unit that stands here, if one does.
    fn unit(&mut self) -> Result<Option<Unit>, Fault> {
        let unit = match self.tokens.get(self.at) {
            Some(Token::Foot) => Unit::Foot,
            Some(Token::Inch) => Unit::Inch,
            Some(Token::Word(word)) => match word.as_str() {
                "in" | "inch" | "inches" => Unit::Inch,
                "ft" | "foot" | "feet" => Unit::Foot,
                "mm" => Unit::Millimetre,
                "cm" => Unit::Centimetre,
                "m" => Unit::Metre,
                other => return Err(Fault::UnknownUnit(other.to_owned())),
            },
            _ => return Ok(None),
        };
        self.at += 1;
        Ok(Some(unit))
    }

    fn take(&mut self, token: &Token) -> bool {
        let here = self.tokens.get(self.at) == Some(token);
        self.at += usize::from(here);
        here
    }

    fn at_end(&self) -> bool {
        self.at == self.tokens.len()
    }
}
