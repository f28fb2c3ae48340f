//! How two versions of a text differ, line by line.

/// A line of a difference.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum DiffLine {
    /// In both.
    Same(String),
    /// Only before.
    Gone(String),
    /// Only now.
    New(String),
}

/// Lines that differ, each stretch with a line of what surrounds it (longest common subsequence between the common
/// start and the common end).
pub fn difference(before: &str, after: &str) -> Vec<DiffLine> {
    let (old, new): (Vec<&str>, Vec<&str>) = (before.lines().collect(), after.lines().collect());
    let start = old.iter().zip(&new).take_while(|(a, b)| a == b).count();
    let most = old.len().min(new.len()) - start;
    let end = (0..most)
        .take_while(|k| old[old.len() - 1 - k] == new[new.len() - 1 - k])
        .count();
    let (a, b) = (&old[start..old.len() - end], &new[start..new.len() - end]);
    let mut lines = Vec::new();
    if a.is_empty() && b.is_empty() {
        return lines;
    }
    if start > 0 {
        lines.push(DiffLine::Same(old[start - 1].to_owned()));
    }
    // Beyond this a table of lengths would be too large; the stretch is told as gone and new.
    if a.len() * b.len() > 4_000_000 {
        lines.extend(a.iter().map(|line| DiffLine::Gone((*line).to_owned())));
        lines.extend(b.iter().map(|line| DiffLine::New((*line).to_owned())));
        return lines;
    }
    let mut lengths = vec![vec![0_u32; b.len() + 1]; a.len() + 1];
    for i in (0..a.len()).rev() {
        for j in (0..b.len()).rev() {
            lengths[i][j] = if a[i] == b[j] {
                lengths[i + 1][j + 1] + 1
            } else {
                lengths[i + 1][j].max(lengths[i][j + 1])
            };
        }
    }
    let (mut i, mut j) = (0, 0);
    while i < a.len() || j < b.len() {
        if i < a.len() && j < b.len() && a[i] == b[j] {
            lines.push(DiffLine::Same(a[i].to_owned()));
            i += 1;
            j += 1;
        } else if j >= b.len() || (i < a.len() && lengths[i + 1][j] >= lengths[i][j + 1]) {
            lines.push(DiffLine::Gone(a[i].to_owned()));
            i += 1;
        } else {
            lines.push(DiffLine::New(b[j].to_owned()));
            j += 1;
        }
    }
    if end > 0 {
        lines.push(DiffLine::Same(new[new.len() - end].to_owned()));
    }
    lines
}

/// Only the lines that differ, marked as they are printed: `- ` what goes, `+ ` what comes.
pub fn printed(before: &str, after: &str) -> Vec<String> {
    let lines = difference(before, after).into_iter();
    lines
        .filter_map(|line| match line {
            DiffLine::Same(_) => None,
            DiffLine::Gone(line) => Some(format!("- {line}")),
            DiffLine::New(line) => Some(format!("+ {line}")),
        })
        .collect()
}
