//! Ctrl-C, from the moment on at which the address is known.

use super::{Bench, bench_with};
use crate::folder::Folder;
use crate::server::start;
use crate::views::VIEWS;
use std::process::Command;

/// Without `until_interrupted` listening before it tells the address, this ends the whole run of tests.
#[test]
fn an_interrupt_as_soon_as_the_address_is_known_ends_it_cleanly() {
    let bench = bench_with(VIEWS);
    let serving = start(folder(&bench), Some(0)).expect("a port of the loopback address");
    let told = serving.until_interrupted(|address| {
        assert!(address.starts_with("http://127.0.0.1:"), "{address}");
        let me = std::process::id().to_string();
        match Command::new("kill").args(["-INT", &me]).status() {
            Ok(killed) if killed.success() => Ok(()),
            other => Err(other),
        }
    });
    assert!(matches!(told, Ok(Ok(()))), "{told:?}");
}

#[test]
fn what_the_teller_complains_of_ends_it_at_once() {
    let bench = bench_with(VIEWS);
    let serving = start(folder(&bench), Some(0)).expect("a port of the loopback address");
    let told = serving.until_interrupted(|_| Err("nobody listens"));
    assert!(matches!(told, Ok(Err("nobody listens"))), "{told:?}");
}

fn folder(bench: &Bench) -> Folder {
    Folder::of(bench.folder.path()).expect("it is there")
}
