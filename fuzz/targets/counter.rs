//! See `quietrail_fuzz::counter`.

#![no_main]

libfuzzer_sys::fuzz_target!(|input: &[u8]| quietrail_fuzz::counter::check(input));
