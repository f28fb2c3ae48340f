//! See `quietrail_fuzz::readings`.

#![no_main]

libfuzzer_sys::fuzz_target!(|input: &[u8]| quietrail_fuzz::readings::check(input));
