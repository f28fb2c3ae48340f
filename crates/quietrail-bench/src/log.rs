//! The readings log, `readings.csv`: lines that are only ever added.
//!
//! A line that cannot be read is kept and reported, and never hides another: every row stands on one line, so that the
//! next line is a new beginning. A row counts once its line has ended, since only then was it acknowledged. What a later
//! row corrects stays in the file and no longer counts.

mod append;
mod csv;
mod moment;
mod row;

pub use append::{NotKept, Store, append};
pub use moment::moment;
pub use row::{Draft, MORE_THAN, Observed, Row, RowFault, SetUp, words_of};

use std::collections::{BTreeMap, BTreeSet};

/// The header line of a log.
pub const HEADER: &str = "row,time,step,state,of,what,value,unit,instrument,range,averages,setup,mains_v,limit,capture,corrects,note";

/// Whole numbers in a row, its own among them, are below this.
const NUMBERS: u64 = 1_000_000_000;

/// A log as read.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Log {
    /// Rows that could be read, in the order of the file, corrected ones included.
    pub rows: Vec<Row>,
    /// Lines that could not.
    pub damaged: Vec<Damaged>,
    /// Whether the last line has its end.
    pub is_ended: bool,
}

/// A line that could not be read. It stays in the file.
#[derive(Clone, Debug, PartialEq)]
pub struct Damaged {
    /// Its number in the file, from 1.
    pub line: usize,
    /// The line.
    pub text: String,
    /// What is wrong.
    pub fault: RowFault,
}

impl Log {
    /// Reads a log. Nothing is refused as a whole; an empty text is an empty log.
    pub fn read(text: &str) -> Self {
        let body = text.strip_prefix('\u{feff}').unwrap_or(text);
        let mut log = Self {
            is_ended: body.is_empty() || body.ends_with('\n'),
            ..Self::default()
        };
        let lines: Vec<&str> = body.split('\n').collect();
        let last = lines.len().saturating_sub(1);
        let mut index = 0;
        while index < lines.len() {
            let line = lines[index].trim_end_matches('\r');
            let number = index + 1;
            let is_header = csv::begins_with(line, "row");
            if line.trim().is_empty() || is_header {
                index += 1;
                continue;
            }
            if index == last {
                // Without its end it may be cut anywhere, even where it seems whole.
                log.damage(number, line, RowFault::NotEnded);
                break;
            }
            let (text, taken) = csv::record(&lines[index..last]);
            match Row::of(&text) {
                Ok(row) => log.take(row, number, &text),
                Err(fault) => log.damage(number, &text, fault),
            }
            index += taken;
        }
        log
    }

    fn take(&mut self, row: Row, number: usize, text: &str) {
        if self.rows.iter().any(|known| known.row == row.row) {
            self.damage(number, text, RowFault::Twice(row.row));
            return;
        }
        self.rows.push(row);
    }

    fn damage(&mut self, line: usize, text: &str, fault: RowFault) {
        self.damaged.push(Damaged {
            line,
            text: text.to_owned(),
            fault,
        });
    }

    /// The row of that number.
    pub fn row(&self, number: u64) -> Option<&Row> {
        self.rows.iter().find(|row| row.row == number)
    }

    /// The number under which a reading was first written: that of the row which a row corrects, and so on back.
    pub fn first_written(&self, row: &Row) -> u64 {
        let mut number = row.row;
        let mut corrects = row.corrects;
        while let Some(old) = corrects.filter(|old| *old < number)
            && let Some(row) = self.row(old)
        {
            number = old;
            corrects = row.corrects;
        }
        number
    }

    /// Rows that count: of a reading and what corrects it, each by its own number or by one that was corrected before, the latest alone.
    /// A row that corrects one that is not there counts by itself.
    pub fn standing(&self) -> Vec<&Row> {
        let olds: BTreeMap<u64, Option<u64>> = self
            .rows
            .iter()
            .map(|row| (row.row, row.corrects.filter(|old| *old < row.row)))
            .collect();
        // The number of the reading that a row is, or corrects through others: also one that is not there.
        let root = |row: &Row| {
            let mut number = row.row;
            while let Some(Some(old)) = olds.get(&number) {
                number = *old;
            }
            number
        };
        let mut latest: BTreeMap<u64, u64> = BTreeMap::new();
        for row in &self.rows {
            let last = latest.entry(root(row)).or_default();
            *last = row.row.max(*last);
        }
        self.rows
            .iter()
            .filter(|row| latest.get(&root(row)) == Some(&row.row))
            .collect()
    }

    /// The number that the next row gets: above every number that any line of the file begins with, also a damaged one. Where
    /// a damaged line begins with the last number there is, the last that no line begins with.
    pub fn next_number(&self) -> u64 {
        let of_damaged = |damaged: &Damaged| {
            let digits: String = damaged
                .text
                .chars()
                .take_while(char::is_ascii_digit)
                .take(9)
                .collect();
            digits.parse::<u64>().unwrap_or(0)
        };
        let rows = self.rows.iter().map(|row| row.row);
        let all: BTreeSet<u64> = rows.chain(self.damaged.iter().map(of_damaged)).collect();
        let next = all.last().map_or(1, |highest| highest + 1);
        if next < NUMBERS {
            return next;
        }
        let free = (1..NUMBERS).rev().find(|number| !all.contains(number));
        free.unwrap_or(next)
    }
}
