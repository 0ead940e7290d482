#![no_main]

#[path = "../bodies/path.rs"]
mod path;

#[global_allocator]
static BUDGET: cap::Cap<std::alloc::System> = cap::Cap::new(std::alloc::System, 64 << 20);

libfuzzer_sys::fuzz_target!(|bytes: &[u8]| path::read(bytes));
