#![no_main]

libfuzzer_sys::fuzz_target!(|data: &[u8]| ringtrue_fuzz::template(data));
