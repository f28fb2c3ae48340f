//! The page around every view: head, file, what is being tried, the search.

use crate::asked::Asked;
use crate::desk::{Desk, DiffLine, Notice, Refused, Version};
use crate::guided;
use crate::parts;
use crate::sheet::Sheet;
use crate::views::{Answer, View};
use crate::{figure, words};
use maud::{DOCTYPE, Markup, html};
use quietrail_job::model::Job;
use quietrail_job::{Severity, set_value};
use quietrail_report::{Style, diagnostics};
use std::sync::Arc;

/// Shows a view.
pub(crate) fn show(desk: &Desk, views: &[View], slug: &str, asked: &Asked) -> Answer {
    if let ("go", Some(view)) = (slug, asked.get("view")) {
        let known = views.iter().find(|known| known.slug == view);
        return known.map_or(Answer::Nowhere, |view| {
            Answer::Go(asked.corner().href(view.slug))
        });
    }
    // Before anything is looked at: what becomes new meanwhile is news to this page.
    let news = desk.number();
    let version = desk.version();
    if version.texts.job.is_none() && version.unreadable.is_none() {
        return match slug {
            "begin" => Answer::Page(200, guided::page(desk, asked)),
            _ if views.iter().any(|view| view.slug == slug) => Answer::Go("begin".to_owned()),
            _ => Answer::Nowhere,
        };
    }
    let Some(view) = views.iter().find(|view| view.slug == slug) else {
        return Answer::Nowhere;
    };
    let sheet = match Sheet::lay_out(desk, version.clone(), asked.clone()) {
        None => return Answer::Page(200, broken((desk, news), views, view, &version, None)),
        Some(Err(why)) => {
            return Answer::Page(200, broken((desk, news), views, view, &version, Some(&why)));
        }
        Some(Ok(sheet)) => sheet,
    };
    if let (Some(kind), Some(file)) = (asked.get("as"), view.file) {
        return file(&sheet, kind);
    }
    let body = (view.show)(&sheet);
    Answer::Page(200, whole(views, view, (&sheet, news), &body))
}

/// Takes a form that a view sends to its own address.
pub(crate) fn act(desk: &Desk, views: &[View], slug: &str, pairs: &[(String, String)]) -> Answer {
    if let Some(what) = slug.strip_prefix("do-") {
        return do_to_file(desk, views, what, pairs);
    }
    if slug == "begin" {
        return guided::begin(desk, pairs);
    }
    let Some((view, act)) = views
        .iter()
        .find(|view| view.slug == slug)
        .and_then(|view| Some((view, view.act?)))
    else {
        return Answer::Nowhere;
    };
    match Sheet::lay_out(desk, desk.version(), Asked::of(pairs)) {
        Some(Ok(sheet)) => match act(&sheet, pairs) {
            // What a view refuses is its page again, and like any other in all that is around it.
            Answer::Page(status, body) => {
                let page = whole(views, view, (&sheet, desk.number()), &body);
                Answer::Page(status, page)
            }
            other => other,
        },
        _ => Answer::Page(
            409,
            broken((desk, desk.number()), views, view, &desk.version(), None),
        ),
    }
}

/// Keeps, undoes, stops: what is done to the file or the search, and where to go on.
fn do_to_file(desk: &Desk, views: &[View], what: &str, pairs: &[(String, String)]) -> Answer {
    let value = |wanted: &str| {
        let found = pairs.iter().find(|(key, _)| key == wanted);
        found.map_or("", |(_, value)| value.as_str())
    };
    let asked = Asked::of(pairs);
    let view = views.iter().find(|view| view.slug == value("view"));
    let slug = view.map_or("descent", |view| view.slug);
    let shown = asked.with(|asked| {
        for own in ["view", "sum", "text", "keep"] {
            asked.more.remove(own);
        }
    });
    let outcome = match what {
        "keep" => keep(desk, &asked, value("sum")),
        "undo" => desk.step_back(value("sum"), false),
        "redo" => desk.step_back(value("sum"), true),
        "write" => {
            let text = value("text").replace("\r\n", "\n");
            desk.write(value("sum"), |_| Ok(text))
        }
        "stop" => {
            desk.stop_search();
            Ok(())
        }
        "look" => {
            desk.look_on();
            Ok(())
        }
        "seen" => {
            desk.forget_notice();
            Ok(())
        }
        _ => return Answer::Nowhere,
    };
    match outcome {
        Ok(()) => {
            let shown = if what == "keep" {
                shown.with(|asked| asked.tries.clear())
            } else {
                shown
            };
            Answer::Go(shown.href(slug))
        }
        Err(why) => Answer::Page(
            409,
            refused(desk, views, &shown.href(slug), &why, value("text")),
        ),
    }
}

