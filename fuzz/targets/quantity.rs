//! See `quietrail_fuzz::quantity`.

#![no_main]

libfuzzer_sys::fuzz_target!(|input: &[u8]| quietrail_fuzz::quantity::check(input));
