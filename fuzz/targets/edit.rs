//! See `quietrail_fuzz::edit`.

#![no_main]

libfuzzer_sys::fuzz_target!(|input: &[u8]| quietrail_fuzz::edit::check(input));
