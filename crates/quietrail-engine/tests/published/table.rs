//! The tables of `tests/data/rectifier`, read with the digits that they print.

use std::path::Path;

/// A figure as printed: its value, and one unit of its last digit.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Printed {
    pub(crate) value: f64,
    pub(crate) unit: f64,
}

/// A table with a heading line.
pub(crate) struct Table {
    columns: Vec<String>,
    rows: Vec<Vec<String>>,
}

/// One row of a table.
pub(crate) struct Line<'t> {
    table: &'t Table,
    cells: &'t [String],
}

impl Table {
    /// A table of the folder, by its file name.
    pub(crate) fn read(name: &str) -> Self {
        let path = Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("tests/data/rectifier")
            .join(name);
        let text = std::fs::read_to_string(&path)
            .unwrap_or_else(|error| panic!("{}: {error}", path.display()));
        let mut lines = text.lines().map(|line| {
            let cells = line.split(',');
            cells.map(str::to_owned).collect::<Vec<String>>()
        });
        let columns = lines.next().expect("a table has a heading");
        let rows: Vec<Vec<String>> = lines.collect();
        for row in &rows {
            assert_eq!(row.len(), columns.len(), "{name}: a row of another length");
        }
        Self { columns, rows }
    }

    pub(crate) fn lines(&self) -> impl Iterator<Item = Line<'_>> {
        self.rows.iter().map(|cells| Line { table: self, cells })
    }
}

impl Line<'_> {
    pub(crate) fn text(&self, column: &str) -> &str {
        let columns = &self.table.columns;
        let index = columns.iter().position(|name| name == column);
        &self.cells[index.unwrap_or_else(|| panic!("no column {column}"))]
    }

    /// The figure of a column.
    pub(crate) fn printed(&self, column: &str) -> Printed {
        self.figure(column)
            .unwrap_or_else(|| panic!("{column} is empty"))
    }

    /// The figure of a column that may be empty.
    pub(crate) fn figure(&self, column: &str) -> Option<Printed> {
        let text = self.text(column);
        if text.is_empty() {
            return None;
        }
        let value = text.parse().expect("a cell is a number");
        let decimals = text.split_once('.').map_or(0, |(_, after)| after.len());
        let unit = (0..decimals).fold(1.0, |unit, _| unit / 10.0);
        Some(Printed { value, unit })
    }

    pub(crate) fn value(&self, column: &str) -> f64 {
        self.printed(column).value
    }
}

impl Printed {
    /// How far ours may be from it, as a share: a millionth, or one unit of the last digit if that is more.
    pub(crate) fn allowed(self) -> f64 {
        (self.unit / self.value.abs()).max(1e-6)
    }
}
