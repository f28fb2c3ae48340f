//! See `quietrail_fuzz::keep`.

#![no_main]

libfuzzer_sys::fuzz_target!(|input: &[u8]| quietrail_fuzz::keep::check(input));
