//! See `quietrail_fuzz::change`.

#![no_main]

libfuzzer_sys::fuzz_target!(|input: &[u8]| quietrail_fuzz::change::check(input));
