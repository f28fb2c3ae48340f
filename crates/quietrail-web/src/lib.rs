//! The workbook: the job in the browser, served on the loopback address to this machine alone.
//!
//! 1. `server.rs`: sockets, who may ask, and routes. The only asynchronous code of quietrail.
//! 2. `desk.rs`: the job that lies on the desk: its file's versions, what is known of each, and the search behind it.
//! 3. `asked.rs`: what a page is asked to show: state, mains, parts, what is being tried. All of it is in the address.
//! 4. `sheet.rs`: both together, for a view to draw from.
//! 5. `views.rs`: the table of views, a file each. A new view is a new file and a line there.
//! 6. `log.rs`: the readings log on the disk, for workbook and command line alike; `readings.rs`: what it says of the limits.
//! 7. `upload.rs`: files that a form brings, held until the person has seen what they are.
//! 8. `page.rs` and `parts.rs`: what all pages share. Whatever is said is in `words.rs`.
//!
//! Pages work without script. With it, `assets/workbook.js` asks for the same pages while the hand moves and swaps the
//! regions that are marked as live.

mod accepted;
mod asked;
mod beside;
mod desk;
mod figure;
mod folder;
mod guided;
mod known;
mod log;
mod page;
mod parts;
mod readings;
mod server;
mod sheet;
mod timing;
mod upload;
mod views;
mod words;

pub use folder::{Folder, FolderError};
pub use log::{keep_row, now, read_log};
pub use server::{Serving, start};
