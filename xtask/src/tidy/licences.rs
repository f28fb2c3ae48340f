//! The licence of every package that is built: one that lets users do with the binary what ours does.

use super::Fault;
use super::metadata::Crates;

/// SPDX identifiers that ask for no more than a notice.
const ALLOWED: [&str; 8] = [
    "Apache-2.0",
    "Apache-2.0 WITH LLVM-exception",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "ISC",
    "MIT",
    "Unicode-3.0",
    "Zlib",
];

pub(super) fn check(crates: &Crates) -> Vec<Fault> {
    crates
        .packages
        .values()
        .filter_map(|package| {
            let what = match &package.licence {
                None => "names no licence".to_owned(),
                Some(licence) if is_allowed(licence) => return None,
                Some(licence) => {
                    format!("{licence}: not on the list of xtask/src/tidy/licences.rs")
                }
            };
            Some(Fault::whole(&package.name, what))
        })
        .collect()
}

/// Whether an SPDX expression leaves a choice that is on the list. `/` is the old way to write OR.
fn is_allowed(expression: &str) -> bool {
    let spaced = expression
        .replace('/', " OR ")
        .replace('(', " ( ")
        .replace(')', " ) ");
    let words: Vec<&str> = spaced.split_whitespace().collect();
    let mut rest = words.as_slice();
    any_of(&mut rest) == Some(true) && rest.is_empty()
}

/// `A OR B OR …`; `None` where the expression is not well formed.
fn any_of(words: &mut &[&str]) -> Option<bool> {
    let mut allowed = all_of(words)?;
    while take(words, "OR") {
        allowed |= all_of(words)?;
    }
    Some(allowed)
}

/// `A AND B AND …`
fn all_of(words: &mut &[&str]) -> Option<bool> {
    let mut allowed = one(words)?;
    while take(words, "AND") {
        allowed &= one(words)?;
    }
    Some(allowed)
}

/// A licence, with its exception if there is one, or an expression in parentheses.
fn one(words: &mut &[&str]) -> Option<bool> {
    if take(words, "(") {
        let inside = any_of(words)?;
        return take(words, ")").then_some(inside);
    }
    let (name, rest) = words.split_first()?;
    *words = rest;
    if ["OR", "AND", "WITH", ")"].contains(name) {
        return None;
    }
    let mut licence = (*name).to_owned();
    if take(words, "WITH") {
        let (exception, rest) = words.split_first()?;
        *words = rest;
        licence = format!("{name} WITH {exception}");
    }
    Some(ALLOWED.contains(&licence.as_str()))
}

fn take(words: &mut &[&str], wanted: &str) -> bool {
    match words.split_first() {
        Some((first, rest)) if *first == wanted => {
            *words = rest;
            true
        }
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::{check, is_allowed};
    use crate::tidy::metadata::Crates;

    #[test]
    fn expressions_are_read_as_spdx_means_them() {
        for allowed in [
            "MIT",
            "MIT/Apache-2.0",
            "Apache-2.0 / MIT",
            "Unlicense OR MIT",
            "(MIT OR Apache-2.0) AND Unicode-3.0",
            "Apache-2.0 WITH LLVM-exception OR GPL-3.0-only",
            "GPL-3.0-only AND ISC OR MIT",
        ] {
            assert!(is_allowed(allowed), "{allowed}");
        }
        for refused in [
            "GPL-3.0-only",
            "MIT AND GPL-3.0-only",
            "MIT AND (GPL-3.0-only OR MPL-2.0)",
            "MIT WITH some-exception",
            "MIT OR",
            "(MIT",
            "MIT Apache-2.0",
            "",
        ] {
            assert!(!is_allowed(refused), "{refused}");
        }
    }

    #[test]
    fn a_package_without_a_licence_is_named() {
        let said = check(&Crates::of(1, &[("lone", &[])]));
        assert_eq!(said[0].to_string(), "lone: names no licence");
    }
}
