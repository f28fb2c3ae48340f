//! The reader of the readings log, and what adds to it.
//!
//! Input: a log of any bytes. A row is added to it as the shell would.

use quietrail_bench::log::{Draft, Log, Store, append};

/// A log that lies in memory.
struct Memory(Vec<u8>);

impl Store for Memory {
    type Error = ();

    fn bytes(&mut self) -> Result<Vec<u8>, ()> {
        Ok(self.0.clone())
    }

    fn append(&mut self, bytes: &[u8]) -> Result<(), ()> {
        self.0.extend(bytes);
        Ok(())
    }

    fn sync(&mut self) -> Result<(), ()> {
        Ok(())
    }
}

/// Reads the input as a log and adds a row.
///
/// # Panics
/// A row that was read is gone afterwards, one came back that was not, or the added one is not there.
pub fn check(input: &[u8]) {
    let before = Log::read(&String::from_utf8_lossy(input));
    let draft = Draft {
        of: "raw".to_owned(),
        what: "mean".to_owned(),
        value: "17.05".to_owned(),
        unit: "V".to_owned(),
        note: "a \"quoted\", divided note".to_owned(),
        ..Draft::default()
    };
    let mut store = Memory(input.to_vec());
    let row = append(&mut store, &draft).expect("memory takes all");
    let after = Log::read(&String::from_utf8_lossy(&store.0));
    assert!(store.0.starts_with(input), "the log is only added to");
    assert_eq!(after.rows.last(), Some(&row));
    assert_eq!(after.rows[..after.rows.len() - 1], before.rows[..]);
    assert!(after.is_ended);
    let numbers = after.rows.iter().filter(|other| other.row == row.row);
    assert_eq!(numbers.count(), 1);
}
