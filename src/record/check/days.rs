//! Days: well written, not in the future, in an order that can be.

use jiff::civil::Date;

use super::Check;
use crate::record::dates::{day, span};

impl Check<'_> {
    pub(super) fn days(&mut self) {
        let record = self.record;
        let inspected = self.day("job.date", &record.job.date);
        if let (Some(inspected), Some(today)) = (inspected, self.today)
            && inspected > today
        {
            self.error(
                "future-date",
                "job.date",
                format!("the inspection is dated {inspected}, which is still to come"),
                "write the day of the inspection as `YYYY-MM-DD`",
            );
        }
        let mut placed = None;
        if let Some(text) = &record.slab.placed
            && !crate::units::is_unknown(text)
            && !self.is_broken("slab.placed")
        {
            placed = span(text);
            match (placed, inspected) {
                (None, _) => self.error(
                    "date",
                    "slab.placed",
                    format!("`{}` is no day, month or year", text.trim()),
                    "write `2011`, `2011-06` or `2011-06-17`; leave the line out if nobody knows",
                ),
                (Some((first, _)), Some(inspected)) if first > inspected => self.error(
                    "date",
                    "slab.placed",
                    format!(
                        "the slab was placed in {}, after its inspection on {inspected}",
                        text.trim()
                    ),
                    "check both dates",
                ),
                _ => {}
            }
        }
        for (a, area) in record.areas.iter().enumerate() {
            for (d, defect) in area.defects.iter().enumerate() {
                for (r, reading) in defect.readings.iter().enumerate() {
                    let path = format!("areas.{a}.defects.{d}.readings.{r}.date");
                    self.reading_day(&path, &reading.date, inspected, placed);
                }
            }
            for (l, reading) in area.tests.levels.iter().enumerate() {
                self.reading_day(
                    &format!("areas.{a}.tests.levels.{l}.date"),
                    &reading.date,
                    inspected,
                    placed,
                );
            }
        }
    }

    fn day(&mut self, path: &str, text: &str) -> Option<Date> {
        if self.is_broken(path) {
            return None;
        }
        let found = day(text);
        if found.is_none() {
            self.error(
                "date",
                path,
                format!("`{}` is no day", text.trim()),
                date_hint(text),
            );
        }
        found
    }

    fn reading_day(
        &mut self,
        path: &str,
        text: &str,
        inspected: Option<Date>,
        placed: Option<(Date, Date)>,
    ) {
        let Some(read) = self.day(path, text) else {
            return;
        };
        if let Some(inspected) = inspected
            && read > inspected
        {
            self.error(
                "date",
                path,
                format!("this was read on {read}, after the inspection on {inspected}"),
                "give the record the date of its last reading",
            );
        } else if let Some((first, _)) = placed
            && read < first
        {
            self.error(
                "date",
                path,
                format!("this was read on {read}, before the slab was placed"),
                "check both dates",
            );
        }
    }
}

/// The day meant, when it can only be one.
fn date_hint(text: &str) -> String {
    let parts: Vec<&str> = text
        .trim()
        .split(['-', '/', '.', ' '])
        .filter(|p| !p.is_empty())
        .collect();
    if let [year, month, last] = parts.as_slice()
        && year.len() == 4
        && let (Ok(month), Ok(last)) = (month.parse::<u8>(), last.parse::<u8>())
    {
        let meant = format!("{year}-{month:02}-{last:02}");
        if day(&meant).is_some() {
            return format!("write `{meant}`");
        }
        return "there is no such day in the calendar; days are written `YYYY-MM-DD`".to_owned();
    }
    "write it as `YYYY-MM-DD`, for example `2026-05-14`".to_owned()
}
