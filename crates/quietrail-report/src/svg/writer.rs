//! The only place that writes SVG: escapes, rounds to 2 decimals, and brings the colours.

use std::fmt::Write;

use super::hatch;
use super::scene::{Align, Ink, Mark, Point, Scene, Weight};

/// Colours and lines. Light by default, dark where the reader prefers it, grey with hatching on paper.
/// All rules hang on the drawing's own class, so that a page may hold several drawings and its own rules.
pub(super) const STYLE: &str = "\
.qr{color-scheme:light dark;--sheet:#FBFCFC;--ink:#14202A;--ink2:#4B5963;--rule:#7C8991;--hair:#D8DEE1;\
--level:#0F4C75;--mid:#8DB5CC;--pale:#D3E3EB;--short:#A3290F;--ground:#E7EBEC;--on:#FFF}\
@media (prefers-color-scheme:dark){.qr{--sheet:#172026;--ink:#E9EEF0;--ink2:#A9B6BD;--rule:#6C7B84;--hair:#2A363D;\
--level:#7FBFE4;--mid:#3C6E8A;--pale:#22404F;--short:#FF9477;--ground:#1F2A31;--on:#0F161B}}\
@media print{.qr{--sheet:#FFF;--ink:#000;--ink2:#333;--rule:#666;--hair:#CCC;\
--level:#333;--mid:#BDBDBD;--pale:#DEDEDE;--short:#000;--ground:#F1F1F1;--on:#FFF;print-color-adjust:exact;-webkit-print-color-adjust:exact}}\
.qr text{font-family:Helvetica,Arial,\"Liberation Sans\",\"Nimbus Sans\",sans-serif;font-variant-numeric:tabular-nums;stroke:none}\
.qr .b{font-weight:700}.qr .m{text-anchor:middle}.qr .e{text-anchor:end}\
.qr .halo{paint-order:stroke;stroke:var(--sheet);stroke-width:4px;stroke-linejoin:round}\
.qr .t1{fill:var(--ink)}.qr .t2{fill:var(--ink2)}.qr .tl{fill:var(--level)}.qr .ts{fill:var(--short)}\
.qr .th{fill:var(--on)}.qr .ti{fill:var(--sheet)}\
.qr path,.qr rect,.qr circle{fill:none;stroke-linejoin:round}\
.qr .sheet{fill:var(--sheet)}.qr .ground{fill:var(--ground)}.qr .pale{fill:var(--pale)}.qr .mid{fill:var(--mid)}\
.qr .hair{stroke:var(--hair);stroke-width:1}.qr .rule{stroke:var(--rule);stroke-width:1}\
.qr .axis{stroke:var(--ink);stroke-width:1.5}.qr .sill{stroke:var(--ink);stroke-width:4}\
.qr .need{stroke:var(--ink);stroke-width:1.5;stroke-dasharray:10 3}.qr .limit{stroke:var(--ink);stroke-width:1.5}\
.qr .level{stroke:var(--level);stroke-width:2.25}.qr .lowest{stroke:var(--level);stroke-width:1.5;stroke-dasharray:5 4}\
.qr .meas{stroke:var(--ink);stroke-width:1}.qr .clear{stroke:var(--sheet);stroke-width:7}.qr .leader{stroke:var(--rule);stroke-width:1}.qr .dots{stroke:var(--ink2);stroke-width:1.5;stroke-dasharray:2 4}\
.qr .hand{fill:var(--level)}.qr .palebox{fill:var(--pale);stroke:var(--level);stroke-width:1.5}.qr .sill3{stroke:var(--ink);stroke-width:3}.qr .onink{stroke:var(--sheet);stroke-width:1.5}.qr .surface{stroke:var(--level);stroke-width:1}.qr .path{stroke:var(--ink);stroke-width:2.25}\
.qr .drop{stroke:var(--rule);stroke-width:1;stroke-dasharray:2 3}.qr .sym{fill:var(--sheet);stroke:var(--ink);stroke-width:1.5}\
.qr .symopen{fill:var(--ink);stroke:var(--ink);stroke-width:1.5}.qr .joint{fill:var(--ink)}.qr .was{stroke:var(--ink);stroke-width:1.5;stroke-dasharray:7 4}\
.qr .edge{stroke:var(--short);stroke-width:2}.qr .hatch{stroke:var(--short);stroke-width:2.5}";

/// A scene as a document that stands alone or inside a page.
pub(super) fn write(scene: &Scene) -> String {
    written(scene, &["<style>", STYLE, "</style>\n"])
}

/// A scene for a page that brings [`STYLE`] itself, as wide as the page lets it be.
pub(super) fn write_bare(scene: &Scene) -> String {
    written(scene, &[])
}