/// Writes what is tried into the file.
fn keep(desk: &Desk, asked: &Asked, sum: &str) -> Result<(), Refused> {
    let version = desk.version();
    let Some(job) = version.job.clone() else {
        return Err(Refused::Nothing);
    };
    let parts = version.texts.parts.clone();
    desk.write(sum, |text| {
        let mut text = text.to_owned();
        for (address, typed) in &asked.tries {
            let (address, value) = as_written(&job, address, typed)?;
            text =
                set_value(&text, &address, &value).map_err(|error| edit_words(&address, &error))?;
        }
        let reading = quietrail_job::read(&text, parts.as_deref());
        let worst = reading
            .diagnostics
            .iter()
            .find(|one| one.severity >= Severity::Error);
        match worst {
            Some(error) => Err(error.message.clone()),
            None => Ok(text),
        }
    })
}

/// Where a tried value goes in the file and how it is written there, tolerance and all.
fn as_written(job: &Job, address: &str, typed: &str) -> Result<(String, String), String> {
    let parameters = job.parameters();
    let Some(parameter) = parameters.iter().find(|known| known.address.0 == address) else {
        let key = match job.part(address).map(|part| &part.kind) {
            Some(quietrail_job::model::PartKind::Regulator(_)) => "part",
            Some(_) => "diode",
            None => return Err(words::no_such_figure(address)),
        };
        return Ok((format!("{address}.{key}"), typed.to_owned()));
    };
    let read = figure::read(typed, parameter.unit).map_err(|error| error.to_string())?;
    if read.low < read.high {
        // Typed with a tolerance of its own: that counts.
        return Ok((address.to_owned(), read.text.replace('\u{a0}', " ")));
    }
    let change = quietrail_job::Change::Set {
        address: parameter.address.clone(),
        value: read.nominal,
    };
    let moved = job.with(&[change]).map_err(|error| error.to_string())?;
    let moved = moved
        .parameters()
        .into_iter()
        .find(|known| known.address.0 == address);
    let text = moved.map_or_else(|| read.text.clone(), |moved| figure::written(&moved));
    Ok((address.to_owned(), text))
}

fn edit_words(address: &str, error: &quietrail_job::EditError) -> String {
    use quietrail_job::EditError;
    match error {
        EditError::NotToml { said } => said.clone(),
        EditError::Computed { address, from } => words::computed_from(address, from),
        EditError::NotOneValue { address } => words::not_one_value(address),
        EditError::UnknownAddress { .. } => words::no_such_figure(address),
    }
}

