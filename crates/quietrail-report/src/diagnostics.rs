//! What is wrong with a job, drawn under the lines it is about.

use annotate_snippets::{AnnotationKind, Group, Level, Origin, Renderer, Snippet};
use quietrail_job::model::Span;
use quietrail_job::{Diagnostic, FileId, Severity};
use serde_json::{Value, json};

use crate::verdicts::printable;
use crate::{Style, json::FORMAT, words};

/// All diagnostics as text for a terminal: the line, the mark under the span, labels and help, and a
/// last line that counts. Empty where nothing is wrong.
///
/// A diagnostic about something that the text does not hold (empty span), or about a file whose text
/// is not given, names the file without a line.
pub fn render(
    diagnostics: &[Diagnostic],
    job_text: &str,
    parts_text: Option<&str>,
    job_path: &str,
    parts_path: &str,
    style: Style,
) -> String {
    if diagnostics.is_empty() {
        return String::new();
    }
    let renderer = if style.color {
        Renderer::styled()
    } else {
        Renderer::plain()
    };
    let renderer = renderer.term_width(style.columns());
    let mut out = String::new();
    for diagnostic in diagnostics {
        let (text, path) = match diagnostic.file {
            FileId::Job => (Some(job_text), job_path),
            FileId::Parts => (parts_text, parts_path),
        };
        out.push_str(&renderer.render(&[group(diagnostic, text, path)]));
        out.push_str("\n\n");
    }
    let errors = diagnostics
        .iter()
        .filter(|d| d.severity == Severity::Error)
        .count();
    out.push_str(&words::diagnostics_count(
        errors,
        diagnostics.len() - errors,
    ));
    out.push('\n');
    out
}

/// The same as data: spans in bytes, lines and columns from 1, columns in characters.
pub fn to_json(
    diagnostics: &[Diagnostic],
    job_text: &str,
    parts_text: Option<&str>,
    job_path: &str,
    parts_path: &str,
) -> Value {
    let list = diagnostics.iter().map(|diagnostic| {
        let (text, path) = match diagnostic.file {
            FileId::Job => (Some(job_text), job_path),
            FileId::Parts => (parts_text, parts_path),
        };
        let also = diagnostic.also.iter().map(|(span, label)| {
            json!({ "span": span_json(span), "at": place(text, span), "label": label })
        });
        json!({
            "code": diagnostic.code,
            "severity": severity_word(diagnostic.severity),
            "message": diagnostic.message,
            "file": path,
            "span": span_json(&diagnostic.span),
            "at": place(text, &diagnostic.span),
            "label": diagnostic.label,
            "also": also.collect::<Vec<_>>(),
            "help": diagnostic.help,
        })
    });
    json!({ "format": FORMAT, "job": job_path, "diagnostics": list.collect::<Vec<_>>() })
}

/// A place of a text with the line that it is in, marked as in a diagnostic, without a heading.
pub(crate) fn marked(
    (path, text): (&str, &str),
    span: &Span,
    label: &str,
    columns: usize,
) -> Vec<String> {
    let snippet = Snippet::source(text).path(path).annotation(
        AnnotationKind::Primary
            .span(short(text, within(text, span)))
            .label(printable(label)),
    );
    let group = Level::ERROR.primary_title("").element(snippet);
    let drawn = Renderer::plain().term_width(columns).render(&[group]);
    let lines = drawn.lines().skip(1);
    lines.map(|line| line.trim_end().to_owned()).collect()
}

fn group<'a>(diagnostic: &'a Diagnostic, text: Option<&'a str>, path: &'a str) -> Group<'a> {
    let level = match diagnostic.severity {
        Severity::Error => Level::ERROR,
        Severity::Warning => Level::WARNING,
    };
    let title = level
        .primary_title(printable(&diagnostic.message))
        .id(diagnostic.code);
    let group = match text {
        Some(text) if !diagnostic.span.is_empty() => title.element(
            Snippet::source(text)
                .path(path)
                .annotation(
                    AnnotationKind::Primary
                        .span(short(text, within(text, &diagnostic.span)))
                        .label(printable(&diagnostic.label)),
                )
                .annotations(diagnostic.also.iter().map(|(span, label)| {
                    AnnotationKind::Context
                        .span(within(text, span))
                        .label(printable(label))
                })),
        ),
        Some(_) | None => title.element(Origin::path(path)),
    };
    match &diagnostic.help {
        Some(help) => group.element(Level::HELP.message(printable(help))),
        None => group,
    }
}

/// Characters of a span beyond which only its beginning is marked: a mark that fills lines points at nothing.
const MARKED: usize = 48;
/// Characters that are marked of a longer one.
const BEGINNING: usize = 24;

/// The beginning of a span that is too long to be marked.
fn short(text: &str, span: Span) -> Span {
    let marked = &text[span.clone()];
    if marked.contains('\n') || marked.chars().count() <= MARKED {
        return span;
    }
    let end = marked
        .char_indices()
        .nth(BEGINNING)
        .map_or(span.end, |(at, _)| span.start + at);
    span.start..end
}

