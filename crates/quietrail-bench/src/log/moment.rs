//! Moments as the log writes them.

/// Seconds since 1970 of a moment as RFC 3339 writes it; `None` for any other text.
pub fn moment(text: &str) -> Option<f64> {
    let (date, rest) = text.trim().split_once(['T', 't', ' '])?;
    let mut date = date.splitn(3, '-').map(str::parse::<i64>);
    let (year, month, day) = (date.next()?.ok()?, date.next()?.ok()?, date.next()?.ok()?);
    let is_date =
        (1..=12).contains(&month) && (1..=31).contains(&day) && (1..=9999).contains(&year);
    if !is_date {
        return None;
    }
    let (clock, shift) = match rest.find(['Z', 'z', '+', '-']) {
        Some(at) => (&rest[..at], offset(&rest[at..])?),
        // Without a zone it is taken as all others of the file.
        None => (rest, 0.0),
    };
    let mut clock = clock.splitn(3, ':').map(str::parse::<f64>);
    let (hour, minute) = (clock.next()?.ok()?, clock.next()?.ok()?);
    let second = clock.next().transpose().ok()?.unwrap_or(0.0);
    // Days from the first of March of a year that 400 divides, so that a leap day is the last of its year.
    let (year, month) = if month > 2 {
        (year, month - 3)
    } else {
        (year - 1, month + 9)
    };
    let days = 365 * year + year.div_euclid(4) - year.div_euclid(100)
        + year.div_euclid(400)
        + (153 * month + 2) / 5
        + day
        - 719_469;
    Some(days as f64 * 86_400.0 + hour * 3600.0 + minute * 60.0 + second - shift)
}

/// Seconds east of Greenwich.
fn offset(zone: &str) -> Option<f64> {
    if zone.eq_ignore_ascii_case("z") {
        return Some(0.0);
    }
    let (sign, rest) = zone.split_at(1);
    let (hours, minutes) = rest.split_once(':').unwrap_or((rest, "0"));
    let seconds = 3600.0 * hours.parse::<f64>().ok()? + 60.0 * minutes.parse::<f64>().ok()?;
    Some(if sign == "-" { -seconds } else { seconds })
}

#[cfg(test)]
mod tests {
    use super::moment;

    #[test]
    fn dates_become_seconds() {
        // As `date -u -d TEXT +%s` gives them.
        assert_eq!(moment("1970-01-01T00:00:00Z"), Some(0.0));
        assert_eq!(moment("2000-02-29T00:00:00Z"), Some(951_782_400.0));
        assert_eq!(moment("2025-12-31T23:59:59Z"), Some(1_767_225_599.0));
        assert_eq!(moment("2026-11-20T10:30:00+01:00"), Some(1_795_167_000.0));
        for text in [
            "",
            "yesterday",
            "2026-13-01T00:00:00Z",
            "2026-11-20",
            "2026-11-20Tx",
        ] {
            assert_eq!(moment(text), None, "{text}");
        }
    }
}
