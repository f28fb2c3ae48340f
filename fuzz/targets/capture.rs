//! See `quietrail_fuzz::capture`.

#![no_main]

libfuzzer_sys::fuzz_target!(|input: &[u8]| quietrail_fuzz::capture::check(input));