/// The span moved onto characters of the text, so that a span of an older text cannot do harm.
fn within(text: &str, span: &Span) -> Span {
    let floor = |at: usize| {
        let mut at = at.min(text.len());
        while !text.is_char_boundary(at) {
            at -= 1;
        }
        at
    };
    let start = floor(span.start);
    start..floor(span.end).max(start)
}

fn severity_word(severity: Severity) -> &'static str {
    match severity {
        Severity::Error => "error",
        Severity::Warning => "warning",
    }
}

fn span_json(span: &Span) -> Value {
    if span.is_empty() {
        Value::Null
    } else {
        json!([span.start, span.end])
    }
}

pub(crate) fn place(text: Option<&str>, span: &Span) -> Value {
    let Some(text) = text else { return Value::Null };
    if span.is_empty() {
        return Value::Null;
    }
    let before = &text[..within(text, span).start];
    let line = before.matches('\n').count() + 1;
    let start = before.rfind('\n').map_or(0, |newline| newline + 1);
    json!({ "line": line, "column": before[start..].chars().count() + 1 })
}

#[cfg(test)]
mod tests {
    use super::{render, to_json};
    use crate::Style;
    use quietrail_job::{Diagnostic, FileId, Severity};

    const JOB: &str = "format = 1\n\n[capacitor.C1]\nat = \"row\"\nvalue = \"4700 µF ±20 %\"\n\n\
                       [rectifier.D1]\nfrom = \"T1.S\"\ninto = \"raw\"\n";
    const PLAIN: Style = Style {
        color: false,
        width: 100,
    };

    fn span_of(text: &str) -> std::ops::Range<usize> {
        let start = JOB.find(text).expect("in the job");
        start..start + text.len()
    }

    fn unknown_node() -> Diagnostic {
        Diagnostic {
            code: "J014",
            severity: Severity::Error,
            message: "nothing feeds the node \"row\"".to_owned(),
            file: FileId::Job,
            span: span_of("\"row\""),
            label: "no part drives this node".to_owned(),
            also: vec![(span_of("\"raw\""), "this node has a source".to_owned())],
            help: Some("the nearest node is \"raw\"".to_owned()),
        }
    }

    fn missing(file: FileId) -> Diagnostic {
        Diagnostic {
            code: "J020",
            severity: Severity::Warning,
            message: "the job names no room temperature".to_owned(),
            file,
            span: 0..0,
            label: String::new(),
            also: Vec::new(),
            help: None,
        }
    }

    #[test]
    fn the_mark_stands_under_the_span() {
        let text = render(
            &[unknown_node(), missing(FileId::Job)],
            JOB,
            None,
            "job.toml",
            "parts.toml",
            PLAIN,
        );
        insta::assert_snapshot!("diagnostics", text);
        let lines: Vec<&str> = text.lines().collect();
        let at = lines
            .iter()
            .position(|line| line.contains("at = \"row\""))
            .expect("the line");
        let column = lines[at].find("\"row\"").expect("the word");
        assert_eq!(lines[at + 1].find("^^^^^"), Some(column));
    }

    #[test]
    fn colour_only_where_asked() {
        let coloured = render(
            &[unknown_node()],
            JOB,
            None,
            "job.toml",
            "parts.toml",
            Style {
                color: true,
                width: 100,
            },
        );
        assert!(coloured.contains('\u{1b}'));
        let plain = render(
            &[unknown_node()],
            JOB,
            None,
            "job.toml",
            "parts.toml",
            PLAIN,
        );
        assert!(!plain.contains('\u{1b}'));
    }

    #[test]
    fn spans_beyond_the_text_or_inside_a_letter_do_no_harm() {
        let mut stale = unknown_node();
        stale.span = JOB.len() + 5..JOB.len() + 9;
        let micro = JOB.find('µ').expect("a µ") + 1;
        let mut split = unknown_node();
        split.span = micro..micro + 1;
        let text = render(&[stale, split], JOB, None, "job.toml", "parts.toml", PLAIN);
        assert!(text.ends_with("2 errors\n"), "{text}");
    }

    #[test]
    fn a_file_without_text_is_only_named() {
        let text = render(
            &[missing(FileId::Parts)],
            JOB,
            None,
            "job.toml",
            "parts.toml",
            PLAIN,
        );
        assert!(text.contains("parts.toml"), "{text}");
        assert!(text.ends_with("1 warning\n"), "{text}");
    }

    #[test]
    fn a_message_cannot_drive_the_terminal() {
        let mut sly = unknown_node();
        sly.message = "\u{1b}[2Jgone".to_owned();
        let text = render(&[sly], JOB, None, "job.toml", "parts.toml", PLAIN);
        assert!(!text.contains('\u{1b}'));
    }

    #[test]
    fn data_carries_line_and_column() {
        let answer = to_json(
            &[unknown_node(), missing(FileId::Parts)],
            JOB,
            None,
            "job.toml",
            "parts.toml",
        );
        assert_eq!(answer["format"], 1);
        assert_eq!(
            answer["diagnostics"][0]["at"],
            serde_json::json!({ "line": 4, "column": 6 })
        );
        assert_eq!(answer["diagnostics"][0]["also"][0]["at"]["line"], 9);
        assert_eq!(answer["diagnostics"][1]["span"], serde_json::Value::Null);
        assert_eq!(answer["diagnostics"][1]["file"], "parts.toml");
    }
}
