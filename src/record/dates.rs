//! Days as they stand in a record.

use jiff::civil::Date;

/// A day written `YYYY-MM-DD`. `None` for anything else.
///
/// ```
/// use ringtrue::record::dates::day;
/// assert!(day("2026-05-14").is_some());
/// assert!(day("2026-02-30").is_none());
/// assert!(day("14 May 2026").is_none());
/// ```
pub fn day(text: &str) -> Option<Date> {
    let text = text.trim();
    let mut parts = text.split('-');
    let (year, month, day) = (parts.next()?, parts.next()?, parts.next()?);
    let digits = |part: &str, n: usize| part.len() == n && part.bytes().all(|b| b.is_ascii_digit());
    if parts.next().is_some() || !digits(year, 4) || !digits(month, 2) || !digits(day, 2) {
        return None;
    }
    Date::new(year.parse().ok()?, month.parse().ok()?, day.parse().ok()?).ok()
}

/// The first and last day that `YYYY`, `YYYY-MM` or `YYYY-MM-DD` can mean.
///
/// ```
/// use jiff::civil::date;
/// use ringtrue::record::dates::span;
/// assert_eq!(span("2011"), Some((date(2011, 1, 1), date(2011, 12, 31))));
/// assert_eq!(span("2012-02"), Some((date(2012, 2, 1), date(2012, 2, 29))));
/// ```
pub fn span(text: &str) -> Option<(Date, Date)> {
    let text = text.trim();
    match text.len() {
        4 => Some((
            day(&format!("{text}-01-01"))?,
            day(&format!("{text}-12-31"))?,
        )),
        7 => {
            let first = day(&format!("{text}-01"))?;
            Some((first, first.last_of_month()))
        }
        _ => day(text).map(|d| (d, d)),
    }
}
