//! The workbook from the command line: its address, its port, its end.

use super::bench::{Bench, RAIL};
use std::net::TcpListener;

#[test]
fn it_serves_until_ctrl_c_and_ends_cleanly() {
    let bench = Bench::with(RAIL);
    let ran = bench.serve(&["open", "."]);
    assert_eq!(ran.status, 0, "{ran:?}");
    assert!(ran.out.starts_with("http://127.0.0.1:"), "{}", ran.out);
    let token = ran.out.trim().trim_end_matches('/').rsplit('/').next();
    assert_eq!(token.map(str::len), Some(32), "128 bits: {}", ran.out);
    assert!(ran.err.contains("the workbook is closed"), "{}", ran.err);
    let other = bench.serve(&["open", "job.toml"]);
    assert_ne!(ran.out, other.out, "each has a token of its own");
}

#[test]
fn a_port_that_is_taken_leads_to_another_and_says_so() {
    let bench = Bench::with(RAIL);
    let taken = TcpListener::bind("127.0.0.1:0").unwrap();
    let port = taken.local_addr().unwrap().port().to_string();
    let ran = bench.serve(&["open", ".", "--port", &port]);
    assert_eq!(ran.status, 0, "{ran:?}");
    assert!(
        ran.err.contains(&format!("port {port} is taken")),
        "{}",
        ran.err
    );
    assert!(!ran.out.contains(&format!(":{port}/")), "{}", ran.out);
}

#[test]
fn a_folder_that_is_not_there_is_said_at_once() {
    let ran = Bench::new().run(&["open", "gone", "--no-browser"]);
    assert_eq!(ran.status, 2, "{ran:?}");
    assert!(ran.err.contains("no such file or folder"), "{}", ran.err);
}
