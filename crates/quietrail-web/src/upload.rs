//! Files that a form brings: read out of its body, and held until the person has seen what they are.
//!
//! Nothing is written before that. Of what is held the oldest goes first.

use crate::folder::sum_of;
use std::collections::VecDeque;
use std::sync::{Arc, Mutex, PoisonError};

/// A file as it was sent.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Upload {
    /// Its name there, any folders before it taken off.
    pub(crate) name: String,
    /// What is in it.
    pub(crate) bytes: Vec<u8>,
}

/// Files that are held at most.
const HELD: usize = 2;

/// Files that were sent and not yet kept, by the sum of what is in them.
#[derive(Debug, Default)]
pub(crate) struct Uploads(Mutex<VecDeque<(String, Arc<Upload>)>>);

impl Uploads {
    /// Holds a file; the sum by which it is asked for.
    pub(crate) fn hold(&self, upload: Upload) -> String {
        let sum = sum_of(&upload.bytes);
        let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        all.retain(|(known, _)| *known != sum);
        all.push_back((sum.clone(), Arc::new(upload)));
        while all.len() > HELD {
            all.pop_front();
        }
        sum
    }

    /// The file with that sum, if it is still held.
    pub(crate) fn get(&self, sum: &str) -> Option<Arc<Upload>> {
        let all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let found = all.iter().find(|(known, _)| known == sum);
        found.map(|(_, upload)| upload.clone())
    }
}

/// A form as it was sent: its fields, and the file that it brings if it brings one.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Sent {
    /// Its fields.
    pub(crate) pairs: Vec<(String, String)>,
    /// Its file; none where none was chosen.
    pub(crate) upload: Option<Upload>,
}

/// What parts a form of several parts, from its media type; `None` of any other form.
pub(crate) fn boundary(media_type: &str) -> Option<&str> {
    let rest = media_type.trim().strip_prefix("multipart/form-data")?;
    let found = rest
        .split(';')
        .find_map(|one| one.trim().strip_prefix("boundary="))?;
    let bare = found.trim().trim_matches('"');
    // RFC 2046, 5.1.1: 1 to 70 characters.
    (1..=70).contains(&bare.len()).then_some(bare)
}

/// A form of several parts (`multipart/form-data`, RFC 7578); what cannot be read of it is left out.
pub(crate) fn parted(body: &[u8], boundary: &str) -> Sent {
    let mut sent = Sent::default();
    let mark = format!("--{boundary}");
    let Some(start) = find(body, mark.as_bytes()) else {
        return sent;
    };
    let mut rest = &body[start + mark.len()..];
    let next = format!("\r\n--{boundary}");
    // After the mark stands the end of a line, or two dashes where it was the last.
    while let Some(own) = rest.strip_prefix(b"\r\n") {
        let Some(end) = find(own, next.as_bytes()) else {
            break;
        };
        part(&own[..end], &mut sent);
        rest = &own[end + next.len()..];
    }
    sent
}

fn part(part: &[u8], sent: &mut Sent) {
    let Some(blank) = find(part, b"\r\n\r\n") else {
        return;
    };
    let head = String::from_utf8_lossy(&part[..blank]);
    let content = &part[blank + 4..];
    let is_disposition = |line: &&str| {
        line.to_ascii_lowercase()
            .starts_with("content-disposition:")
    };
    let Some(line) = head.split("\r\n").find(is_disposition) else {
        return;
    };
    let Some(name) = parameter(line, "name") else {
        return;
    };
    match parameter(line, "filename") {
        None => {
            let value = String::from_utf8_lossy(content).into_owned();
            sent.pairs.push((name, value));
        }
        // A field of files with none chosen sends one without name and content.
        Some(file) if !file.is_empty() => {
            let file = file.rsplit(['/', '\\']).next().unwrap_or_default();
            sent.upload = Some(Upload {
                name: file.to_owned(),
                bytes: content.to_vec(),
            });
        }
        Some(_) => {}
    }
}

/// A parameter of a header, its quotation marks taken off.
fn parameter(line: &str, name: &str) -> Option<String> {
    let start = format!("; {name}=\"");
    let from = line.find(&start)? + start.len();
    let end = line[from..].find('"')?;
    // RFC 7578, 4.2: browsers write a quotation mark within as %22.
    Some(line[from..from + end].replace("%22", "\""))
}

