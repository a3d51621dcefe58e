//! `src/trace.rs`, with texts that the fuzzer makes up.
#![no_main]

libfuzzer_sys::fuzz_target!(|text: &[u8]| baycast_fuzz::trace::ask(text));
