//! Adding a row: written, then made durable, and only then acknowledged.

use super::csv::CUT_SHORT;
use super::{Draft, HEADER, Log, Row, RowFault};

/// Where a log lies. Whoever holds it is alone in writing to it.
pub trait Store {
    /// What can go wrong there.
    type Error;

    /// All that is there; nothing where there is no log yet.
    ///
    /// # Errors
    /// It cannot be read.
    fn bytes(&mut self) -> Result<Vec<u8>, Self::Error>;

    /// Adds bytes at the end.
    ///
    /// # Errors
    /// Not all of them could be added.
    fn append(&mut self, bytes: &[u8]) -> Result<(), Self::Error>;

    /// Comes back once all that was added would outlast a power cut.
    ///
    /// # Errors
    /// It might not.
    fn sync(&mut self) -> Result<(), Self::Error>;
}

/// Why a row is not kept.
#[derive(Clone, Debug, PartialEq)]
pub enum NotKept<E> {
    /// It could not be read back.
    Row(RowFault),
    /// It corrects a row that is not there.
    NoSuchRow(u64),
    /// The place refuses.
    Store(E),
}

/// Adds a row under the next number, and returns it once it is durable.
///
/// # Errors
/// Why it is not kept. A part of its line may then stand in the log: it counts for nothing, and the next row begins a
/// line of its own.
pub fn append<S: Store>(store: &mut S, draft: &Draft) -> Result<Row, NotKept<S::Error>> {
    let held = store.bytes().map_err(NotKept::Store)?;
    // A letter cut in two is damage of its own line.
    let text = String::from_utf8_lossy(&held);
    let log = Log::read(&text);
    let number = log.next_number();
    let row = draft.row(number).map_err(NotKept::Row)?;
    if let Some(old) = row.corrects.filter(|old| log.row(*old).is_none()) {
        return Err(NotKept::NoSuchRow(old));
    }
    let mut bytes = String::new();
    if text.is_empty() {
        bytes.push_str(HEADER);
        bytes.push_str("\r\n");
    } else if !log.is_ended {
        bytes.push_str(CUT_SHORT);
        bytes.push_str("\r\n");
    }
    bytes.push_str(&draft.line(number));
    bytes.push_str("\r\n");
    store.append(bytes.as_bytes()).map_err(NotKept::Store)?;
    store.sync().map_err(NotKept::Store)?;
    Ok(row)
}
