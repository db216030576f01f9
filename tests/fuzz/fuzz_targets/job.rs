//! `cargo +nightly fuzz run job` in `tests/fuzz`: no bytes may stop the program.
#![no_main]

#[path = "../through.rs"]
mod through;

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| {
    through::whole_way(bytes);
});