fn written(scene: &Scene, style: &[&str]) -> String {
    let mut out = String::new();
    let (width, height) = (number(scene.width), number(scene.height));
    // What holds links is no picture to those who do not see it, but a group of them.
    let has_links = scene
        .marks
        .iter()
        .any(|mark| matches!(mark, Mark::Link { .. }));
    let role = if has_links { "group" } else { "img" };
    out.push_str("<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"qr\"");
    push(&mut out, &[" role=\"", role, "\""]);
    let label = escaped(&scene.title);
    push(&mut out, &[" aria-label=\"", &label, "\""]);
    push(&mut out, &[" viewBox=\"0 0 ", &width, " ", &height, "\""]);
    push(
        &mut out,
        &[" width=\"", &width, "\" height=\"", &height, "\""],
    );
    if let Some((left, right, seconds)) = scene.time_axis {
        let (left, right) = (number(left), number(right));
        push(
            &mut out,
            &[" data-left=\"", &left, "\" data-right=\"", &right, "\""],
        );
        push(&mut out, &[" data-seconds=\"", &seconds.to_string(), "\""]);
        let panels = scene.panels.iter().map(|(top, bottom)| {
            let (top, bottom) = (number(*top), number(*bottom));
            format!("{top} {bottom}")
        });
        let panels = panels.collect::<Vec<_>>().join(",");
        push(&mut out, &[" data-panels=\"", &panels, "\""]);
    }
    push(
        &mut out,
        &[">\n<title>", &escaped(&scene.title), "</title>\n"],
    );
    push(
        &mut out,
        &["<desc>", &escaped(&scene.description), "</desc>\n"],
    );
    push(&mut out, style);
    for mark in &scene.marks {
        write_mark(&mut out, mark);
        out.push('\n');
    }
    out.push_str("</svg>\n");
    out
}

fn write_mark(out: &mut String, mark: &Mark) {
    match mark {
        Mark::Line { from, to, ink } => write_path(out, &[*from, *to], false, class(*ink)),
        Mark::Polyline { points, ink } => write_path(out, points, false, class(*ink)),
        Mark::Area { points, ink } => write_path(out, points, true, class(*ink)),
        Mark::Rect { area, ink } => {
            let [x, y] = [number(area.x), number(area.y)];
            let [width, height] = [number(area.width), number(area.height)];
            push(
                out,
                &["<rect x=\"", &x, "\" y=\"", &y, "\" width=\"", &width],
            );
            push(
                out,
                &["\" height=\"", &height, "\" class=\"", class(*ink), "\"/>"],
            );
        }
        Mark::Hatch { outline } => {
            let mut lines = String::new();
            for (from, to) in hatch::lines(outline) {
                push(&mut lines, &["M", &pair(from), "L", &pair(to)]);
            }
            push(out, &["<path d=\"", &lines, "\" class=\"hatch\"/>"]);
            write_path(out, outline, true, "edge");
        }
        Mark::Circle { at, radius, ink } => {
            let [x, y, r] = [number(at.x), number(at.y), number(*radius)];
            push(out, &["<circle cx=\"", &x, "\" cy=\"", &y, "\" r=\"", &r]);
            push(out, &["\" class=\"", class(*ink), "\"/>"]);
        }
        Mark::Link { href, label, marks } => {
            let (href, label) = (escaped(href), escaped(label));
            push(
                out,
                &["<a href=\"", &href, "\" aria-label=\"", &label, "\">"],
            );
            for mark in marks {
                write_mark(out, mark);
            }
            out.push_str("</a>");
        }
        Mark::Bracket {
            left,
            right,
            top,
            depth,
        } => {
            let (left, right) = (number(*left), number(*right));
            let (top, foot) = (number(*top), number(top + depth));
            push(
                out,
                &[
                    "<path d=\"M",
                    &left,
                    " ",
                    &foot,
                    "V",
                    &top,
                    "H",
                    &right,
                    "V",
                    &foot,
                ],
            );
            out.push_str("\" class=\"axis\"/>");
        }
        Mark::Text {
            at,
            text,
            size,
            weight,
            align,
            ink,
            halo,
        } => {
            let mut classes = vec![class(*ink)];
            classes.extend((*weight == Weight::Bold).then_some("b"));
            classes.extend(match align {
                Align::Start => None,
                Align::Middle => Some("m"),
                Align::End => Some("e"),
            });
            classes.extend(halo.then_some("halo"));
            let [x, y, size] = [number(at.x), number(at.y), number(*size)];
            push(
                out,
                &["<text x=\"", &x, "\" y=\"", &y, "\" font-size=\"", &size],
            );
            push(
                out,
                &[
                    "\" class=\"",
                    &classes.join(" "),
                    "\">",
                    &escaped(text),
                    "</text>",
                ],
            );
        }
    }
}

