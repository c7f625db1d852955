//! The fuzzer's way into the reader that the binary is named after.
#![no_main]

mod readers;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| readers::read(env!("CARGO_BIN_NAME"), bytes));
