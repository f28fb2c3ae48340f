//! The job file itself: what stands in it, to be read and mended by hand.

use crate::page;
use crate::sheet::Sheet;
use crate::views::View;
use crate::words;
use maud::{Markup, html};

pub(crate) const VIEW: View = View {
    slug: "file",
    name: "File",
    show,
    file: None,
    act: None,
};

fn show(sheet: &Sheet<'_>) -> Markup {
    let text = sheet.version.texts.job.as_deref().unwrap_or_default();
    html! {
        div class="textfile" {
            h1 { (sheet.desk.folder.file_name()) }
            p class="soft" { (words::in_folder(&sheet.desk.folder.shown())) }
            pre class="onpaper" { (text) }
            div id="editor" data-live { (page::editor("file", &sheet.version.sum, text)) }
        }
    }
}
