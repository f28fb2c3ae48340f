//! Reads joins of windings: `P1 + P2` in series, `P1 | P2` side by side, `(A | B) + C`, and `-S2` turned
//! round.
//!
//! Series and parallel are never mixed without parentheses: `A | B + C` could be wired in two ways.

use crate::model::{JoinTerm, Span};

/// Why a text is not a join.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct JoinError {
    /// The bytes at fault.
    pub(crate) at: Span,
    /// One sentence.
    pub(crate) said: String,
}

/// Deepest nesting of parentheses. Real transformers need two or three.
const DEEPEST: usize = 16;

/// A winding that a join names, and where.
pub(crate) type Named = (String, Span);

/// Reads a join; also gives each winding that it names, with its place in the text.
pub(crate) fn read(text: &str) -> Result<(JoinTerm, Vec<Named>), JoinError> {
    let mut reader = Reader {
        text,
        at: 0,
        named: Vec::new(),
    };
    let term = reader.chain(0)?;
    reader.skip_blanks();
    if reader.at < text.len() {
        let found = &text[reader.at..];
        let turned = match found.strip_prefix('-') {
            Some(winding) => format!(": turned round in series it is `+ -{}`", winding.trim()),
            None => String::new(),
        };
        return Err(JoinError {
            at: reader.at..text.len(),
            said: format!("read {found} where + or | or the end is wanted{turned}"),
        });
    }
    Ok((term, reader.named))
}

struct Reader<'a> {
    text: &'a str,
    at: usize,
    named: Vec<Named>,
}

impl Reader<'_> {
    /// Terms joined by one sign.
    fn chain(&mut self, depth: usize) -> Result<JoinTerm, JoinError> {
        let first = self.term(depth)?;
        let mut terms = vec![first];
        let mut sign = None;
        while let Some(next @ ('+' | '|')) = self.peek() {
            let at = self.at..self.at + 1;
            if sign.is_some_and(|sign| sign != next) {
                let said =
                    "+ and | stand side by side: parentheses must say which comes first".to_owned();
                return Err(JoinError { at, said });
            }
            sign = Some(next);
            self.at += 1;
            terms.push(self.term(depth)?);
        }
        Ok(match sign {
            Some('+') => JoinTerm::Series(terms),
            Some(_) => JoinTerm::Parallel(terms),
            None => terms.swap_remove(0),
        })
    }

    /// A winding, a winding turned round, or a chain in parentheses.
    fn term(&mut self, depth: usize) -> Result<JoinTerm, JoinError> {
        match self.peek() {
            Some('(') => self.parenthesis(depth),
            Some('-') | Some('−') => {
                self.at += self.peek().map_or(0, char::len_utf8);
                let name = self.name()?;
                Ok(JoinTerm::Winding {
                    name,
                    reversed: true,
                })
            }
            _ => Ok(JoinTerm::Winding {
                name: self.name()?,
                reversed: false,
            }),
        }
    }

    fn parenthesis(&mut self, depth: usize) -> Result<JoinTerm, JoinError> {
        let opened = self.at;
        if depth == DEEPEST {
            let said = format!("parentheses are nested more than {DEEPEST} deep");
            return Err(JoinError {
                at: opened..opened + 1,
                said,
            });
        }
        self.at += 1;
        let inner = self.chain(depth + 1)?;
        if self.peek() != Some(')') {
            let said = "this parenthesis is not closed".to_owned();
            return Err(JoinError {
                at: opened..opened + 1,
                said,
            });
        }
        self.at += 1;
        Ok(inner)
    }

    fn name(&mut self) -> Result<String, JoinError> {
        self.skip_blanks();
        let rest = &self.text[self.at..];
        let end = rest.find(|c: char| !is_of_name(c)).unwrap_or(rest.len());
        if end == 0 {
            let (length, found) = match rest.chars().next() {
                Some(found) => (found.len_utf8(), format!("read {found}")),
                None => (0, "the text ends".to_owned()),
            };
            let said = format!("{found} where a winding is wanted, for instance S1 + S2");
            return Err(JoinError {
                at: self.at..self.at + length,
                said,
            });
        }
        let name = rest[..end].to_owned();
        self.named.push((name.clone(), self.at..self.at + end));
        self.at += end;
        Ok(name)
    }

    fn peek(&mut self) -> Option<char> {
        self.skip_blanks();
        self.text[self.at..].chars().next()
    }

    fn skip_blanks(&mut self) {
        let rest = &self.text[self.at..];
        self.at += rest.len() - rest.trim_start().len();
    }
}

/// Letters, digits and the underscore. A minus turns a winding round, so it cannot be in its name.
pub(crate) fn is_of_name(c: char) -> bool {
    c.is_alphanumeric() || c == '_'
}

#[cfg(test)]
mod tests {
    use super::read;
    use crate::model::JoinTerm;

    fn winding(name: &str, reversed: bool) -> JoinTerm {
        JoinTerm::Winding {
            name: name.to_owned(),
            reversed,
        }
    }

    #[test]
    fn reads_series_parallel_parentheses_and_minus() {
        let term = |text| read(text).expect("a join").0;
        assert_eq!(term("S1"), winding("S1", false));
        assert_eq!(
            term("S1 + -S2"),
            JoinTerm::Series(vec![winding("S1", false), winding("S2", true)])
        );
        let inner = JoinTerm::Parallel(vec![winding("A", false), winding("B", false)]);
        assert_eq!(
            term("(A | B) + C"),
            JoinTerm::Series(vec![inner, winding("C", false)])
        );
    }

    #[test]
    fn says_where_it_stumbles() {
        let error = |text| read(text).expect_err("no join");
        assert_eq!(error("A | B + C").at, 6..7);
        assert_eq!(error("(A + B").at, 0..1);
        assert_eq!(error("A +").at, 3..3);
        assert_eq!(error("A & B").at, 2..5);
        assert_eq!(error("").at, 0..0);
        assert!(read(&"(".repeat(100_000)).is_err());
    }
}