fn find(within: &[u8], what: &[u8]) -> Option<usize> {
    let first = *what.first()?;
    let mut from = 0;
    while let Some(at) = within[from..].iter().position(|byte| *byte == first) {
        let at = from + at;
        if within[at..].starts_with(what) {
            return Some(at);
        }
        from = at + 1;
    }
    None
}

/// The name under which a file is kept: no folder, no sign that a system minds, not hidden, and not long.
pub(crate) fn file_name(name: &str) -> String {
    let plain: String = name
        .chars()
        .map(|c| match c {
            c if c.is_alphanumeric() || matches!(c, '.' | '-' | '_') => c,
            _ => '-',
        })
        .collect();
    let plain = plain.trim_matches(['.', '-']);
    let (stem, end) = match plain.rsplit_once('.') {
        Some((stem, end)) if end.len() <= 8 => (stem, format!(".{end}")),
        _ => (plain, ".csv".to_owned()),
    };
    let stem: String = stem.chars().take(60).collect();
    let stem = if stem.is_empty() { "capture" } else { &stem };
    // Names that one system keeps for itself.
    let is_device = ["con", "prn", "aux", "nul"].contains(&stem.to_lowercase().as_str())
        || (stem.len() == 4 && ["com", "lpt"].contains(&stem[..3].to_lowercase().as_str()));
    let lead = if is_device { "capture-" } else { "" };
    format!("{lead}{stem}{end}")
}

#[cfg(test)]
mod tests {
    use super::{Upload, Uploads, boundary, file_name, parted};

    /// As RFC 7578 and browsers write it: a field, a file with line ends and a look-alike of the boundary in it, an empty file.
    #[test]
    fn fields_and_files_come_out_of_a_form_of_parts() {
        let body = b"--xYz\r\nContent-Disposition: form-data; name=\"step\"\r\n\r\nsoak, \xc3\xbc\r\n\
            --xYz\r\nContent-Disposition: form-data; name=\"file\"; filename=\"up\\\\down\\\\raw %22one%22.csv\"\r\n\
            Content-Type: text/csv\r\n\r\nt;V\r\n0;1\r\n-xYz\r\n\r\n--xYz--\r\n";
        let sent = parted(body, "xYz");
        let pair = ("step".to_owned(), "soak, ü".to_owned());
        assert_eq!(sent.pairs, [pair]);
        let upload = sent.upload.expect("a file");
        assert_eq!(upload.name, "raw \"one\".csv");
        assert_eq!(upload.bytes, b"t;V\r\n0;1\r\n-xYz\r\n");
        let none = b"--b\r\nContent-Disposition: form-data; name=\"file\"; filename=\"\"\r\n\r\n\r\n--b--\r\n";
        assert_eq!(parted(none, "b").upload, None);
    }

    #[test]
    fn what_is_cut_or_strange_is_left_out() {
        let whole = b"--b\r\nContent-Disposition: form-data; name=\"a\"\r\n\r\n1\r\n--b--\r\n";
        for end in 0..whole.len() {
            let sent = parted(&whole[..end], "b");
            assert!(sent.pairs.len() <= 1 && sent.upload.is_none(), "{end}");
        }
        assert_eq!(
            boundary("multipart/form-data; boundary=\"q w\""),
            Some("q w")
        );
        assert_eq!(boundary("multipart/form-data; boundary="), None);
        assert_eq!(boundary("application/x-www-form-urlencoded"), None);
    }

    #[test]
    fn a_name_stays_in_its_folder() {
        for (name, own) in [
            ("raw.csv", "raw.csv"),
            ("..", "capture.csv"),
            (".hidden", "hidden.csv"),
            ("a b/c:d.CSV", "a-b-c-d.CSV"),
            ("con.csv", "capture-con.csv"),
            ("Mäander 3.txt", "Mäander-3.txt"),
        ] {
            assert_eq!(file_name(name), own, "{name}");
        }
        assert!(file_name(&"x".repeat(500)).len() < 80);
    }

    #[test]
    fn the_last_ones_are_held() {
        let held = Uploads::default();
        let of = |byte: u8| Upload {
            name: format!("{byte}"),
            bytes: vec![byte],
        };
        let sums: Vec<String> = (0..3).map(|byte| held.hold(of(byte))).collect();
        assert_eq!(held.get(&sums[0]), None);
        assert_eq!(held.get(&sums[2]).as_deref(), Some(&of(2)));
        assert_eq!(held.hold(of(2)), sums[2]);
        assert!(held.get(&sums[1]).is_some());
    }
}