/// The page of a view.
fn whole(views: &[View], view: &View, (sheet, news): (&Sheet<'_>, u64), body: &Markup) -> Markup {
    let title = &sheet.job.title;
    let notes = html! {
        (notice(sheet.desk, view, &sheet.asked))
        div id="stopped" data-live { (stopped(sheet, view)) }
        (warnings(&sheet.version, sheet.desk))
        div id="trying" data-live { (trying(sheet, view)) }
    };
    let inside = html! {
        (head(views, Some(view), title, &sheet.job.region.name, Some((sheet.desk, &sheet.asked))))
        (progress(sheet, view))
        main id="answer" class={ "view-" (view.slug) } tabindex="-1" {
            @if view.slug != "record" {
                p class="onpaper paperhead" { (title) ", " (sheet.job.region.name) }
            }
            (notes)
            (body)
        }
    };
    let refresh = sheet.is_provisional() || sheet.desk.is_making();
    document(
        &format!("{title}: {}", view.name),
        Made {
            sum: &sheet.version.sum,
            tried: &sheet.tried,
            news,
        },
        refresh,
        &inside,
    )
}

/// A page outside the views.
pub(crate) fn alone(title: &str, body: &Markup, class: &str) -> Markup {
    let inside = html! {
        header class="top" { span class="word" { "quietrail" } span class="job" { (title) } }
        main id="answer" class=(class) tabindex="-1" { (body) }
    };
    document(title, Made::default(), false, &inside)
}

/// What a page was made of, for its script to tell whether that is still so.
#[derive(Clone, Copy, Default)]
struct Made<'a> {
    /// Sum of the file's text.
    sum: &'a str,
    /// What is tried.
    tried: &'a str,
    /// Number of the news before it was made; nothing for pages that do not go with them.
    news: u64,
}

/// The document around everything.
fn document(title: &str, made: Made<'_>, refresh: bool, inside: &Markup) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) " · quietrail" }
                link rel="stylesheet" href="workbook.css";
                link rel="icon" href="data:,";
                script src="workbook.js" defer {}
                @if refresh { noscript { meta http-equiv="refresh" content="3"; } }
            }
            body data-sum=(made.sum) data-tried=(made.tried) data-news=(made.news) {
                a class="skip" href="#answer" { (words::SKIP) }
                div class="goneaway" id="gone" role="alert" tabindex="-1" hidden { p { b { (words::page::GONE) } " " (words::page::GONE_MORE) } }
                (parts::symbols())
                (inside)
            }
        }
    }
}

/// The strip along the top of every page.
fn head(
    views: &[View],
    view: Option<&View>,
    title: &str,
    region: &str,
    of: Option<(&Desk, &Asked)>,
) -> Markup {
    let corner = of.map(|(_, asked)| asked.corner()).unwrap_or_default();
    html! {
        header class="top" {
            a class="word" href=(corner.href("descent")) { "quietrail" }
            span class="job" { (title) }
            @if let (Some((desk, asked)), Some(view)) = (of, view) { (undo_keys(desk, asked, view)) }
            span class="soft region" { (region) }
            form class="pick" method="get" action="go" data-pick {
                (parts::hidden(&corner, &[]))
                label for="pick" { (words::VIEW) }
                select id="pick" name="view" {
                    @for one in views {
                        option value=(one.slug) selected[view.is_some_and(|view| view.slug == one.slug)] { (one.name) }
                    }
                }
                noscript { button class="btn" { (words::SHOW) } }
            }
            nav aria-label=(words::VIEWS) {
                @for one in views {
                    @let current = view.is_some_and(|view| view.slug == one.slug);
                    a href=(corner.href(one.slug)) aria-current=[current.then_some("page")] { (one.name) }
                }
            }
        }
    }
}

fn undo_keys(desk: &Desk, asked: &Asked, view: &View) -> Markup {
    let (undo, redo) = desk.can_undo();
    let sum = &desk.version().sum;
    html! {
        div class="undo" id="undo" data-live {
            @for (what, text, can, keys) in [
                ("undo", words::UNDO, undo, "Control+Z"),
                ("redo", words::REDO, redo, "Control+Shift+Z"),
            ] {
                form method="post" action={ "do-" (what) } {
                    (parts::hidden(asked, &[]))
                    input type="hidden" name="view" value=(view.slug);
                    input type="hidden" name="sum" value=(sum);
                    button class="quiet" disabled[!can] aria-keyshortcuts=(keys) { (text) }
                }
            }
        }
    }
}

fn notice(desk: &Desk, view: &View, asked: &Asked) -> Markup {
    let notice = desk.notice();
    html! {
        div id="notice" data-live role="status" {
            @if let Some(Notice::ChangedElsewhere(lines)) = notice {
                div class="notice" {
                    p { (words::changed_elsewhere(&desk.folder.file_name())) }
                    details { summary { (words::WHAT_CHANGED) } (diff(&lines)) }
                    form method="post" action="do-seen" {
                        (parts::hidden(asked, &[]))
                        input type="hidden" name="view" value=(view.slug);
                        button class="btn" { (words::SEEN) }
                    }
                }
            }
        }
    }
}

