//! Edits of the job's text.
//!
//! Input: a line with an address, a line with its new value, then the job.

use crate::job::check_reading;
use quietrail_job::{EditError, read, set_value};
use toml_parser::Source;
use toml_parser::lexer::TokenKind;

/// Makes the edit and checks what became of the text.
///
/// # Panics
/// The editor keeps one of its promises not.
pub fn check(input: &[u8]) {
    let Ok(text) = std::str::from_utf8(input) else {
        return;
    };
    let Some((address, rest)) = text.split_once('\n') else {
        return;
    };
    let Some((value, before)) = rest.split_once('\n') else {
        return;
    };
    let after = match set_value(before, address, value) {
        Ok(after) => after,
        Err(error) => return check_error(&error, address),
    };
    assert_eq!(
        comments(before),
        comments(&after),
        "comments of\n{before}\nand of\n{after}"
    );
    check_lines(before, &after);
    check_line_ends(before, &after);
    let again = set_value(&after, address, value);
    assert_eq!(
        again.as_ref(),
        Ok(&after),
        "the same edit once more changes nothing"
    );
    check_reading(&read(&after, None), &after, None);
}

fn check_error(error: &EditError, asked: &str) {
    assert!(!error.to_string().is_empty(), "{error:?}");
    match error {
        EditError::NotToml { said } => assert!(!said.is_empty()),
        EditError::UnknownAddress { address, .. }
        | EditError::Computed { address, .. }
        | EditError::NotOneValue { address } => assert_eq!(address, asked),
    }
}

/// All comments, in their order.
pub(crate) fn comments(text: &str) -> Vec<&str> {
    Source::new(text)
        .lex()
        .filter(|token| token.kind() == TokenKind::Comment)
        .filter_map(|token| text.get(token.span().start()..token.span().end()))
        .collect()
}

/// All that differs is in one place, and there at most one line is gone. Only a text in three quotation marks
/// goes over several.
fn check_lines(before: &str, after: &str) {
    let old: Vec<&str> = before.lines().collect();
    let new: Vec<&str> = after.lines().collect();
    let start = old.iter().zip(&new).take_while(|(a, b)| a == b).count();
    let ends = old[start..].iter().rev().zip(new[start..].iter().rev());
    let end = ends.take_while(|(a, b)| a == b).count();
    let gone = &old[start..old.len() - end];
    let in_one_value = ["\"\"\"", "'''"]
        .iter()
        .any(|mark| gone.first().is_some_and(|line| line.contains(mark)));
    assert!(
        gone.len() <= 1 || in_one_value,
        "changed more than one line: {gone:?}\n{before}\nbecame\n{after}"
    );
}

fn check_line_ends(before: &str, after: &str) {
    let all_crlf = |text: &str| text.matches('\n').count() == text.matches("\r\n").count();
    if before.contains('\n') && all_crlf(before) {
        assert!(all_crlf(after), "a line end without its CR:\n{after:?}");
    }
    assert_eq!(
        before.starts_with('\u{feff}'),
        after.starts_with('\u{feff}'),
        "the byte order mark"
    );
}
