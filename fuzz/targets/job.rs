//! See `quietrail_fuzz::job`.

#![no_main]

libfuzzer_sys::fuzz_target!(|input: &[u8]| quietrail_fuzz::job::check(input));