/// Where the search was stopped by hand: that it was, and the key to go on.
fn stopped(sheet: &Sheet<'_>, view: &View) -> Markup {
    html! {
        @if sheet.is_stopped() {
            div class="notice" {
                p { (words::record::STOPPED) }
                form method="post" action="do-look" {
                    (parts::hidden(&sheet.asked, &[]))
                    input type="hidden" name="view" value=(view.slug);
                    button class="btn" { (words::record::LOOK_ON) }
                }
            }
        }
    }
}

fn warnings(version: &Version, desk: &Desk) -> Markup {
    if version.diagnostics.is_empty() {
        return html! {};
    }
    html! {
        details class="doubt" {
            summary { (words::DOUBTFUL) }
            pre class="caret" tabindex="0" { (caret_text(version, desk)) }
        }
    }
}

fn trying(sheet: &Sheet<'_>, view: &View) -> Markup {
    let trying = sheet.trying();
    if trying.is_empty() {
        return html! {};
    }
    let faulty = |address: &str| sheet.faults.iter().find(|fault| fault.address == address);
    let back = sheet
        .asked
        .with(|asked| asked.tries.clear())
        .href(view.slug);
    let all_read = trying.iter().all(|one| faulty(&one.address).is_none());
    html! {
        section class="trying" aria-label=(words::TRYING) {
            div class="what" {
                @for one in &trying {
                    p {
                        @if faulty(&one.address).is_none() {
                            b { (words::TRYING) } " " (one.address) " " b class="num" { (one.now) }
                            @if !one.before.is_empty() { " " (words::IN_PLACE_OF) " " span class="num" { (one.before) } }
                        } @else {
                            b { (words::page::NOT_TRIED) } " " (one.address) " " b class="num" { (one.now) }
                            @if !one.before.is_empty() { "; " (words::page::stays(&one.before)) }
                        }
                    }
                    @if let Some(fault) = faulty(&one.address) {
                        (parts::field_fault(fault))
                        @if !fault.choices.is_empty() {
                            p class="choices" {
                                @for choice in &fault.choices {
                                    @let href = sheet.asked.with(|asked| asked.put(&one.address, choice)).href(view.slug);
                                    a class="btn" href=(href) { (choice) }
                                }
                            }
                        }
                    }
                }
                p class="soft" {
                    (words::unchanged(&sheet.desk.folder.file_name()))
                    @if sheet.desk.folder.log_trace().is_some() { " " (words::READINGS_STAND_ASIDE) }
                }
            }
            div class="how" {
                form method="post" action="do-keep" {
                    (parts::hidden(&sheet.asked, &[]))
                    input type="hidden" name="view" value=(view.slug);
                    input type="hidden" name="sum" value=(sheet.version.sum);
                    button class="btn main" disabled[!all_read] { (words::KEEP) }
                }
                a class="btn" href=(back) { (words::PUT_BACK) }
            }
        }
    }
}

/// The search, as a level that fills along a line; empty while there is none.
fn progress(sheet: &Sheet<'_>, view: &View) -> Markup {
    let searching = sheet.desk.searching();
    let line = searching.as_ref().map(words::searching).unwrap_or_default();
    html! {
        aside class="working" id="working" hidden[searching.is_none()] aria-label=(words::LOOKING) {
            p { b { (words::LOOKING) } ": " span class="num" data-line { (line) } }
            svg class="fill" viewBox="0 0 100 4" preserveAspectRatio="none" aria-hidden="true" {
                path d="M0 2H100" class="fill-line" {}
                path d="M0 2H0" class="fill-level" data-level {}
            }
            form method="post" action="do-stop" {
                (parts::hidden(&sheet.asked, &[]))
                input type="hidden" name="view" value=(view.slug);
                button class="btn" { (words::STOP_HERE) }
            }
        }
    }
}

