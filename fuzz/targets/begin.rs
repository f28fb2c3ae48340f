//! See `quietrail_fuzz::begin`.

#![no_main]

libfuzzer_sys::fuzz_target!(|input: &[u8]| quietrail_fuzz::begin::check(input));
