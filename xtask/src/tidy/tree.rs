//! The texts of the repository, read once.

use crate::cargo::Failed;
use std::collections::BTreeSet;
use std::path::Path;

/// Folders that are not read: what cargo and the fuzzer make, what git keeps, what `quietrail demo` writes, and the
/// fuzzer's seeds, which are odd on purpose.
const NOT_OURS: [&str; 9] = [
    ".git",
    "target",
    "fuzz/target",
    "fuzz/corpus",
    "fuzz/artifacts",
    "fuzz/coverage",
    "fuzz/seeds",
    "beacon",
    "beacon-mended",
];

/// All files of the repository.
#[derive(Default)]
pub(super) struct Tree {
    /// Those that are text, in the order of their paths.
    pub(super) files: Vec<File>,
    /// All of them and their folders, as paths from the root.
    pub(super) paths: BTreeSet<String>,
}

/// A text file.
pub(super) struct File {
    /// From the root, with `/` between.
    pub(super) path: String,
    pub(super) text: String,
}

impl Tree {
    pub(super) fn read(root: &Path) -> Result<Self, Failed> {
        let mut tree = Self::default();
        tree.read_folder(root, "")?;
        tree.files.sort_by(|a, b| a.path.cmp(&b.path));
        Ok(tree)
    }

    fn read_folder(&mut self, folder: &Path, prefix: &str) -> Result<(), Failed> {
        let because = |error| Failed::File(folder.to_owned(), error);
        for entry in std::fs::read_dir(folder).map_err(because)? {
            let entry = entry.map_err(because)?;
            let name = entry.file_name().to_string_lossy().into_owned();
            let path = format!("{prefix}{name}");
            let is_folder = entry.file_type().map_err(because)?.is_dir();
            if NOT_OURS.contains(&path.as_str()) {
                continue;
            }
            self.paths.insert(path.clone());
            if is_folder {
                self.read_folder(&entry.path(), &format!("{path}/"))?;
                continue;
            }
            let bytes =
                std::fs::read(entry.path()).map_err(|error| Failed::File(entry.path(), error))?;
            if let Ok(text) = String::from_utf8(bytes) {
                self.files.push(File { path, text });
            }
        }
        Ok(())
    }

    /// A tree made up for a test.
    #[cfg(test)]
    pub(super) fn of(files: &[(&str, &str)]) -> Self {
        let mut tree = Self::default();
        for (path, text) in files {
            tree.files.push(File {
                path: (*path).to_owned(),
                text: (*text).to_owned(),
            });
            let ends = path.match_indices('/').map(|(at, _)| at);
            for end in ends.chain([path.len()]) {
                tree.paths.insert(path[..end].to_owned());
            }
        }
        tree
    }
}

impl File {
    pub(super) fn is_rust(&self) -> bool {
        self.path.ends_with(".rs")
    }

    pub(super) fn is_markdown(&self) -> bool {
        self.path.ends_with(".md")
    }
}
