//! Dates, for people to read.

use std::path::Path;
use std::time::UNIX_EPOCH;

const DAY: u64 = 86_400;

/// The date a file was last written.
pub(super) fn file_date(path: &Path) -> Option<String> {
    let written = std::fs::metadata(path).ok()?.modified().ok()?;
    let days = written.duration_since(UNIX_EPOCH).ok()?.as_secs() / DAY;
    Some(date(days))
}

/// A moment, in seconds since 1970: `2026-11-25 18:30:00 UTC`.
pub(super) fn moment(seconds: u64) -> String {
    let of_day = seconds % DAY;
    let (hour, minute, second) = (of_day / 3600, of_day / 60 % 60, of_day % 60);
    format!(
        "{} {hour:02}:{minute:02}:{second:02} UTC",
        date(seconds / DAY)
    )
}

/// The date so many days after 1970-01-01. Years are counted from March, so that the day that is not
/// in every year is the last (common practice, as in H. Hinnant's note on chrono calendars).
fn date(days: u64) -> String {
    let days = days + 719_468;
    let (era, day) = (days / 146_097, days % 146_097);
    let year = (day - day / 1460 + day / 36_524 - day / 146_096) / 365;
    let day = day - (365 * year + year / 4 - year / 100);
    let month = (5 * day + 2) / 153;
    let date = day - (153 * month + 2) / 5 + 1;
    let (month, next) = if month < 10 {
        (month + 3, 0)
    } else {
        (month - 9, 1)
    };
    format!("{:04}-{month:02}-{date:02}", era * 400 + year + next)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_are_those_of_the_calendar() {
        // From `date -u -d @SECONDS`.
        for (days, wanted) in [
            (0, "1970-01-01"),
            (11_016, "2000-02-29"),
            (20_782, "2026-11-25"),
        ] {
            assert_eq!(date(days), wanted);
        }
        // From `date -u -d @1795847153`.
        assert_eq!(moment(1_795_847_153), "2026-11-28 06:25:53 UTC");
    }
}
