//! The nearest known name to one that nobody knows.

/// Names looked at. A job has some dozens; a file that is no job may hold thousands, all of them unknown.
const MOST_NAMES: usize = 500;

/// The known name that is fewest slips away, if it is near enough to be meant.
///
/// A slip is a letter too many, too few, wrong, or two neighbours swapped. Near enough is a third of the
/// letters, at least one but for names of one letter; case does not count as a slip unless nothing else differs.
pub fn nearest<'a>(asked: &str, known: impl IntoIterator<Item = &'a str>) -> Option<String> {
    let wanted: Vec<char> = asked.to_lowercase().chars().collect();
    let allowed = match wanted.len() {
        0 | 1 => 0,
        2..=5 => 1,
        letters => letters / 3,
    };
    known
        .into_iter()
        .filter(|name| *name != asked)
        .take(MOST_NAMES)
        .filter(|name| name.chars().count().abs_diff(wanted.len()) <= allowed)
        .map(|name| {
            let letters: Vec<char> = name.to_lowercase().chars().collect();
            (slips(&wanted, &letters), name)
        })
        .filter(|(count, _)| *count <= allowed)
        .min_by_key(|(count, _)| *count)
        .map(|(_, name)| name.to_owned())
}

/// Restricted edit distance: insertions, deletions, substitutions and swaps of neighbours.
fn slips(a: &[char], b: &[char]) -> usize {
    let mut before_last: Vec<usize> = Vec::new();
    let mut last: Vec<usize> = (0..=b.len()).collect();
    for (i, &from) in a.iter().enumerate() {
        let mut row = vec![i + 1];
        for (j, &to) in b.iter().enumerate() {
            let substituted = last[j] + usize::from(from != to);
            let mut best = substituted.min(last[j + 1] + 1).min(row[j] + 1);
            let swapped = i > 0 && j > 0 && from == b[j - 1] && a[i - 1] == to;
            if swapped {
                best = best.min(before_last[j - 1] + 1);
            }
            row.push(best);
        }
        before_last = std::mem::replace(&mut last, row);
    }
    last[b.len()]
}

#[cfg(test)]
mod tests {
    use super::nearest;

    #[test]
    fn finds_what_was_meant() {
        assert_eq!(nearest("vlaue", ["esr", "value"]), Some("value".to_owned()));
        assert_eq!(
            nearest("heatr", ["raw", "heater"]),
            Some("heater".to_owned())
        );
        assert_eq!(nearest("Raw", ["raw"]), Some("raw".to_owned()));
    }

    #[test]
    fn stays_silent_where_nothing_is_near() {
        assert_eq!(nearest("oven", ["raw", "heater"]), None);
        assert_eq!(nearest("", ["raw"]), None);
    }

    #[test]
    fn a_swap_is_one_slip() {
        let letters = |word: &str| word.chars().collect::<Vec<_>>();
        assert_eq!(super::slips(&letters("esr"), &letters("ers")), 1);
        assert_eq!(super::slips(&letters("common"), &letters("comon")), 1);
        assert_eq!(super::slips(&letters(""), &letters("abc")), 3);
    }
}