pub(crate) fn diff(lines: &[DiffLine]) -> Markup {
    html! {
        pre class="diff" tabindex="0" {
            @for line in lines {
                @match line {
                    DiffLine::Same(text) => { span { "  " (text) "\n" } },
                    DiffLine::Gone(text) => { del { "\u{2212} " (text) "\n" } },
                    DiffLine::New(text) => { ins { "+ " (text) "\n" } },
                }
            }
        }
    }
}

fn caret_text(version: &Version, desk: &Desk) -> String {
    let text = version.texts.job.as_deref().unwrap_or_default();
    let style = Style {
        color: false,
        width: 110,
    };
    diagnostics::render(
        &version.diagnostics,
        text,
        version.texts.parts.as_deref(),
        &desk.folder.file_name(),
        "parts.toml",
        style,
    )
}

/// A file without meaning: what is wrong, with the caret, and the text to mend.
fn broken(
    (desk, news): (&Desk, u64),
    views: &[View],
    view: &View,
    version: &Arc<Version>,
    why: Option<&str>,
) -> Markup {
    let file = desk.folder.file_name();
    let errors = version
        .diagnostics
        .iter()
        .filter(|one| one.severity >= Severity::Error)
        .count();
    let text = version.texts.job.as_deref().unwrap_or_default();
    let inside = html! {
        (head(views, Some(view), &file, "", None))
        main id="answer" class="view-broken" tabindex="-1" {
            h1 { (parts::sign(quietrail_study::finding::Overall::Fails)) " " (words::cannot_be_read(&file, errors.max(1))) }
            @if let Some(said) = version.unreadable.as_deref().or(why) { p { (said) } }
            @if !version.diagnostics.is_empty() {
                pre class="caret" tabindex="0" { (caret_text(version, desk)) }
            }
            @if version.texts.job.is_some() { (editor(view.slug, &version.sum, text)) }
        }
    };
    let made = Made {
        sum: &version.sum,
        tried: "",
        news,
    };
    document(&file, made, false, &inside)
}

/// The text of the job file, to be mended and written.
pub(crate) fn editor(view: &str, sum: &str, text: &str) -> Markup {
    let rows = text.lines().count().clamp(12, 60);
    html! {
        form class="editor" method="post" action="do-write" {
            input type="hidden" name="view" value=(view);
            input type="hidden" name="sum" value=(sum);
            label for="text" { (words::JOB_TEXT) }
            p class="soft" { (words::MEND_HERE) }
            textarea id="text" name="text" rows=(rows) spellcheck="false" autocomplete="off" autocapitalize="off" { "\n" (text) }
            button class="btn main" { (words::WRITE) }
        }
    }
}

/// A write that was refused, with the reason and the way on.
fn refused(desk: &Desk, views: &[View], on: &str, why: &Refused, sent: &str) -> Markup {
    let file = desk.folder.file_name();
    let inside = html! {
        (head(views, None, &file, "", None))
        main id="answer" class="view-broken" tabindex="-1" {
            @match why {
                Refused::Stale(lines) => { h1 { (words::stale(&file)) } (diff(lines)) },
                Refused::Broken(said) | Refused::Folder(said) => { h1 { (words::NOT_WRITTEN) } p { (said) } },
                Refused::Nothing => { h1 { (words::NOTHING_TO_UNDO) } },
            }
            p { a class="btn main" href=(on) { (words::LOOK_AGAIN) } }
            @if !sent.is_empty() { h2 { (words::AS_SENT) } pre class="caret" tabindex="0" { (sent) } }
        }
    };
    let version = desk.version();
    let made = Made {
        sum: &version.sum,
        ..Made::default()
    };
    document(&file, made, false, &inside)
}

/// What is shown where a page failed.
pub(crate) fn failed() -> Markup {
    let inside = html! {
        main id="answer" class="view-broken" tabindex="-1" {
            h1 { (words::FAILED) }
            p { (words::FAILED_MORE) }
            p { a class="btn main" href="descent" { (words::BACK) } }
        }
    };
    document(words::FAILED, Made::default(), false, &inside)
}
