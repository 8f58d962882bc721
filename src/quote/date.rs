//! Days of the calendar, as quotes are dated: read, written, counted on.
//!
//! Counting leap years is left to `humantime`; a day here is a day of 24 hours in UTC.

use std::fmt;
use std::str::FromStr;
use std::time::{Duration, SystemTime};

/// A day.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Date(SystemTime);

/// Why there is no such day.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum DateError {
    #[error("\"{0}\" is no date; write the year, month and day, such as 2026-03-31")]
    Form(String),
    #[error("the offer would stand beyond the year 9999; shorten `validity_days`")]
    TooLate,
}

const DAY: u64 = 24 * 60 * 60;

impl Date {
    /// Today, in UTC.
    pub fn today() -> Date {
        Date(SystemTime::now())
    }

    /// The day so many days later.
    ///
    /// # Errors
    /// [`DateError::TooLate`] beyond the year 9999.
    pub fn after(self, days: u32) -> Result<Date, DateError> {
        let last = Date::from_str("9999-12-31")?;
        let day = self.0.checked_add(Duration::from_secs(DAY * u64::from(days))).map(Date);
        day.filter(|day| *day <= last).ok_or(DateError::TooLate)
    }
}

const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

impl Date {
    /// `31 March 2026`: no reader takes the day for the month.
    pub fn in_words(self) -> String {
        let iso = self.to_string();
        let mut parts = iso.split('-');
        let (year, month, day) = (parts.next(), parts.next(), parts.next());
        let month = month.and_then(|month| month.parse::<usize>().ok()).and_then(|month| MONTHS.get(month - 1));
        match (year, month, day) {
            (Some(year), Some(month), Some(day)) => format!("{} {month} {year}", day.trim_start_matches('0')),
            _ => iso,
        }
    }
}

impl FromStr for Date {
    type Err = DateError;

    /// ```
    /// use flitchwork::quote::Date;
    /// let day: Date = "2028-02-28".parse()?;
    /// assert_eq!(day.after(2)?.to_string(), "2028-03-01");
    /// assert!("2027-02-29".parse::<Date>().is_err());
    /// # Ok::<(), flitchwork::quote::DateError>(())
    /// ```
    fn from_str(text: &str) -> Result<Date, DateError> {
        let form = || DateError::Form(text.chars().take(40).collect());
        let shape = text.len() == 10 && text.bytes().all(|b| b.is_ascii_digit() || b == b'-');
        let read = shape.then(|| humantime::parse_rfc3339(&format!("{text}T00:00:00Z")).ok()).flatten();
        let date = read.map(Date).ok_or_else(form)?;
        // A day that the calendar does not have would come back as another.
        if date.to_string() == text { Ok(date) } else { Err(form()) }
    }
}

/// `2026-03-31` (ISO 8601).
impl fmt::Display for Date {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let time = humantime::format_rfc3339_seconds(self.0).to_string();
        f.write_str(time.split('T').next().unwrap_or_default())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rstest::rstest;

    #[rstest]
    #[case("2026-02-29")]
    #[case("2026-13-01")]
    #[case("2026-1-1")]
    #[case("26-01-01")]
    #[case("tomorrow")]
    #[case("2026-04-31")]
    #[case("")]
    fn what_is_no_day_is_refused(#[case] text: &str) {
        assert_eq!(text.parse::<Date>(), Err(DateError::Form(text.to_owned())));
    }

    #[rstest]
    #[case("2026-03-02", "2 March 2026")]
    #[case("2026-12-31", "31 December 2026")]
    #[case("2028-01-30", "30 January 2028")]
    fn a_day_reads_in_words(#[case] text: &str, #[case] words: &str) {
        assert_eq!(text.parse::<Date>().unwrap().in_words(), words);
    }

    #[test]
    fn an_offer_may_not_stand_beyond_the_calendar() {
        let late: Date = "9999-12-30".parse().unwrap();
        assert_eq!(late.after(1).unwrap().to_string(), "9999-12-31");
        assert_eq!(late.after(2), Err(DateError::TooLate));
    }
}