fn write_path(out: &mut String, points: &[Point], closed: bool, class: &str) {
    let mut path = String::new();
    for (i, point) in points.iter().enumerate() {
        push(&mut path, &[if i == 0 { "M" } else { "L" }, &pair(*point)]);
    }
    if closed {
        path.push('Z');
    }
    push(out, &["<path d=\"", &path, "\" class=\"", class, "\"/>"]);
}

fn class(ink: Ink) -> &'static str {
    match ink {
        Ink::Sheet => "sheet",
        Ink::Ground => "ground",
        Ink::Hair => "hair",
        Ink::Rule => "rule",
        Ink::Axis | Ink::SymbolLine => "axis",
        Ink::Sill => "sill",
        Ink::NeedAtWorst => "need",
        Ink::Limit => "limit",
        Ink::Level => "level",
        Ink::Clearing => "clear",
        Ink::Lowest => "lowest",
        Ink::Measured => "meas",
        Ink::Pale => "pale",
        Ink::Mid => "mid",
        Ink::Leader => "leader",
        Ink::Dotted => "dots",
        Ink::Hand => "hand",
        Ink::PaleBox => "palebox",
        Ink::Surface => "surface",
        Ink::Path => "path",
        Ink::Drop => "drop",
        Ink::SillThin => "sill3",
        Ink::OnInk => "onink",
        Ink::Symbol => "sym",
        Ink::SymbolOpen => "symopen",
        Ink::Joint => "joint",
        Ink::Was => "was",
        Ink::TextOnHand => "th",
        Ink::TextOnInk => "ti",
        Ink::TextInk => "t1",
        Ink::TextSoft => "t2",
        Ink::TextLevel => "tl",
        Ink::TextShort => "ts",
    }
}

fn push(out: &mut String, pieces: &[&str]) {
    for piece in pieces {
        out.push_str(piece);
    }
}

fn pair(point: Point) -> String {
    format!("{} {}", number(point.x), number(point.y))
}

/// Two decimals at most, no trailing zeros, never a negative zero. What is not a number becomes 0: a
/// drawing must stay well-formed.
fn number(value: f64) -> String {
    let value = if value.is_finite() { value } else { 0.0 };
    let mut text = String::new();
    write!(text, "{value:.2}").expect("writing to a string");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" {
        "0".to_owned()
    } else {
        text.to_owned()
    }
}

/// Text as XML text or attribute; characters that XML 1.0 does not allow are replaced.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            c if c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}') => {
                out.push(char::REPLACEMENT_CHARACTER);
            }
            c => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::{escaped, number, write};
    use crate::svg::scene::{Align, Frame, Ink, Mark, Scene, Weight, at};

    #[test]
    fn numbers_are_short_and_never_break_the_document() {
        assert_eq!(number(1.0), "1");
        assert_eq!(number(1.005_1), "1.01");
        assert_eq!(number(-0.001), "0");
        assert_eq!(number(f64::NAN), "0");
        assert_eq!(number(100.0), "100");
    }

    #[test]
    fn text_cannot_leave_its_element() {
        assert_eq!(
            escaped("a<b>&\"c\"\u{1b}"),
            "a&lt;b&gt;&amp;&quot;c&quot;\u{fffd}"
        );
    }

    #[test]
    fn a_small_scene_whole() {
        let scene = Scene {
            width: 200.0,
            height: 100.0,
            title: "raw & heater".to_owned(),
            description: "U1 holds.".to_owned(),
            time_axis: Some((10.0, 190.0, 0.04)),
            panels: vec![(12.0, 80.0), (84.0, 96.5)],
            marks: vec![
                Mark::Rect {
                    area: Frame {
                        x: 0.0,
                        y: 0.0,
                        width: 200.0,
                        height: 100.0,
                    },
                    ink: Ink::Sheet,
                },
                Mark::Line {
                    from: at(10.0, 80.0),
                    to: at(190.0, 80.0),
                    ink: Ink::Sill,
                },
                Mark::Polyline {
                    points: vec![at(10.0, 30.0), at(100.0, 40.123), at(190.0, 30.0)],
                    ink: Ink::Level,
                },
                Mark::Hatch {
                    outline: vec![at(20.0, 80.0), at(40.0, 80.0), at(30.0, 95.0)],
                },
                Mark::Bracket {
                    left: 50.0,
                    right: 90.0,
                    top: 12.0,
                    depth: 6.0,
                },
                Mark::Text {
                    at: at(70.0, 10.0),
                    text: "−380\u{a0}mV".to_owned(),
                    size: 13.0,
                    weight: Weight::Bold,
                    align: Align::Middle,
                    ink: Ink::TextShort,
                    halo: true,
                },
            ],
        };
        let text = write(&scene);
        let style_start = text.find("<style>").expect("a style");
        let style_end = text.find("</style>").expect("its end");
        let unstyled = format!("{}…{}", &text[..style_start + 7], &text[style_end..]);
        insta::assert_snapshot!("scene", unstyled);
    }
}
